"""What a reading can be at all, and what deserves a second look before a baseline exists.

Hard limits are so wide that no real pond is refused. A warning is confirmed, never refused.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from equipment.kinds import Quantity
from equipment.physics import units
from equipment.physics.atmosphere import SEA_LEVEL_PA
from equipment.physics.water import oxygen_saturation_mg_l

JUDGEMENT = "judgement"


@dataclass(frozen=True)
class Hard:
    """Lowest and highest value that is accepted, in the unit named."""

    low: float
    high: float
    unit: str
    basis: str = JUDGEMENT


HARD = {
    Quantity.PRESSURE: Hard(0, 150, "psi"),
    Quantity.LINE_PRESSURE: Hard(0, 150, "psi"),
    Quantity.FLOW: Hard(0, 100, "cfm"),
    Quantity.CURRENT: Hard(0, 60, "A"),
    Quantity.VOLTAGE: Hard(80, 520, "V"),
    Quantity.CABINET_AIR: Hard(-40, 110, "C"),
    Quantity.OUTSIDE_AIR: Hard(-40, 110, "C"),
    Quantity.HEAD_TEMPERATURE: Hard(-40, 200, "C"),
    Quantity.RUN_HOURS: Hard(0, 200_000, "h"),
    Quantity.BUBBLES: Hard(0, 4, ""),
    Quantity.WATER_TEMPERATURE: Hard(-1, 45, "C"),
    Quantity.OXYGEN: Hard(0, 25, "mg/L"),
    Quantity.LEVEL: Hard(-6, 6, "m"),
    Quantity.SECCHI: Hard(0, 10, "m"),
    Quantity.ICE: Hard(0, 150, "cm"),
    Quantity.OPEN_WATER: Hard(0, 500, "m"),
}
WORDS = {
    Quantity.LINE_PRESSURE: "Pressure of one line",
    Quantity.CABINET_AIR: "Air in the cabinet",
    Quantity.OUTSIDE_AIR: "Air outside",
    Quantity.HEAD_TEMPERATURE: "Temperature of the compressor head",
    Quantity.RUN_HOURS: "The hour meter",
    Quantity.BUBBLES: "The bubble score",
    Quantity.OXYGEN: "Dissolved oxygen",
    Quantity.LEVEL: "Water level against the mark",
    Quantity.SECCHI: "Depth of sight in the water",
    Quantity.ICE: "Ice thickness",
    Quantity.OPEN_WATER: "Open water in the ice",
}
# What makes a reading odd. The edges are a judgement, but where the sentence says otherwise.
FAR_OFF = 2.0  # times the baseline, or its half: judgement
OWN_BASELINE_PSI = 1.0
LEAST_OF_SCHEDULE = 0.6
OPEN_WATER_GROWTH = 1.5
HIGHEST_SATURATION = 1.5
WARMER_BELOW_C = 0.5
DENSEST_C = 4.0  # water is densest there: colder water may lie above warmer
SOUNDING_M = 0.6  # by which a pond may be deeper than its record


@dataclass(frozen=True)
class Expected:
    """What is known of the place when a reading comes in; None where nothing is known.

    `baseline` and `last` are of the same quantity and position, in its stored unit: what a person
    confirmed for this configuration, and what was read last time. `scheduled_h` are the hours that
    timer and states allowed since then.
    """

    depth_m: float | None = None
    nameplate_l_min: float | None = None
    nameplate_a: float | None = None
    nominal_v: float | None = None
    outside_c: float | None = None
    water_c: float | None = None
    air_pa: float = SEA_LEVEL_PA
    relief_pa: float | None = None
    baseline: float | None = None
    last: float | None = None
    scheduled_h: float | None = None
    turns_at_h: float = 0.0


def refusal(quantity: str, value: float, unit: str) -> str | None:
    """Why a reading cannot be right, as a sentence that says what to do.

    quantity: a word of `Quantity`.
    value: the number as typed, in `unit`.
    unit: a name of `units.offered(quantity)`.
    Returns the sentence, or None when the reading lies within the hard limits.
    Raises ValueError when the unit does not measure the quantity.
    Source: our own rule; every limit in HARD carries what it rests on.
    """
    hard = HARD[Quantity(quantity)]
    stored = units.to_stored(quantity, value, unit)
    low, high = (units.to_stored(quantity, edge, hard.unit) for edge in (hard.low, hard.high))
    slack = 1e-9 * max(abs(low), abs(high))  # 150 psi typed in bar is still 150 psi
    if low - slack <= stored <= high + slack:
        return None
    low, high = (_plain(units.from_stored(quantity, edge, unit)) for edge in (low, high))
    after = f" {units.unit_name(unit)}" if unit else ""
    return (
        f"{_word(quantity)} must lie between {low} and {high}{after}; "
        f"{_plain(value)}{after} cannot be right. Look again, and check the unit."
    )


def doubts(quantity: str, value: float, expected: Expected) -> list[str]:
    """What deserves a second look in a reading, before there is a baseline to compare it with.

    quantity: a word of `Quantity`.
    value: in the stored unit of that quantity.
    expected: what is known of the system.
    Returns sentences; an empty list when nothing is odd.
    Source: hydrostatic pressure of fresh water for the band of the pressure; the widths of the
    bands are common practice, no source, or our judgement, and say so in the sentence.
    """
    judges = _JUDGES.get(Quantity(quantity), ())
    return [sentence for judge in judges if (sentence := judge(value, expected))]


def profile_doubts(
    points: Sequence[tuple[float, float | None, float | None]],
    *,
    depth_max_m: float | None = None,
    air_pa: float = SEA_LEVEL_PA,
) -> list[str]:
    """What deserves a second look in temperature and oxygen from the surface down.

    points: depth [m], temperature [degC] and oxygen [mg/L] at it, in any order; None where one
        was not measured.
    depth_max_m: greatest depth on record [m]; None where nobody knows.
    air_pa: pressure of the air at the pond [Pa].
    Returns sentences; an empty list when nothing is odd.
    Raises ValueError for water outside -1 to 45 degC.
    Source: water is densest near 4 degC, so warmer water lies above colder where the surface is
        warmer than that; saturation by Benson & Krause; the edges are a judgement.
    """
    points = sorted(points, key=lambda point: point[0])
    warmth = [(depth, t) for depth, t, _ in points if t is not None]
    said = []
    if points and depth_max_m is not None and points[-1][0] > depth_max_m + SOUNDING_M:
        said.append(
            f"{_plain(points[-1][0])} m is deeper than the pond on record, "
            f"{_plain(depth_max_m)} m. Is the cord slanting, or the unit another one?"
        )
    if warmth and warmth[0][1] >= DENSEST_C:
        said += [
            f"{_plain(t)} °C at {_plain(depth)} m is warmer than the water above it. "
            "Wait until the probe has settled, and look whether depths are exchanged."
            for at, (depth, t) in enumerate(warmth)
            if t - min(above for _, above in warmth[: at + 1]) > WARMER_BELOW_C
        ][:1]
    for depth, t, oxygen in points:
        known = Expected(water_c=t, air_pa=air_pa)
        found = doubts(Quantity.OXYGEN, oxygen, known) if oxygen is not None else []
        said += [f"At {_plain(depth)} m: {sentence}" for sentence in found]
    return said


def depth_band_pa(depth_m: float) -> tuple[float, float]:
    """The pressures that a diffuser at a depth may ask for, before anything is known of it.

    depth_m: of the water over it [m], 0 or more.
    Returns the lowest and the highest pressure [Pa gauge].
    Source: 0.433 psi a foot of fresh water, hydrostatics; the 5 psi above it and the fifth below
        are common practice, no source.
    """
    depth_ft = units.from_stored("length", depth_m, "ft")
    low, high = 0.35 * depth_ft, 0.433 * depth_ft + 5
    return units.to_stored("pressure", low, "psi"), units.to_stored("pressure", high, "psi")


def hours_counted(last_h: float, now_h: float, turns_at_h: float = 0) -> float:
    """The hours that one meter counted between two readings.

    last_h, now_h: hours shown [h], 0 or more.
    turns_at_h: the last figure that a mechanical meter shows before it begins again at zero
        [h], such as 9999.9 or 99999; 0 for a meter that does not.
    Returns hours [h]; less than 0 for a meter that went back.
    Source: our own rule: the step after 9999.9 is 10 000, that after 99999 is 100 000.
    """
    hours = now_h - last_h
    if hours >= 0 or turns_at_h <= 0:
        return hours
    return hours + round(turns_at_h + (1 if turns_at_h == int(turns_at_h) else 0.1), 1)


def meter_refusal(now_h: float, last_h: float, days: float, turns_at_h: float = 0) -> str | None:
    """Why an hour meter cannot show this after what it showed last time.

    now_h: hours shown now.
    last_h: hours shown last time, by the same meter.
    days: days between the two readings.
    turns_at_h: the last figure before it begins again at zero [h]; 0 for never.
    Returns the sentence, or None when it can be.
    Source: our own rule: no more than 24 hours a day, and one hour for reading it.
    """
    hours = hours_counted(last_h, now_h, turns_at_h)
    if hours < 0:
        return (
            f"The hour meter showed {last_h:.0f} h last time and cannot go back to {now_h:.0f} h. "
            "Read it again, and look whether it is the same meter. If it was exchanged, record "
            "the new meter first; if it turned over to zero, have the office enter its last figure."
            + _meant_hours(now_h, last_h, days)
        )
    if hours > 24 * days + 1:
        return (
            f"{hours:.0f} hours cannot pass in {days:.0f} days. "
            f"The meter showed {last_h:.0f} h last time: read it again."
            + _meant_hours(now_h, last_h, days)
        )
    return None


def _meant_hours(now_h, last_h, days):
    """What a meter may show that was not typed as hours."""
    latest = last_h + 24 * days + 1
    if last_h <= now_h / 10 <= latest:
        return f" Or are its last figures tenths: {now_h / 10:.1f} h?"
    if last_h <= now_h * 10 <= latest + 9:
        return " Or was a figure left out?"
    if 0.88 * last_h <= now_h * 24 <= 1.12 * latest:
        return f" Or does it count days: {now_h:.0f} days are {now_h * 24:.0f} h?"
    return ""


def _plain(number):
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _word(quantity):
    return WORDS.get(Quantity(quantity), quantity.replace("_", " ").capitalize())


def _pressure(value, expected):
    if expected.depth_m is None or expected.baseline is not None:
        return None
    low, high = depth_band_pa(expected.depth_m)
    at = f"{units.from_stored('length', expected.depth_m, 'ft'):.0f} ft ({expected.depth_m:.1f} m)"
    if value < low:
        return (
            f"This is less than the water alone asks for at {at}. "
            "Is the plate shallower, a line open, or the unit another one?"
        )
    if value > high:
        return (
            f"This is more than 5 psi above the water's own pressure at {at}. "
            "Is a valve closed, a line kinked, or the unit another one?"
        )
    return None


def _far_off(value, expected):
    baseline = expected.baseline
    if baseline is None or baseline / FAR_OFF <= value <= baseline * FAR_OFF:
        return None
    psi = units.from_stored("pressure", baseline, "psi")
    return (
        f"This is far {'above' if value > baseline else 'below'} the baseline of {psi:.1f} psi "
        f"({baseline / 1000:.0f} kPa). Look at the gauge once more; if it stands so, confirm it."
    )


def _own_line(value, expected):
    if expected.baseline is None:
        return None
    apart = units.from_stored("pressure", value - expected.baseline, "psi")
    if abs(apart) <= OWN_BASELINE_PSI:
        return None
    return (
        f"This line stands {abs(apart):.1f} psi ({abs(value - expected.baseline) / 1000:.1f} kPa) "
        f"{'above' if apart > 0 else 'below'} its own baseline. Are the others closed and bled, "
        "and does the water stand as it did?"
    )


def _relief(value, expected):
    if expected.relief_pa is None or value <= expected.relief_pa:
        return None
    psi = units.from_stored("pressure", expected.relief_pa, "psi")
    return (
        f"The relief valve is set to {psi:.1f} psi ({expected.relief_pa / 1000:.0f} kPa). Look at "
        "gauge, valves and relief valve before it runs on."
    )


def _run_hours(value, expected):
    scheduled = expected.scheduled_h
    if expected.last is None or not scheduled or scheduled < 24:
        return None
    counted = hours_counted(expected.last, value, expected.turns_at_h)
    if counted >= LEAST_OF_SCHEDULE * scheduled:
        return None
    days = abs(24 * counted / scheduled - 1) <= 0.12
    return (
        f"{counted:.0f} h since last time are few: timer and states allowed {scheduled:.0f} h. "
        "Was it off, did the supply trip, or does the meter stand still?"
        + (" Or does it count days?" if days else "")
    )


def _flow(value, expected):
    if expected.nameplate_l_min is not None and value > 1.2 * expected.nameplate_l_min:
        return "This is more than a fifth above the compressor's nameplate. Check the unit."
    return None


def _current(value, expected):
    if expected.nameplate_a is not None and value > expected.nameplate_a:
        return (
            f"This is more than the nameplate's {expected.nameplate_a:g} A. "
            "Check pressure and heat before you leave it running."
        )
    return None


def _voltage(value, expected):
    if expected.nominal_v is not None and abs(value / expected.nominal_v - 1) > 0.05:
        return (
            f"This is more than 5 % off {expected.nominal_v:g} V. A licensed electrician should "
            "look at the supply (5 %: common practice, no source)."
        )
    return None


def _cabinet(value, expected):
    if expected.outside_c is None or value - expected.outside_c <= 15:
        return None
    rise = value - expected.outside_c
    start = f"The cabinet is {rise:.0f} °C ({rise * 1.8:.0f} °F) warmer than the air outside. "
    if rise > 25:
        return start + "That is hot: check fan, vents and filter before you leave it running."
    return start + "Check fan and vents."


def _head(value, expected):
    if value > 110:
        return "The head is very hot. It burns: let it cool before you touch it."
    return None


def _bubbles(value, expected):
    return "Weaker than normal. Note which diffuser, and the wind." if value < 3 else None


def _oxygen(value, expected):
    if value < 4:
        return "Low oxygen. Look for fish at the surface and tell the office today."
    if expected.water_c is None:
        return None
    full = oxygen_saturation_mg_l(expected.water_c, expected.air_pa)
    if value > HIGHEST_SATURATION * full:
        return (
            f"This is {100 * value / full:.0f} % of what water holds at {expected.water_c:.0f} °C "
            f"({full:.1f} mg/L). Calibrate the probe; a bloom in the sun can do it, and such "
            "water can lose its oxygen at night."
        )
    return None


def _secchi(value, expected):
    if value < 0.3:
        return "Very cloudy: a bloom can use up the oxygen at night. Tell the office today."
    return None


def _level(value, expected):
    if abs(value) > 0.9:
        return "The water stands far from its mark; pressures are not comparable today."
    return None


def _open_water(value, expected):
    if not expected.last or value <= OPEN_WATER_GROWTH * expected.last:
        return None
    return (
        "The open water has grown by more than half. Tell the owner today, look from the bank "
        "whether the signs stand, and keep everybody off the ice."
    )


_JUDGES = {
    Quantity.PRESSURE: (_pressure, _far_off, _relief),
    Quantity.LINE_PRESSURE: (_pressure, _own_line, _relief),
    Quantity.FLOW: (_flow,),
    Quantity.CURRENT: (_current,),
    Quantity.VOLTAGE: (_voltage,),
    Quantity.CABINET_AIR: (_cabinet,),
    Quantity.HEAD_TEMPERATURE: (_head,),
    Quantity.RUN_HOURS: (_run_hours,),
    Quantity.BUBBLES: (_bubbles,),
    Quantity.OXYGEN: (_oxygen,),
    Quantity.SECCHI: (_secchi,),
    Quantity.LEVEL: (_level,),
    Quantity.OPEN_WATER: (_open_water,),
}
