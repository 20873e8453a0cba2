"""Publishing a week: from then on its days are frozen, and the owners are told."""

from datetime import date, datetime

from django.db import transaction

from customers.models import Firm, User
from servicedesk.actions.reminders import queue_visit_proposals
from servicedesk.actions.routes.drafts import faults_of, orders_of, save_routes, timed
from servicedesk.actions.routes.horizon import keep_detours
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import WeekOfRecords, read_week, stops_of
from servicedesk.actions.routes.wishes import problem_as_it_stands
from servicedesk.models import DueItem, Route, Stop, StopTicket, Ticket


@transaction.atomic
def publish_week(monday: date, *, by: User | None, today: date, now: datetime) -> list[Route]:
    """Freeze every draft day of a week; refused, with reasons, if one breaks a rule.

    The checker judges the days as the records stand now: times are worked out again, so a shift
    or an opening hour that changed since the planning is found here.
    """
    Firm.objects.select_for_update().first()
    week = read_week(monday, today=today)
    problem, stops = problem_as_it_stands(week)
    routes = timed(problem, orders_of(week, problem, stops))
    if not routes:
        raise RouteRefused(f"Week {week.name} has no planned day left to publish. Plan it first.")
    if faults := faults_of(problem, routes):
        raise RouteRefused(*faults)
    days = {(str(r.technician_id), week.number(r.day)) for r in week.drafts}
    save_routes(week, problem, routes, days=days)
    keep_detours(week, problem, routes)
    published = _freeze(monday, today, by, now)
    _give_tickets(published, now)
    _tell_owners(published, now)
    return published


def _freeze(monday: date, today: date, by: User | None, now: datetime) -> list[Route]:
    week: WeekOfRecords = read_week(monday, today=today)
    pks = [route.pk for route in week.drafts]
    Route.objects.filter(pk__in=pks).update(published_at=now, published_by=by)
    return list(Route.objects.filter(pk__in=pks).select_related("technician__user"))


def _give_tickets(routes: list[Route], now: datetime) -> None:
    """Work that is done along gets its ticket now, so that the technician can close it."""
    for stop in (stop for some in stops_of(routes).values() for stop in some):
        for item in stop.due_items.all():
            ticket = _ticket_for(item, now)
            StopTicket.objects.get_or_create(stop=stop, ticket=ticket)
    Stop.due_items.through.objects.filter(stop__route__in=routes).delete()


def _ticket_for(item: DueItem, now: datetime) -> Ticket:
    return Ticket.objects.get_or_create(
        place_key=item.place_key,
        task=item.task,
        occasion=item.occasion,
        closed_at=None,
        defaults={
            **item.place,
            "opened_at": now,
            "due_when_opened_on": item.due_on,
            "because": f"{item.because} Done along with other work at the site.",
        },
    )[0]


def _tell_owners(routes: list[Route], now: datetime) -> None:
    queue_visit_proposals(routes, now=now)
