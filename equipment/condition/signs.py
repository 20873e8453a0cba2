"""Which signs the readings of a system show, each with its sentence and figures.

A sign that stands `alone` says that something is wrong. The others only lend weight: a reading
half way to its tolerance, or a circumstance such as frost.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from equipment.condition.baseline import gauge_of
from equipment.condition.boils import boil_signs
from equipment.condition.departures import HALF, Departure, figure
from equipment.condition.expected import hangs_on_flow_pa, level_pa, pressure_tolerance_pa
from equipment.condition.history import FLOW, MANIFOLD, POWER, RISE, History, Key, SetRead
from equipment.condition.meters import hour_signs
from equipment.condition.shown import Shown
from equipment.condition.wording import amount, day
from equipment.kinds import Quantity, Sign

CIRCUMSTANCES = frozenset(
    {
        Sign.FROST,
        Sign.AFTER_STORM,
        Sign.AFTER_WINTER,
        Sign.AFTER_MOWING_OR_DIG,
        Sign.AFTER_RESTART,
        Sign.WINTER_CONFIG,
        Sign.NEW_GAUGE,
        Sign.MOTOR_RUNS,
        Sign.LEVEL_UP,
        Sign.LEVEL_DOWN,
        Sign.FILTER_LOADED,
        Sign.P_FLAT,
        Sign.ALL_LINES_SAME,
    }
)
_BY_A_LEAK = frozenset({Sign.VA_DOWN, Sign.P_DOWN})
_BY_LEVEL = ((Sign.LEVEL_UP, Sign.VA_UP), (Sign.LEVEL_DOWN, Sign.VA_DOWN))
LESS_AIR = 0.4  # of the losses that hang on the flow goes with a quarter to a third of the air
NO_PRESSURE = 0.15  # of what is expected
NO_POWER = 0.05  # of the baseline
LOW_VOLTS, FAR_TOO_LOW_VOLTS = 0.95, 0.90  # of the nominal: common practice, no source
ALIKE_PA = 1400.0  # 0.2 psi: two readings of one gauge that are the same
FREEZING_C = 0.0
NOISE = 0.6  # of a gauge's class, how far its readings of one pressure scatter: judgement
NEW_FOR = 3  # days on which it was read, for which a gauge is called new: judgement


def signs_of(history: History, judged: SetRead, found: Mapping[Key, Departure]) -> list[Shown]:
    """Everything that readings and eyes showed at a set, present or looked for and absent.

    history: everything known of the system.
    judged: the set that the verdict speaks of.
    found: departures by key, from `departures`.
    Returns the signs; where one is named twice, what a person saw comes first.
    Source: our own rule, on the tolerances of `Tolerances`; half of a tolerance lends weight:
    judgement.
    """
    shown = [*_seen(judged)]
    shown += _pressure(history, judged, found)
    shown += _level(history, judged, found)
    shown += _machine(history, judged, found)
    shown += boil_signs(history, judged, found, {one.sign for one in shown if one.present})
    shown += hour_signs(history, judged)
    shown += _around(history, judged, found)
    return _told_apart(_once(shown))


def _told_apart(shown):
    """Leave out what this pattern does not tell, though a table would read it so.

    A pressure that stays speaks for a loss before the compressor only beside a loaded filter or
    heat. A weak boil shows long before its line's pressure does, so that a pressure inside its
    band clears no plate. Where air is seen or heard to escape, a little less pressure and power
    follow from that; and power follows the water's level.
    """
    there = {one.sign for one in shown if one.present}
    leave = set()
    if not there & {Sign.FILTER_LOADED, Sign.RISE_HIGH}:
        leave.add((Sign.P_FLAT, True))
    if there & {Sign.B_ONE_WEAK, Sign.B_ALL_WEAK}:
        leave.add((Sign.P_UP, False))
    escapes = there & {Sign.N_HISS, Sign.B_OFF_PLATE}
    by_level = {power for level, power in _BY_LEVEL if level in there}
    return [
        replace(one, alone=False) if one.sign in by_level else one
        for one in shown
        if (one.sign, one.present) not in leave
        and not (escapes and one.present and not one.alone and one.sign in _BY_A_LEAK)
    ]


def _once(shown):
    """What was seen goes before what was worked out; a present sign before an absent one."""
    kept = {}
    for one in shown:
        known = kept.get(one.sign)
        if known is None or _stronger(one, known):
            kept[one.sign] = one
    return list(kept.values())


def _stronger(one, known):
    if not one.present:
        return False
    return not known.seen if not known.present else one.alone and not known.alone


def _seen(judged) -> Iterator[Shown]:
    for sign, present in judged.seen.items():
        words = str(sign).replace("_", " ")
        says = (
            f"Seen on {day(judged.on)}: {words}." if present else f"Looked for, not there: {words}."
        )
        yield Shown(Sign(sign), present, present and sign not in CIRCUMSTANCES, says, seen=True)


def _pressure(history, judged, found) -> Iterator[Shown]:
    lines = [d for key, d in found.items() if key[0] == Quantity.LINE_PRESSURE]
    main = found.get(MANIFOLD)
    if main and main.band.expected > 0 and main.read.raw < NO_PRESSURE * main.band.expected:
        yield Shown(Sign.P_ZERO, True, True, f"There is no pressure. {figure(history, main)}")
        return
    for departure in [main, *lines] if main else lines:
        if not departure.band.other_gauge:
            yield from _moved(history, departure, alone_down=_is_alone(departure, lines))
    yield from _quiet(history, judged, main, lines)
    yield from _lines_alike(history, lines, main)
    yield from _pinned(history, judged, found)


def _quiet(history, judged, main, lines) -> Iterator[Shown]:
    """Pressures as expected, where that clears anything."""
    every = [main, *lines] if main else lines
    quiet = [d for d in every if abs(d.share) < HALF and abs(d.raw_away) < HALF * d.side]
    if every and len(quiet) == len(every) and (lines or _plates(history, judged) <= 1):
        for sign in (Sign.P_UP, Sign.P_UP_STEP):
            yield Shown(sign, False, False, "Pressure is not up.")
    if main in quiet and _would_fall(history, judged, main):
        for sign in (Sign.P_DOWN, Sign.P_DOWN_STEP):
            yield Shown(sign, False, False, "Pressure is not down, and less air would show in it.")
    if main and abs(main.share) < HALF and all(abs(d.share) < HALF for d in lines):
        yield Shown(Sign.P_FLAT, True, False, f"Pressure is unchanged. {figure(history, main)}")


def _would_fall(history, judged, main):
    """Whether the loss of a good part of the air would show at the manifold at all."""
    rig = history.rigs.get(judged.configuration)
    hangs = hangs_on_flow_pa(rig, judged.level_m or 0.0) if rig else None
    return hangs is not None and LESS_AIR * hangs >= HALF * main.side


def _is_alone(departure, lines):
    """One line down and no other: a line's own pressure does not hang on the compressor."""
    others = [d for d in lines if d is not departure]
    return departure in lines and bool(others) and all(d.share > -HALF for d in others)


