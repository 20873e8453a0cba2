"""From which day on the records of a place are complete."""

from datetime import date

from servicedesk.actions.facts import SiteFacts, SystemFacts
from servicedesk.kinds import PlaceKind


def records_from(task, system: SystemFacts, facts: SiteFacts, unit) -> date | None:
    """The day from which on the work at a place is on record; None: since the beginning.

    A serial unit's records begin where those of the last system begin that it sat in before
    they did; what is done to it elsewhere is on record like all else. A season window that
    closed before its system came in with a register is over, and nobody knows what was done.
    """
    if unit is not None:
        return max(filter(None, map(_of_seat, system.seats_of(unit.pk))), default=None)
    if task.place_kind == PlaceKind.SITE:
        return min(_of_system(s) for s in facts.systems if s.in_service)
    if task.season:
        days = (system.system.records_from_on, system.system.registered_on)
        return max(filter(None, days), default=None)
    return system.system.records_from_on


def _of_seat(seat):
    begin = seat.facts.system.records_from_on
    if begin is None or begin <= seat.from_on:
        return None
    return min(begin, seat.to_on) if seat.to_on else begin


def _of_system(system):
    return max(system.since[0], system.system.records_from_on or date.min)
