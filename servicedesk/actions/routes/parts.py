"""Parts in the planning of a week: when they are there, and what room they take in a van."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import prefetch_related_objects

from servicedesk.actions.needs import Wanting, needs_of, units_of
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.stock import waits_for_parts, why_waiting
from servicedesk.actions.way_in import AGREE_FIRST, must_agree_first, why_agree_first
from servicedesk.models import DueItem, Technician, Ticket
from servicedesk.planning.routing.problem import NEVER_TOO_LATE, Job, StopWish
from servicedesk.planning.stock import Wait

NOBODY_KNOWS = date.max


@dataclass(frozen=True)
class Supply:
    """Which tickets wait for parts, as of the first day that is planned."""

    waits: dict[int, Wait]

    def ready_on(self, ticket_pk: int) -> date | None:
        """The day on which the parts are there; None: they are, or nobody waits for any."""
        wait = self.waits.get(ticket_pk)
        return wait and (wait.on or NOBODY_KNOWS)

    def is_there(self, ticket: Ticket, day: date) -> bool:
        ready_on = self.ready_on(ticket.pk)
        return ready_on is None or ready_on <= day

    def dated(self, job: Job, monday: date) -> Job:
        """A job with the day on which its parts are there, counted from the Monday."""
        kind, pk = job.key.split(":")
        ready_on = self.ready_on(int(pk)) if kind == "ticket" else None
        if ready_on is None or ready_on <= monday:
            return job
        return replace(job, ready_day=min((ready_on - monday).days, NEVER_TOO_LATE))


def read_supply(first_on: date) -> Supply:
    """One query where nothing is on order."""
    return Supply(waits_for_parts(today=first_on))


def supplied(wish: StopWish, supply: Supply, room: dict[str, int], monday: date) -> tuple[Job, ...]:
    """The jobs of a stop with the day of their parts and the room that these take."""
    jobs = (supply.dated(job, monday) for job in wish.jobs)
    return tuple(replace(job, units=room[job.key]) if job.key in room else job for job in jobs)


def room_taken(
    tickets: Iterable[Ticket], due_items: Iterable[DueItem], day: date
) -> dict[str, int]:
    """Room by key of the job; nothing is read where no van has a limit."""
    if not Technician.objects.filter(active=True, van_units__isnull=False).exists():
        return {}
    named: dict[str, Wanting] = {f"ticket:{ticket.pk}": ticket for ticket in tickets}
    prefetch_related_objects(list(named.values()), "position")
    items: dict[str, Wanting] = {f"due:{item.pk}": item for item in due_items}
    prefetch_related_objects(list(items.values()), "position")
    named |= items
    needs = needs_of(list(named.values()), day)
    return {key: units_of(one, needs[one]) for key, one in named.items()}


def ready(tickets: Iterable[Ticket], day: date, today: date) -> list[Ticket]:
    """Those whose parts are there on a day."""
    supply = read_supply(today)
    return [ticket for ticket in tickets if supply.is_there(ticket, day)]


def refuse_unready(tickets: Iterable[Ticket], day: date, today: date) -> None:
    """Nothing is placed by hand before its parts are there, or its owner has agreed to the day."""
    supply = read_supply(today)
    for ticket in tickets:
        if must_agree_first(ticket, day):
            raise RouteRefused(
                f"{AGREE_FIRST} Then enter the time under Getting in, {ticket.site}."
            )
        if supply.is_there(ticket, day):
            continue
        ready_on = supply.ready_on(ticket.pk)
        if ready_on is None or ready_on == NOBODY_KNOWS:
            raise RouteRefused(
                "Its parts are on order and nobody knows when they come. Enter the day on the "
                "page of parts on order, or call the order off there."
            )
        raise RouteRefused(
            f"Its parts come on {ready_on:%A} {ready_on.day} {ready_on:%B}. Choose that day or a "
            "later one, or tick on the page of parts on order that they are here."
        )


def why_held(*, today: date, now: datetime) -> dict[int, str]:
    """What keeps open tickets back, whatever a plan says: parts, or an owner who must be home."""
    return why_waiting(today=today) | why_agree_first(now=now)
