"""The states of systems as they stand, and the stop or slow start that a system is in now."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.facts import Event
from servicedesk.planning.due.sentences import day
from servicedesk.planning.due.timeline import StateFrom

STOPPED = frozenset({SystemState.FAILED, SystemState.SHUT_OTHER})
BROUGHT_UP = frozenset({SystemState.RAMPING, SystemState.COMMISSIONING})
KINDS = {"stopped": (STOPPED, "stop"), "ramp": (BROUGHT_UP, "slow start")}


@dataclass
class States:
    """States that stand, first to last; `redated`: from an instant corrected to what it is now."""

    standing: list[tuple[datetime, StateFrom]] = field(default_factory=list)
    redated: dict[datetime, datetime] = field(default_factory=dict)


def states_of(
    system_ids: Collection[int], zones: Mapping[int, str], now: datetime
) -> dict[int, States]:
    """What the history says of each system, in one query; `zones` by system."""
    # Two changes of one instant go by their words, so that the order of entry plays no part.
    rows = list(
        StateChange.objects.filter(system_id__in=system_ids)
        .order_by("at", "state")
        .values_list("pk", "system_id", "at", "state", "corrects_id", "withdrawn")
    )
    newer = {row[4]: row for row in rows if row[4]}
    found = {pk: States() for pk in system_ids}
    for row in rows:
        pk, system, at, word, _corrects, withdrawn = row
        if pk in newer:
            last = _last(row, newer)
            if not last[5]:
                found[system].redated[at.astimezone(UTC)] = last[2].astimezone(UTC)
        elif not withdrawn and at <= now:
            state = StateFrom(site_date(at, zones[system]), SystemState(word))
            found[system].standing.append((at.astimezone(UTC), state))
    return found


def _last(row, newer):
    while row[0] in newer:
        row = newer[row[0]]
    return row


def open_event(what: str, states: States) -> tuple[Event, ...]:
    """The open event of a kind: the stop or the bringing up that a system is in now.

    It goes by the first of its states; decisions and work that name another of them, or the day
    at which one was dated before, are about the same event.
    """
    wanted, words = KINDS.get(what, (frozenset(), ""))
    run = []
    for at, state in reversed(states.standing):
        if state.state not in wanted:
            break
        run.append((at, state))
    if not run:
        return ()
    begun, state = run[-1]
    instants = {at for at, _state in run}
    instants |= {old for old, at in states.redated.items() if at in instants}
    also = tuple(sorted(_name(what, at) for at in instants - {begun}))
    return (Event(_name(what, begun), state.on, f"the {words} of {day(state.on)}", also),)


def _name(what, at):
    return f"{what}:{at:%Y%m%dT%H%M%S}"
