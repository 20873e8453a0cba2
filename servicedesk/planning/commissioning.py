"""What deserves a second look when a system is handed over; a doubt is confirmed, never refused."""

from collections.abc import Sequence
from datetime import date

from equipment.kinds import CheckValvePlace, CompressorKind
from equipment.physics.airline import line_loss_pa
from equipment.physics.units import from_stored, shown

CABINET_LOW_M = 0.6  # NEC article 682 puts the electrical datum plane on land 2 ft over high water
SHORT_DAY_H = 4  # judgement
MOST_OPEN_PERCENT = 30  # common practice, no source
FRICTION_PA = 6895  # 1 psi; common practice, no source
GAUGE_TIMES = 3  # judgement: beyond it a rise of half a psi is not seen
MECHANICAL_BURIAL_M = 0.2  # 8 in; common practice, no source, a mechanical minimum only
WATER_PA_M = 9792  # hydrostatic pressure of fresh water at 15 degC, per metre
USABLE_DEPTH_M = {  # common practice, no source; the nameplate decides
    CompressorKind.PISTON: 15.0,
    CompressorKind.VANE: 5.5,
    CompressorKind.LINEAR: 2.1,
}
RATED_PSI = {  # lowest and highest rated pressure seen; common practice, no source
    CompressorKind.PISTON: (3, 30),
    CompressorKind.VANE: (2, 15),
    CompressorKind.LINEAR: (1, 5),
    CompressorKind.OTHER: (1, 10),
}
MARKS_DAYS = 21  # judgement: how long utility marks hold is a matter of the state
GAP_DAYS = 60  # judgement


def cabinet_doubts(height_m: float | None) -> list[str]:
    """A cabinet that stands low over the highest water known.

    height_m: height of the cabinet's floor over that water [m]; None where it is not known.
    Returns sentences, none when there is no doubt.
    Source: NEC (NFPA 70) article 682, electrical datum plane, as commonly reported.
    """
    if height_m is None or height_m >= CABINET_LOW_M:
        return []
    return [
        "The cabinet stands less than 2 ft (0.6 m) over the highest water known. Article 682 of "
        "the NEC sets its electrical datum plane there for water on land; the edition adopted here "
        "and the inspector decide, not this figure."
    ]


def schedule_doubts(hours_per_day: float | None) -> list[str]:
    """A timer that lets a system run for a short part of the day only.

    hours_per_day: 0 to 24.
    Returns sentences, none when there is no doubt.
    Source: judgement.
    """
    if hours_per_day is None or hours_per_day >= SHORT_DAY_H:
        return []
    return [
        f"{hours_per_day:g} hours a day are few for a pond in summer (under {SHORT_DAY_H}: our "
        "judgement). Is that what was agreed?"
    ]


def pond_doubts(
    area_m2: float | None, depth_max_m: float | None, depth_mean_m: float | None
) -> list[str]:
    """A pond of unusual size or shape.

    area_m2: surface [m2]. depth_max_m, depth_mean_m: [m]. Each may be None.
    Returns sentences, none when there is no doubt.
    Source: judgement.
    """
    found = []
    if area_m2 is not None and not 200 <= area_m2 <= 100_000:
        found.append(f"{_both('area', area_m2)} is unusual for a pond. Is the unit right?")
    if depth_max_m is not None and depth_max_m > 12:
        found.append(f"{_both('length', depth_max_m)} is very deep. Is the unit right?")
    if depth_max_m and depth_mean_m and not 0.25 <= depth_mean_m / depth_max_m <= 0.8:
        found.append(
            "The mean depth is usually a quarter to four fifths of the greatest. Is it right?"
        )
    return found


def compressor_doubts(kind: str, pressure_max_pa: float | None) -> list[str]:
    """A rated pressure that does not fit the kind of compressor.

    kind: a word of `CompressorKind`.
    pressure_max_pa: rated continuous pressure [Pa gauge], None where it is not known.
    Returns sentences, none when there is no doubt.
    Source: common practice, no source.
    """
    if pressure_max_pa is None or kind not in list(CompressorKind):
        return []
    low, high = RATED_PSI[CompressorKind(kind)]
    psi = from_stored("pressure", pressure_max_pa, "psi")
    if low <= round(psi, 1) <= high:
        return []
    return [
        f"A {kind} compressor is usually rated {low} to {high} psi (common practice, no source). "
        "Read the plate once more."
    ]


def depth_doubts(depth_m: float, kind: str, pressure_max_pa: float | None) -> list[str]:
    """A plate deeper than its compressor is made for.

    depth_m: depth of the plate [m].
    kind: a word of `CompressorKind`, or empty.
    pressure_max_pa: rated continuous pressure [Pa gauge], None where it is not known.
    Returns sentences, none when there is no doubt.
    Source: hydrostatic pressure of fresh water for the rated pressure; the usable depth by kind
    is common practice, no source.
    """
    if pressure_max_pa is not None and depth_m * WATER_PA_M > pressure_max_pa:
        return [
            f"At {_both('length', depth_m)} the water alone asks for "
            f"{_both('pressure', depth_m * WATER_PA_M)}, more than the compressor's rated "
            f"{_both('pressure', pressure_max_pa)}."
        ]
    usable = USABLE_DEPTH_M.get(kind)
    if usable is None or depth_m <= usable:
        return []
    return [
        f"{_both('length', depth_m)} is deeper than a {kind} compressor is usually set to work, "
        f"{_both('length', usable)} (common practice, no source). Look at its plate."
    ]


