"""Taking back a published day that nobody has begun: somebody fell ill, a road is closed."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from customers.models import Firm, Trail, User
from servicedesk.actions.routes.plans import running_plan
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.told import REOPENED
from servicedesk.actions.routes.week import WeekOfRecords, read_week
from servicedesk.models import Route, Stop, StopTicket, Visit


@transaction.atomic
def reopen_day(route: Route, *, by: User, today: date, now: datetime) -> list[Route]:
    """Make a draft of a published day again. What was published is kept in the trail.

    The days of those who are met on it are opened with it: their hour hangs on both, and half a
    meeting could neither be changed nor published. Its stops stay on their days when the week is
    planned again, so that only those owners hear of it whose day changes; they are free to move
    where the technician is away. Returns the days of the others that were opened too.
    """
    Firm.objects.select_for_update().first()
    route = Route.objects.select_for_update().get(pk=route.pk)
    year, number, _ = route.day.isocalendar()
    monday = date.fromisocalendar(year, number, 1)
    _refuse_over(route, today)
    if running_plan(monday):
        raise RouteRefused("The week is being planned. Wait for it or stop it, then try again.")
    others = _met(route)
    _refuse_begun(route, others)
    week = read_week(monday, today=today)
    for one in [route, *others]:
        _open(one, week, by, now)
    return others


def _met(route: Route) -> list[Route]:
    """Published days of all whom this day meets, and whom those meet in turn."""
    found = {route.pk: route}
    fresh = [route.pk]
    while fresh:
        tickets = StopTicket.objects.filter(stop__route__in=fresh).values("ticket")
        more = Route.objects.filter(
            day=route.day, published_at__isnull=False, stops__tickets__in=tickets
        ).exclude(pk__in=found)
        more = list(
            Route.objects.select_for_update()
            .select_related("technician__user")
            .filter(pk__in=list(more.values_list("pk", flat=True)))
        )
        found |= {one.pk: one for one in more}
        fresh = [one.pk for one in more]
    return [one for one in found.values() if one.pk != route.pk]


def _open(route: Route, week: WeekOfRecords, by: User, now: datetime) -> None:
    stays = week.paid_day(route.technician_id, route.day) is not None
    stops = Stop.objects.filter(route=route).order_by("number")
    Trail.objects.create(
        at=now,
        by=by,
        did=REOPENED,
        about=f"technician:{route.technician_id}",
        before={
            "day": route.day.isoformat(),
            "published_at": route.published_at.isoformat(),
            "sites": list(stops.values_list("site", flat=True)),
            "stops": stops_told(stops),
        },
    )
    stops.update(by_hand=stays, locked=stays)
    Route.objects.filter(pk=route.pk).update(published_at=None, published_by=None)


def stops_told(stops: QuerySet) -> list[dict]:
    """Stops as they stood when they were told, for the calendar of whoever goes there."""
    return [
        {
            "uuid": str(stop.uuid),
            "site": stop.site_id,
            "arrive_at": stop.arrive_at.isoformat(),
            "leave_at": stop.leave_at.isoformat(),
        }
        for stop in stops
    ]


def _refuse_over(route: Route, today: date) -> None:
    if route.published_at is None:
        raise RouteRefused("This day is a draft already. Load the page again.")
    if route.day < today:
        raise RouteRefused("That day is over. What was not done on it is planned anew by itself.")


def _refuse_begun(route: Route, others: list[Route]) -> None:
    begun = Visit.objects.filter(stop__route__in=[route, *others]).values_list("stop__route")
    begun = {pk for (pk,) in begun}
    if route.pk in begun:
        raise RouteRefused(
            "Work of this day is done already. Move what is left by hand: cancel or postpone its "
            "tickets, or plan them in another week."
        )
    if met := [str(one.technician) for one in others if one.pk in begun]:
        raise RouteRefused(
            f"{' and '.join(met)} is met on this day and has begun it, so that it cannot be "
            "opened. Cancel or postpone the tickets that are left."
        )
