"""Which signs the readings of a system show, each with its sentence and figures.

A sign that stands `alone` says that something is wrong. The others only lend weight: a reading
half way to its tolerance, or a circumstance such as frost.
"""

from collections.abc import Iterator, Mapping

from equipment.condition.boils import boil_signs
from equipment.condition.departures import HALF, Departure, figure
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
# A pressure that stays says something only where machine or boils have changed.
_OF_THE_WATER = frozenset(
    {
        Sign.P_FLAT,
        Sign.LEVEL_UP,
        Sign.LEVEL_DOWN,
        Sign.ALL_LINES_SAME,
        Sign.FROST,
        Sign.WINTER_CONFIG,
    }
)
NO_PRESSURE = 0.15  # of what is expected
NO_POWER = 0.05  # of the baseline
LOW_VOLTS, FAR_TOO_LOW_VOLTS = 0.95, 0.90  # of the nominal: common practice, no source
ALIKE_PA = 1400.0  # 0.2 psi: two readings of one gauge that are the same
FREEZING_C = 0.0


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
    shown += boil_signs(history, judged, found)
    shown += _machine(history, judged, found)
    shown += hour_signs(history, judged)
    shown += _around(history, judged, found)
    kept = _once(shown)
    telling = any(one.present and one.sign not in _OF_THE_WATER for one in kept)
    return kept if telling else [one for one in kept if one.sign != Sign.P_FLAT]


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
    every = [main, *lines] if main else lines
    if main and main.band.expected > 0 and main.read.raw < NO_PRESSURE * main.band.expected:
        yield Shown(Sign.P_ZERO, True, True, f"There is no pressure. {figure(history, main)}")
        return
    for departure in every:
        yield from _moved(history, departure)
    quiet = [d for d in every if abs(d.share) < HALF and abs(d.raw_away) < HALF * d.side]
    if every and len(quiet) == len(every) and (lines or _plates(history, judged) <= 1):
        for sign in (Sign.P_UP, Sign.P_UP_STEP, Sign.P_DOWN, Sign.P_DOWN_STEP):
            yield Shown(sign, False, False, "Pressure is as expected.")
    elif main in quiet:
        for sign in (Sign.P_DOWN, Sign.P_DOWN_STEP):
            yield Shown(sign, False, False, "Pressure at the manifold is not down.")
    if main and abs(main.share) < HALF and all(abs(d.share) < HALF for d in lines):
        yield Shown(Sign.P_FLAT, True, False, f"Pressure is unchanged. {figure(history, main)}")
    yield from _lines_alike(history, lines, main)
    yield from _pinned(history, judged, found)


def _moved(history, departure) -> Iterator[Shown]:
    """Up or down, slowly or at once; beyond the tolerance, or half way there."""
    if abs(departure.share) < HALF:
        return
    alone, says = abs(departure.share) > 1, figure(history, departure)
    up, step = departure.away > 0, departure.at_once
    if step:
        by = amount(history, departure.key, abs(departure.away - departure.before))
        says += f" {by} of it came since {day(departure.before_on)}."
    slow_sign, step_sign = (Sign.P_UP, Sign.P_UP_STEP) if up else (Sign.P_DOWN, Sign.P_DOWN_STEP)
    yield Shown(step_sign if step else slow_sign, True, alone, says, departure.key[1])
    if step and up and departure.read.level_m is None:
        yield Shown(Sign.P_UP, True, False, f"{says} The water may have risen: it was not read.")
    if not step and departure.before is not None:
        yield Shown(step_sign, False, False, "It did not come at once.")


def _lines_alike(history, lines, main) -> Iterator[Shown]:
    """All lines up or down by the same amount: the water or the gauge, hardly the plates."""
    if len(lines) < 2 or len({d.read.on for d in lines}) > 1:
        return
    explained = [d for d in lines if d.explained and abs(d.explained) >= HALF * d.side]
    aways = [d.raw_away if explained else d.away for d in lines]
    least = HALF * min(d.side for d in lines)
    if max(aways) - min(aways) > least or min(aways) * max(aways) <= 0:
        if max(map(abs, aways)) >= least:
            yield Shown(Sign.ALL_LINES_SAME, False, False, "The lines do not move alike.")
        return
    if min(map(abs, aways)) >= least:
        low, high = (
            amount(history, lines[0].key, v) for v in sorted(map(abs, aways))[:: len(aways) - 1]
        )
        way = "above" if aways[0] > 0 else "below"
        says = f"All lines lie {way} their baseline alike, by {low} to {high}."
        yield Shown(Sign.ALL_LINES_SAME, True, False, says)


def _pinned(history, judged, found) -> Iterator[Shown]:
    """One pressure whatever line is open: a relief valve that does not close."""
    read = judged.by_position(Quantity.LINE_PRESSURE)
    main = judged.value(*MANIFOLD)
    if main is None or len(read) < 2 or max(abs(v - main) for v in read.values()) > ALIKE_PA:
        return
    expected = [d.band.expected for key, d in found.items() if key[0] == Quantity.LINE_PRESSURE]
    if expected and max(expected) - min(expected) > 3 * ALIKE_PA:
        same = amount(history, MANIFOLD, main)
        says = f"Every line reads {same}, though they lie at different depths."
        yield Shown(Sign.P_PINNED, True, True, says)


def _level(history, judged, found) -> Iterator[Shown]:
    main = found.get(MANIFOLD) or next(
        (d for key, d in found.items() if key[0] == Quantity.LINE_PRESSURE), None
    )
    if main is None or main.explained is None or main.read.set.order != judged.order:
        return
    weight = abs(main.explained) / main.side
    up = main.explained > 0
    if weight >= HALF:
        by = amount(history, MANIFOLD, abs(main.explained))
        metres = amount(history, (Quantity.LEVEL, None), judged.level_m)
        more = "more" if up else "less"
        says = f"The water stands at {metres} against its mark: that alone makes {by} {more}."
        yield Shown(Sign.LEVEL_UP if up else Sign.LEVEL_DOWN, True, weight > 1, says)
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
    earlier = [s.gauges.get(Quantity.PRESSURE, "") for s in history.until(judged.on)]
    before = next((g for g in reversed(earlier) if g and g != now), None)
    if before is None:
        return
    label = history.gauges[now].label if now in history.gauges else now
    yield Shown(
        Sign.NEW_GAUGE, True, False, f"The pressure is read with another gauge now: {label}."
    )


def _plates(history, judged):
    rig = history.rigs.get(judged.configuration)
    return sum(line.in_use for line in rig.lines) if rig else 0
