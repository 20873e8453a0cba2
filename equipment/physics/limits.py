"""What a reading can be at all, and what deserves a second look before a baseline exists.

Hard limits are so wide that no real pond is refused. A warning is confirmed, never refused.
"""

from dataclasses import dataclass

from equipment.kinds import Quantity
from equipment.physics import units

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
}


@dataclass(frozen=True)
class Expected:
    """What is known of the system when a reading comes in; None where nothing is known."""

    depth_m: float | None = None
    nameplate_l_min: float | None = None
    nameplate_a: float | None = None
    nominal_v: float | None = None
    outside_c: float | None = None


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
    judge = _JUDGES.get(Quantity(quantity))
    sentence = judge(value, expected) if judge else None
    return [sentence] if sentence else []


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
        )
    if hours > 24 * days + 1:
        return (
            f"{hours:.0f} hours cannot pass in {days:.0f} days. "
            f"The meter showed {last_h:.0f} h last time: read it again."
        )
    return None


def meant_unit(quantity: str, value: float, unit: str, expected: float) -> str | None:
    """The unit that was probably meant, when the number fits another one far better.

    quantity: a word of `Quantity`.
    value: the number as typed, in `unit`.
    unit: the unit that was chosen.
    expected: what is expected, in the stored unit of the quantity.
    Returns the other unit's name, to be asked about and never to be put in silently; None
    when the chosen unit fits within half to twice, or no other unit does within 12 percent.
    Source: our own rule; factors from NIST SP 811 through `units`.
    """
    if expected <= 0 or 0.5 <= units.to_stored(quantity, value, unit) / expected <= 2:
        return None
    for other in units.offered(quantity):
        ratio = units.to_stored(quantity, value, other) / expected
        if other != unit and abs(ratio - 1) <= 0.12:
            return other
    return None


def _plain(number):
    return f"{number:.2f}".rstrip("0").rstrip(".")


def _word(quantity):
    return WORDS.get(Quantity(quantity), quantity.replace("_", " ").capitalize())


def _pressure(value, expected):
    if expected.depth_m is None:
        return None
    depth_ft = units.from_stored("length", expected.depth_m, "ft")
    psi = units.from_stored("pressure", value, "psi")
    if psi < 0.35 * depth_ft:
        return (
            f"This is less than the water alone asks for at {depth_ft:.0f} ft. "
            "Is the plate shallower, a line open, or the unit another one?"
        )
    if psi > 0.433 * depth_ft + 5:
        return (
            f"This is more than 5 psi above the water's own pressure at {depth_ft:.0f} ft. "
            "Is a valve closed, a line kinked, or the unit another one?"
        )
    return None


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
    return None


def _secchi(value, expected):
    if value < 0.3:
        return "Very cloudy: a bloom can use up the oxygen at night. Tell the office today."
    return None


def _level(value, expected):
    if abs(value) > 0.9:
        return "The water stands far from its mark; pressures are not comparable today."
    return None


_JUDGES = {
    Quantity.PRESSURE: _pressure,
    Quantity.LINE_PRESSURE: _pressure,
    Quantity.FLOW: _flow,
    Quantity.CURRENT: _current,
    Quantity.VOLTAGE: _voltage,
    Quantity.CABINET_AIR: _cabinet,
    Quantity.HEAD_TEMPERATURE: _head,
    Quantity.BUBBLES: _bubbles,
    Quantity.OXYGEN: _oxygen,
    Quantity.SECCHI: _secchi,
    Quantity.LEVEL: _level,
}
