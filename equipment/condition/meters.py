"""What hour meters and copied figures say."""

from collections.abc import Iterator
from itertools import pairwise

from equipment.condition.history import History, SetRead
from equipment.condition.shown import Shown
from equipment.condition.wording import day
from equipment.kinds import Moment, Quantity, Sign
from equipment.physics.limits import hours_counted

SHORT = 0.60  # of what timer and states promise: common practice, no source
FEWEST_H = 100.0  # promised, before a shortfall says anything: judgement
RUNNING = 3  # visits with the same figures
AT_LEAST = 2  # figures that are the same: one alone often is, by rounding
_READ_ANEW = frozenset(
    {
        Quantity.PRESSURE,
        Quantity.LINE_PRESSURE,
        Quantity.FLOW,
        Quantity.CURRENT,
        Quantity.VOLTAGE,
        Quantity.CABINET_AIR,
        Quantity.OUTSIDE_AIR,
    }
)


def hour_signs(history: History, judged: SetRead) -> Iterator[Shown]:
    """Hours that are short of the schedule, or that no meter can count.

    history: everything known of the system; a meter that was exchanged has another gauge key.
    judged: the set that the verdict speaks of.
    Returns the signs, none where the meter was not read twice.
    Source: no more than 24 hours a day and one for reading it; 60 percent of the schedule is
    common practice, no source.
    """
    for key, now in judged.values.items():
        if key[0] != Quantity.RUN_HOURS:
            continue
        before = _before(history, judged, key)
        if before is not None:
            yield from _compared(history, judged, before, now, before.values[key])


def copied(history: History, judged: SetRead) -> str | None:
    """Whether the same figures stand in three visits running.

    history: everything known of the system.
    judged: the set that the verdict speaks of.
    Returns a sentence that asks and accuses nobody; None where it is not so.
    Source: our own rule: at least two figures, in three visits running.
    """
    found = [s for s in history.until(judged.on) if s.moment != Moment.AS_LEFT]
    last = found[-RUNNING:]
    if len(last) < RUNNING:
        return None
    figures = [{k: v for k, v in s.values.items() if k[0] in _READ_ANEW} for s in last]
    if len(figures[-1]) < AT_LEAST or any(a != b for a, b in pairwise(figures)):
        return None
    return (
        f"The same {len(figures[-1])} figures stand in {RUNNING} visits running, since "
        f"{day(last[0].on)}. They may well be right; were they measured anew each time?"
    )


def _before(history, judged, key):
    meter = judged.gauges.get(key[0], "")
    return next(
        (
            s
            for s in reversed(history.until(judged.on))
            if s.on < judged.on and key in s.values and s.gauges.get(key[0], "") == meter
        ),
        None,
    )


def _compared(history, judged, before, now_h, last_h) -> Iterator[Shown]:
    days = (judged.on - before.on).days
    hours = hours_counted(last_h, now_h, history.turns_at_h)
    since = f"since {day(before.on)}, {days} days"
    if hours < 0 or hours > 24 * (days + 1) + 1:
        says = f"The hour meter went from {last_h:.0f} h to {now_h:.0f} h {since}: that cannot be."
        yield Shown(Sign.HOURS_IMPOSSIBLE, True, True, says)
        return
    yield Shown(Sign.HOURS_IMPOSSIBLE, False, False, "The hour meter counts as it can.")
    due = judged.scheduled_h
    if due is not None and due >= FEWEST_H:
        says = f"The hour meter counted {hours:.0f} h {since}; {due:.0f} h were to be expected."
        yield Shown(Sign.HOURS_SHORT, hours < SHORT * due, hours < SHORT * due, says)
