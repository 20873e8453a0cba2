"""The states that systems will be in over the coming year: last year's, once more."""

from collections.abc import Sequence
from datetime import date, timedelta

from equipment.kinds import RUNNING, SystemState, WinterMode
from servicedesk.planning.calendar import add_months
from servicedesk.planning.due.timeline import StateFrom, Timeline
from servicedesk.planning.seasons import Window

WINTERS = {
    WinterMode.SHUT_DOWN: SystemState.SHUT_WINTER,
    WinterMode.RUN_SHALLOW: SystemState.RUNNING_WINTER_SHALLOW,
    WinterMode.RUN_DEEP: SystemState.RUNNING_WINTER_DEEP,
}
OF_WINTER = frozenset(WINTERS.values())
OF_SUMMER = RUNNING - OF_WINTER
LOOK_BACK = timedelta(days=400)
OVERDUE = timedelta(days=60)  # a change that has not come by then does not come this year
SOON = timedelta(days=7)


def coming_states(
    history: Sequence[StateFrom],
    today: date,
    until: date,
    mode: WinterMode,
    winters: Sequence[Window] = (),
    springs: Sequence[Window] = (),
) -> tuple[StateFrom, ...]:
    """When a system goes into winter and out of it until a day.

    history: its states until today, in order.
    today, until: dates at the site.
    mode: how it spends the winter.
    winters, springs: the season windows of its region, for a system without a winter on record.
    Returns changes after today, in order. The last year's turn of seasons comes again on its days;
        one that is up to 60 days late comes in a week. Without one on record, winter begins with
        the last day of its window and ends with the first day of spring's. A system that is out of
        order or off for another reason stays so, for nobody knows better.
    Source: our own rule.
    """
    state = history[-1].state if history else None
    if state not in RUNNING and state != SystemState.SHUT_WINTER:
        return ()
    turns = _turns(history, today - LOOK_BACK)
    found = _again(turns, state, today, until)
    if not any(row.state in OF_WINTER for row in found) and mode in WINTERS:
        found += [StateFrom(w.closes_on, WINTERS[mode]) for w in winters]
    if not any(row.state in OF_SUMMER for row in found):
        found += [StateFrom(w.opens_on, SystemState.RUNNING) for w in springs]
    return _in_turn([row for row in found if today < row.on <= until], state)


def until_then(line: Timeline, day: date) -> Timeline:
    """A timeline as it is known on a day, with nothing of what comes later.

    line: with changes of state that lie ahead.
    day: the last day that is known.
    Returns a Timeline whose last state goes on for ever.
    Source: our own rule.
    """
    count = sum(1 for begins in line.days if begins <= day.toordinal())
    if count == len(line.days):
        return line
    return Timeline(
        days=line.days[:count],
        states=line.states[:count],
        counts=line.counts[:count],
        rates=line.rates[:count],
        ran=line.ran[:count],
        hours=line.hours[:count],
        metered=line.metered[:count],
        metered_until=line.metered_until,
    )


def _turns(history: Sequence[StateFrom], since: date) -> list[StateFrom]:
    """Into a winter and out of it; what happened in between was no season."""
    found, winter = [], False
    for row in history:
        if row.state in OF_WINTER:
            found.append(row)
            winter = True
        elif winter and row.state in OF_SUMMER:
            found.append(StateFrom(row.on, SystemState.RUNNING))
            winter = False
    return [row for row in found if row.on >= since]


def _again(turns, state, today: date, until: date) -> list[StateFrom]:
    found = []
    for row in turns:
        for years in range(1, (until - row.on).days // 365 + 2):
            on = add_months(row.on, 12 * years)
            overdue = today - OVERDUE <= on <= today
            if overdue and (row.state in OF_WINTER) != (state in OF_WINTER):
                on = today + SOON
            found.append(StateFrom(on, row.state))
    return found


def _in_turn(rows: list[StateFrom], state) -> tuple[StateFrom, ...]:
    """In order, each a change of season."""
    found: list[StateFrom] = []
    for row in sorted(rows):
        if (row.state in OF_WINTER) != (state in OF_WINTER):
            found.append(row)
            state = row.state
    return tuple(found)
