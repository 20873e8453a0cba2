"""Parts of a stop: some of its work goes to another day, more work of its site comes to it."""

from collections.abc import Collection
from datetime import date, datetime

from django.db import transaction

from servicedesk.actions.routes.hands import (
    add_stop,
    open_week,
    refuse_frozen,
    refuse_published,
    settle,
    take_tickets_off,
)
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.actions.routes.wishes import open_tickets
from servicedesk.actions.tickets import WELL_AWAY
from servicedesk.models import DueItem, Stop, StopTicket, Technician, Ticket
from servicedesk.planning.calendar import said_day, week_name


@transaction.atomic
def split_stop(
    stop: Stop, *, tickets: Collection[Ticket], technician: Technician, day: date, today: date
) -> Stop:
    """Give part of a stop's work to somebody else, or to another day; judged at once.

    Work for several people stays together. Both parts keep their days when the week is planned.
    """
    week = open_week(stop.route.day, today)
    refuse_frozen(stop)
    chosen = _part_of(stop, tickets)
    if week_name(day) != week.name:
        raise RouteRefused("A part goes to a day of the same week. Choose one of its days.")
    if (technician.pk, day) == (stop.route.technician_id, stop.route.day):
        raise RouteRefused("The stop stands on that day already. Choose another day or person.")
    refuse_published(week, technician, day)
    StopTicket.objects.filter(stop=stop, ticket__in=chosen).delete()
    Stop.objects.filter(pk=stop.pk).update(by_hand=True, locked=True)
    made = add_stop(technician, day, stop.site, chosen, stop.arrive_at, locked=True)
    placed = {(str(technician.pk), week.number(day))}
    left = {(str(stop.route.technician_id), week.number(stop.route.day))}
    settle(week, placed, left - placed)
    return made


def _part_of(stop: Stop, tickets: Collection[Ticket]) -> list[Ticket]:
    there = open_tickets(stop)
    chosen = [there[ticket.pk] for ticket in tickets if ticket.pk in there]
    if not chosen:
        raise RouteRefused("Tick the work that goes to somebody else, or to another day.")
    for ticket in chosen:
        if ticket.task.crew > 1 or ticket.task.needs_boat:
            raise RouteRefused(
                f"{ticket.task} needs two people at one time and is never split. Take the stop "
                "off and place it again to change who does it."
            )
    if len(chosen) == len(there):
        raise RouteRefused("That is all of its work. Move the stop instead.")
    return chosen


@transaction.atomic
def add_work(
    stop: Stop, *, tickets: Collection[Ticket], due_items: Collection[DueItem], today: date
) -> None:
    """Bring more work of the site to a stop: open tickets, and work that falls due soon."""
    week = open_week(stop.route.day, today)
    refuse_frozen(stop)
    if not tickets and not due_items:
        raise RouteRefused("Tick the work that is to be done along.")
    for item in due_items:
        refuse_too_early(item, week)
    _refuse_others(stop, [*tickets, *due_items], week)
    left = take_tickets_off(week, stop.site, tickets) if tickets else set()
    for ticket in tickets:
        StopTicket.objects.get_or_create(stop=stop, ticket=ticket)
    stop.due_items.add(*due_items)
    Stop.objects.filter(pk=stop.pk).update(by_hand=True, locked=True)
    placed = {(str(stop.route.technician_id), week.number(stop.route.day))}
    settle(week, placed, left - placed)


def refuse_too_early(item: DueItem, week: WeekOfRecords) -> None:
    """Work long before its window would be closed again as not needed."""
    if item.paused:
        raise RouteRefused(f"The clock of {item.task} stands still. Nothing is due there now.")
    if item.opens_on is None or item.opens_on > week.first_on + WELL_AWAY:
        opens = f" opens on {said_day(item.opens_on)}" if item.opens_on else ""
        raise RouteRefused(
            f"The window of {item.task}{opens or ' is not known'}. Pull it forward at most "
            f"{WELL_AWAY.days} days before it opens."
        )


def _refuse_others(stop: Stop, work: list[Ticket | DueItem], week: WeekOfRecords) -> None:
    frozen = StopTicket.objects.filter(
        stop__route__published_at__isnull=False, stop__route__day__gte=week.first_on
    )
    published = set(frozen.filter(stop__site=stop.site_id).values_list("ticket_id", flat=True))
    for one in work:
        if one.site_id != stop.site_id:
            raise RouteRefused(f"{one.task} is at another site. Place it by hand on its own.")
        if one.task.crew != 1 or one.task.needs_boat:
            raise RouteRefused(f"{one.task} needs two people at one time. Place it by hand.")
        if isinstance(one, Ticket) and one.closed_at:
            raise RouteRefused(f"{one.task} is closed already. Load the page again.")
        if isinstance(one, Ticket) and one.pk in published:
            raise RouteRefused(f"{one.task} is on a published day already, which is frozen.")


def work_near(stop: Stop, *, today: date) -> tuple[list[Ticket], list[DueItem]]:
    """What may be added to a stop: open one-person tickets of its site, and what is due soon."""
    alone = {"site": stop.site_id, "task__crew": 1, "task__needs_boat": False}
    frozen = StopTicket.objects.filter(
        stop__route__published_at__isnull=False, stop__route__day__gte=today
    )
    tickets = (
        Ticket.objects.open()
        .filter(**alone)
        .exclude(stops=stop)
        .exclude(pk__in=frozen.values("ticket"))
        .select_related("task", "system", "site")
    )
    return list(tickets.order_by("due_when_opened_on", "pk")), due_soon(
        DueItem.objects.filter(**alone).exclude(stops=stop), today=today
    )


def due_soon(items, *, today: date) -> list[DueItem]:
    """Those of some due items that open within days and have no open ticket."""
    have = set(
        Ticket.objects.open()
        .filter(site__in=items.values("site"))
        .values_list("place_key", "task_id", "occasion")
    )
    soon = items.filter(
        paused=False, due_on__isnull=False, opens_on__lte=today + WELL_AWAY, task__active=True
    )
    found = soon.select_related("task", "system", "site").order_by("due_on", "pk")
    return [one for one in found if (one.place_key, one.task_id, one.occasion) not in have]


def ticket_ahead(item: DueItem, *, now: datetime) -> tuple[Ticket, bool]:
    """The open ticket of work that is not due yet, and whether it was opened for this."""
    return Ticket.objects.get_or_create(
        place_key=item.place_key,
        task=item.task,
        occasion=item.occasion,
        closed_at=None,
        defaults={
            **item.place,
            "opened_at": now,
            "due_when_opened_on": item.due_on,
            "because": f"{item.because} Pulled forward by hand.",
        },
    )
