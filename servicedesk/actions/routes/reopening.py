"""Taking back a published day that nobody has begun: somebody fell ill, a road is closed."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from customers.models import Firm, Trail, User
from servicedesk.actions.routes.plans import running_plan
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.told import REOPENED
from servicedesk.actions.routes.week import read_week
from servicedesk.models import Route, Stop, Visit


@transaction.atomic
def reopen_day(route: Route, *, by: User, today: date, now: datetime) -> None:
    """Make a draft of a published day again. What was published is kept in the trail.

    Its stops stay on the day when the week is planned again, so that only those owners hear of it
    whose day changes; they are free to move where the technician is away.
    """
    Firm.objects.select_for_update().first()
    route = Route.objects.select_for_update().get(pk=route.pk)
    year, number, _ = route.day.isocalendar()
    monday = date.fromisocalendar(year, number, 1)
    _refuse_begun(route, today)
    if running_plan(monday):
        raise RouteRefused("The week is being planned. Wait for it or stop it, then try again.")
    week = read_week(monday, today=today)
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


def _refuse_begun(route: Route, today: date) -> None:
    if route.published_at is None:
        raise RouteRefused("This day is a draft already. Load the page again.")
    if route.day < today:
        raise RouteRefused("That day is over. What was not done on it is planned anew by itself.")
    if Visit.objects.filter(stop__route=route).exists():
        raise RouteRefused(
            "Work of this day is done already. Move what is left by hand: cancel or postpone its "
            "tickets, or plan them in another week."
        )