def line_doubts(
    depth_m: float | None,
    length_m: float | None,
    bore_m: float | None,
    flow_l_min: float | None,
    check_valve_at: str,
) -> list[str]:
    """An airline that loses much pressure, is too short, or lets water up.

    depth_m, length_m, bore_m: of the line [m]; each may be None.
    flow_l_min: its share of the compressor's free air [L/min], None where it is not known.
    check_valve_at: a word of `CheckValvePlace`, or empty.
    Returns sentences, none when there is no doubt.
    Source: isothermal flow of air in a smooth tube for the loss; the limit of 1 psi is common
    practice, no source; check valve before the diffuser against frost: one agency's guide.
    """
    found = []
    if depth_m and length_m and length_m < depth_m:
        found.append("The line is shorter than its plate is deep. Is the unit right?")
    if length_m and bore_m and flow_l_min:
        loss = _loss_pa(flow_l_min, length_m, bore_m, (depth_m or 0) * WATER_PA_M)
        if loss is None or loss > FRICTION_PA:
            lost = "more than the air can push through" if loss is None else _both("pressure", loss)
            found.append(
                f"Friction alone costs {lost} at {_both('flow', flow_l_min)}, this line's share "
                "of the free air. A wider or shorter line would cost less."
            )
    if check_valve_at == CheckValvePlace.NONE:
        found.append(
            "Without a check valve water comes up the line at each stop; in winter it may freeze "
            "there. One agency's guide puts it just before the diffuser."
        )
    return found


def _loss_pa(flow_l_min, length_m, bore_m, outlet_pa):
    try:
        return line_loss_pa(flow_l_min, length_m, bore_m, outlet_gauge_pa=outlet_pa)
    except ValueError:  # so narrow that no pressure would do
        return None


def valve_doubts(open_percents: Sequence[float]) -> list[str]:
    """Valves that throttle all lines at once.

    open_percents: opening of each line in use [%], 0 to 100.
    Returns sentences, none when there is no doubt.
    Source: common practice, no source.
    """
    if not open_percents or max(open_percents) >= MOST_OPEN_PERCENT:
        return []
    return [
        f"All valves are less than {MOST_OPEN_PERCENT} % open: throttling heats the compressor. "
        "Open the one of the deepest plate fully (common practice, no source)."
    ]


def gauge_doubts(full_scale_pa: float | None, working_pa: float | None) -> list[str]:
    """A gauge too coarse for the pressure that it is to watch.

    full_scale_pa: end of its scale [Pa]. working_pa: the pressure it shows day by day [Pa].
        Each may be None.
    Returns sentences, none when there is no doubt.
    Source: judgement, from an error of 2 to 3 percent of full scale (common practice, no source).
    """
    if not full_scale_pa or not working_pa or full_scale_pa <= GAUGE_TIMES * working_pa:
        return []
    return [
        f"A scale to {_both('pressure', full_scale_pa)} is more than three times what it is to "
        f"show, about {_both('pressure', working_pa)}: a slow rise would not be seen on it."
    ]


def relief_doubts(
    set_pa: float | None, working_pa: float | None, pressure_max_pa: float | None
) -> list[str]:
    """A relief valve that opens too late for the compressor, or too early for the pond.

    set_pa: where it opens. working_pa: pressure day by day. pressure_max_pa: rated pressure of
        the compressor. All [Pa gauge]; each may be None.
    Returns sentences, none when there is no doubt.
    Source: common practice, no source.
    """
    if set_pa is None:
        return []
    found = []
    if pressure_max_pa is not None and set_pa > pressure_max_pa + 1:
        found.append(
            f"The relief valve opens at {_both('pressure', set_pa)}, above the compressor's rated "
            f"{_both('pressure', pressure_max_pa)}: it would not protect it."
        )
    if working_pa is not None and set_pa < working_pa + FRICTION_PA:
        found.append(
            f"The relief valve opens at {_both('pressure', set_pa)}, less than 1 psi (7 kPa) over "
            f"the working pressure of about {_both('pressure', working_pa)}: it would blow."
        )
    return found


def burial_doubts(burial_m: float | None) -> list[str]:
    """A line that lies shallow in the ground.

    burial_m: depth of burial [m], None where it is not known.
    Returns sentences, none when there is no doubt.
    Source: common practice, no source, for 8 in; an agency's guide asks for below the frost line.
    """
    if burial_m is None or burial_m >= MECHANICAL_BURIAL_M:
        return []
    return [
        "Less than 8 in (0.2 m) of cover keeps no spade off (common practice, no source); one "
        "agency's guide asks for more, below the local frost line down to the water's edge."
    ]


def locate_doubts(located_on: date | None, installed_on: date) -> list[str]:
    """Utility marks that were old when the trench was dug, or made only afterwards.

    located_on: the day of the locate, None where there is none. installed_on: when it was dug.
    Returns sentences, none when there is no doubt.
    Source: judgement; how long marks hold differs by state.
    """
    if located_on is None:
        return []
    if located_on > installed_on:
        return ["The utilities were located after the day of installation. Are both days right?"]
    if (installed_on - located_on).days > MARKS_DAYS:
        return [
            f"The marks were {(installed_on - located_on).days} days old at installation. How "
            "long they hold differs by state: ask the locate centre."
        ]
    return []


def gap_doubts(installed_on: date, in_service_on: date) -> list[str]:
    """A long time between installing and going into service.

    installed_on, in_service_on: dates at the site.
    Returns sentences, none when there is no doubt.
    Source: judgement.
    """
    days = (in_service_on - installed_on).days
    if days <= GAP_DAYS:
        return []
    return [f"It was installed {days} days before. Is the day of installation right?"]


def _both(what, value):
    """A stored value as both kinds of reader write it."""
    us, metric = shown(what, value, "us"), shown(what, value, "metric")
    return us if us == metric else f"{us} ({metric})"
