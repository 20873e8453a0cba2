"""The sentences of a verdict: what the readings say, and what would make it surer."""

from equipment.condition.causes import NO_FAULT
from equipment.condition.departures import figure
from equipment.condition.history import MANIFOLD, POWER
from equipment.condition.meters import copied
from equipment.condition.wording import amount, day, word
from equipment.kinds import Quantity, Sign

NO_READINGS = "There are no readings yet, so nothing can be said."
STALE_D = 200  # a reading older than the longest gap between visits: judgement


def says(history, verdict, weather) -> tuple[str, ...]:
    """What the readings say, the most important first.

    history: everything known of the system.
    verdict: signs, departures, ranking and drift.
    weather: the mass pattern that this system moved with, or None.
    Returns sentences.
    Source: our own rule.
    """
    told = [weather.says] if weather else []
    alone = [one for one in verdict.signs if one.alone]
    if not alone:
        told.append(NO_FAULT[0].upper() + NO_FAULT[1:] + ".")
    told += [one.says for one in alone]
    main = verdict.departures.get(MANIFOLD)
    if main and not any(one.says.startswith(figure(history, main)) for one in alone):
        told.append(figure(history, main))
    told += _circumstances(history, verdict, main)
    told += _left(history, verdict)
    told += [drift.says for drift in verdict.drifts if drift.trend]
    if alone and verdict.ranking.causes:
        told.append(verdict.ranking.says)
    if asked := copied(history, verdict.judged):
        told.append(asked)
    return tuple(dict.fromkeys(told))


def data_needed(history, verdict, proposals) -> tuple[str, ...]:
    """What was not read, recorded or confirmed, and would make the verdict surer.

    history: everything known of the system.
    verdict: what was found.
    proposals: readings that wait to be confirmed as baseline.
    Returns sentences that say what to do.
    Source: our own rule.
    """
    judged, needed = verdict.judged, [proposal.says for proposal in proposals]
    main = verdict.departures.get(MANIFOLD)
    if judged.value(*MANIFOLD) is None:
        needed.append("The pressure at the manifold was not read.")
    elif judged.level_m is None:
        needed.append("Read the water's level against its mark: the pressure hangs on it.")
    if main and not history.gauge_error_pa(judged.gauges.get(Quantity.PRESSURE, "")):
        needed.append("The gauge's class is not recorded: its error is taken as nothing.")
    if main is None and judged.value(*MANIFOLD) is not None:
        needed.append("Record depth, length and bore of the lines: then physics can be asked.")
    needed += _more_readings(history, verdict, judged)
    if (verdict.on - judged.on).days > STALE_D:
        days = (verdict.on - judged.on).days
        needed.append(f"The last readings are {days} days old: they say nothing of today.")
    return tuple(needed)


def _more_readings(history, verdict, judged):
    if not any(one.alone for one in verdict.signs):
        return
    rig = history.rigs.get(judged.configuration)
    plates = sum(line.in_use for line in rig.lines) if rig else 0
    if plates > 1 and len(judged.by_position(Quantity.LINE_PRESSURE)) < plates:
        yield "Read the pressure of each line: all alike is level or gauge, one alone is its plate."
    if POWER not in verdict.departures:
        yield "Measure volts and amperes together: their product tells wear from back pressure."
    if len(judged.by_position(Quantity.BUBBLES)) < plates:
        yield "Score the boil of each plate, with the wind."
    filters = (Sign.FILTER_LOADED, Sign.FILTER_WET, Sign.FILTER_MISSING)
    if not any(sign in judged.seen for sign in filters):
        yield "Look at the intake filter, and say whether it was loaded."


def _circumstances(history, verdict, main):
    """Level, winter place and new gauge, which explain figures and are no faults."""
    for one in verdict.signs:
        if one.alone:
            continue
        if one.sign in (Sign.LEVEL_UP, Sign.LEVEL_DOWN, Sign.NEW_GAUGE, Sign.ALL_LINES_SAME):
            yield one.says
        if one.sign == Sign.WINTER_CONFIG and main is not None:
            yield f"{one.says} Less pressure than in summer is no fault there."


def _left(history, verdict):
    for key, left in sorted(verdict.left.items(), key=lambda item: str(item[0])):
        found = verdict.departures.get(key)
        if found is None or abs(found.share) < 1:
            continue
        value = amount(history, key, left.read.raw)
        inside = "inside its band" if abs(left.share) < 1 else "still outside its band"
        yield f"As left on {day(left.read.on)} the {word(key)} was {value}, {inside}."