def _moved(history, departure, *, alone_down) -> Iterator[Shown]:
    """Up or down, slowly or at once; beyond the tolerance, or half way there.

    One line down alone has a hole or lies shallower, which comes at once.
    """
    if abs(departure.share) < HALF:
        return
    alone, says = abs(departure.share) > 1, figure(history, departure)
    up = departure.away > 0
    step = departure.at_once or (alone_down and not up and not departure.slowly)
    slow_sign, step_sign = (Sign.P_UP, Sign.P_UP_STEP) if up else (Sign.P_DOWN, Sign.P_DOWN_STEP)
    if departure.at_once:
        by = amount(history, departure.key, abs(departure.away - departure.before))
        says += f" {by} of it came since {day(departure.before_on)}."
    yield Shown(step_sign if step else slow_sign, True, alone, says, departure.key[1])
    if step and departure.read.level_m is None:
        yield Shown(slow_sign, True, False, f"{says} The water's level was not read.")
    if departure.slowly and alone:
        yield Shown(step_sign, False, False, "It did not come at once.")


def _lines_alike(history, lines, main) -> Iterator[Shown]:
    """All lines up or down by the same amount: the water or the gauge, hardly the plates."""
    if len(lines) < 2 or len({d.read.on for d in lines}) > 1:
        return
    explained = [d for d in lines if d.explained and abs(d.explained) >= HALF * d.side]
    aways = [d.raw_away if explained else d.away for d in lines]
    least = HALF * min(d.side for d in lines)
    alike = max(ALIKE_PA, NOISE * history.gauge_error_pa(gauge_of(lines[0].read.set, lines[0].key)))
    if max(aways) - min(aways) > alike or min(aways) * max(aways) <= 0:
        if max(map(abs, aways)) >= least:
            yield Shown(Sign.ALL_LINES_SAME, False, False, "The lines do not move alike.")
        return
    if min(map(abs, aways)) >= least:
        by = [amount(history, lines[0].key, value) for value in sorted(map(abs, aways))]
        span = by[0] if by[0] == by[-1] else f"{by[0]} to {by[-1]}"
        way = "above" if aways[0] > 0 else "below"
        says = f"All lines lie {way} their baseline alike, by {span}."
        yield Shown(Sign.ALL_LINES_SAME, True, False, says)


def _pinned(history, judged, found) -> Iterator[Shown]:
    """One pressure whatever line is open, that of the relief valve: it does not close."""
    rig = history.rigs.get(judged.configuration)
    read = judged.by_position(Quantity.LINE_PRESSURE)
    main = judged.value(*MANIFOLD)
    if main is None or rig is None or rig.relief_pa is None or len(read) < 2:
        return
    near = max(ALIKE_PA, history.gauge_error_pa(gauge_of(judged, MANIFOLD)))
    if max(abs(value - rig.relief_pa) for value in (main, *read.values())) <= near:
        same = amount(history, MANIFOLD, main)
        says = f"Every line reads {same}, at which the relief valve opens."
        yield Shown(Sign.P_PINNED, True, True, says)


def _level(history, judged, found) -> Iterator[Shown]:
    main = found.get(MANIFOLD) or next(
        (d for key, d in found.items() if key[0] == Quantity.LINE_PRESSURE), None
    )
    if main is None or main.explained is None or main.read.set.order != judged.order:
        return
    # The mark is read as well as any gauge, so the gauge's own error does not count here.
    weight = abs(main.explained) / pressure_tolerance_pa(main.band.expected, 0, history.tolerances)
    up = main.explained > 0
    if weight >= HALF:
        by = amount(history, MANIFOLD, abs(main.explained))
        metres = amount(history, (Quantity.LEVEL, None), judged.level_m)
        more = "more" if up else "less"
        says = f"The water stands at {metres} against its mark: that alone makes {by} {more}."
        news = weight > 1 and abs(main.explained) > level_pa(history.swing_m or 0.0)
        if weight > 1 and not news:
            says += " That is no more than it does in a year."
        yield Shown(Sign.LEVEL_UP if up else Sign.LEVEL_DOWN, True, news, says)
        return
    for sign in (Sign.LEVEL_UP, Sign.LEVEL_DOWN):
        yield Shown(sign, False, False, "The water stands where it stood for the baseline.")


def _machine(history, judged, found) -> Iterator[Shown]:
    power = found.get(POWER)
    amperes = judged.value(Quantity.CURRENT)
    if amperes is not None and _no_current(amperes, power):
        yield Shown(Sign.VA_ZERO, True, True, f"The compressor takes no current ({amperes:g} A).")
    elif power:
        yield from _one(history, power, Sign.VA_UP, Sign.VA_DOWN)
    if flow := found.get(FLOW):
        yield from _one(history, flow, None, Sign.F_DOWN)
    if rise := found.get(RISE):
        yield from _one(history, rise, Sign.RISE_HIGH, None)
    yield from _volts(history, judged)


def _no_current(amperes, power):
    return amperes <= 0.05 or (
        power is not None and power.read.raw < NO_POWER * power.band.expected
    )


def _one(history, departure, up, down) -> Iterator[Shown]:
    for sign, way in ((up, departure.share), (down, -departure.share)):
        if sign is None:
            continue
        if way >= HALF:
            yield Shown(sign, True, way > 1, figure(history, departure))
        else:
            yield Shown(sign, False, False, figure(history, departure))


def _volts(history, judged) -> Iterator[Shown]:
    volts = judged.value(Quantity.VOLTAGE)
    if volts is None or not history.nominal_v:
        return
    share = volts / history.nominal_v
    says = f"{volts:.0f} V were measured, {history.nominal_v:.0f} V are nominal."
    low = share < LOW_VOLTS
    if low:
        says += " A licensed electrician should look at the supply."
    yield Shown(Sign.VOLTS_LOW, low, share < FAR_TOO_LOW_VOLTS, says)


def _around(history, judged, found) -> Iterator[Shown]:
    outside = judged.value(Quantity.OUTSIDE_AIR)
    if outside is not None:
        frost = outside <= FREEZING_C
        says = f"The air outside was {history.shown(Quantity.OUTSIDE_AIR, outside)}."
        yield Shown(Sign.FROST, frost, False, says)
    if judged.configuration in history.winter:
        name = history.name(judged.configuration)
        yield Shown(Sign.WINTER_CONFIG, True, False, f"The plates lie as in {name}.")
    yield from _new_gauge(history, judged, found)


def _new_gauge(history, judged, found) -> Iterator[Shown]:
    """Another gauge than before: what it says is compared only with what it said itself."""
    now = judged.gauges.get(Quantity.PRESSURE, "")
    main = found.get(MANIFOLD)
    if not now or main is None or main.band.sure or main.read.set.order != judged.order:
        return
    sets = [s for s in history.until(judged.on) if s.value(*MANIFOLD) is not None]
    old = [s for s in sets if s.gauges.get(Quantity.PRESSURE, now) != now]
    if not old:
        return
    label = history.gauges[now].label if now in history.gauges else now
    says = f"The pressure is read with another gauge now: {label}."
    first = next(s for s in sets if s.gauges.get(Quantity.PRESSURE, "") == now)
    alone = main.band.other_gauge and abs(main.share) > 1
    if alone:
        says += f" {figure(history, main)} A second gauge tells which of the two is right."
    if old[-1].on == first.on and old[-1].order < first.order:
        step = first.value(*MANIFOLD) - old[-1].value(*MANIFOLD)
        more = f"{amount(history, MANIFOLD, abs(step))} {'more' if step > 0 else 'less'}"
        says += f" At one moment it showed {more} than the gauge before it."
        read_on = {s.on for s in sets if s.gauges.get(Quantity.PRESSURE, "") == now}
        alone = abs(step) > main.side and len(read_on) <= NEW_FOR
        if alone:
            says += " A second gauge tells which of the two is right."
    yield Shown(Sign.NEW_GAUGE, True, alone, says)


def _plates(history, judged):
    rig = history.rigs.get(judged.configuration)
    return sum(line.in_use for line in rig.lines) if rig else 0
