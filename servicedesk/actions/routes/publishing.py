"""Publishing a week: from then on its days are frozen, and the owners are told."""

from collections import defaultdict
from datetime import date, datetime

from django.db import transaction

from customers.models import Firm, Site, Trail, User
from servicedesk.actions.reminders import queue_visit_proposals
from servicedesk.actions.routes.drafts import faults_of, held_back, orders_of, save_routes, timed
from servicedesk.actions.routes.horizon import keep_detours
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.told import (
    REPUBLISHED,
    DayKey,
    StopChange,
    ToldDay,
    changes_since,
    news_of,
    told_days,
)
from servicedesk.actions.routes.week import WeekOfRecords, read_week, stops_of
from servicedesk.actions.routes.wishes import problem_as_it_stands
from servicedesk.actions.winter.publishing import winter_faults
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import DueItem, OfficeTask, Route, Stop, StopTicket, Ticket
from servicedesk.planning.calendar import said_day, said_week
from servicedesk.planning.routing.problem import PlannedRoute, WeekProblem


@transaction.atomic
def publish_week(monday: date, *, by: User | None, today: date, now: datetime) -> list[Route]:
    """Freeze every draft day of a week; refused, with reasons, if one breaks a rule.

    The checker judges the days as the records stand now: times are worked out again, so a shift
    or an opening hour that changed since the planning is found here.
    """
    Firm.objects.select_for_update().first()
    week = read_week(monday, today=today)
    told = told_days(week)
    problem, routes = _timed_days(week)
    if not routes:
        if told:
            return _publish_nothing(week, told, by, now)
        raise RouteRefused(
            f"{said_week(week.monday)} has no planned day left to publish. Plan it first."
        )
    if faults := [*faults_of(problem, routes), *winter_faults(week.drafts, now=now)]:
        raise RouteRefused(*faults, *held_back(week, routes))
    days = {(str(r.technician_id), week.number(r.day)) for r in week.drafts}
    save_routes(week, problem, routes, days=days)
    keep_detours(week, problem, routes)
    published = _freeze(monday, today, by, now)
    _give_tickets(published, now)
    _tell_owners(published, now)
    _say_what_changed(told, published, by, now)
    return published


def faults_to_mend(week: WeekOfRecords, *, now: datetime) -> list[str]:
    """What stands against publishing the draft days of a week, in sentences."""
    problem, routes = _timed_days(week)
    faults = faults_of(problem, routes) if routes else []
    faults = [*faults, *winter_faults(week.drafts, now=now)]
    return [*faults, *held_back(week, routes)] if faults else []


def _timed_days(week: WeekOfRecords) -> tuple[WeekProblem, list[PlannedRoute]]:
    problem, stops = problem_as_it_stands(week)
    return problem, timed(problem, orders_of(week, problem, stops))


def _publish_nothing(
    week: WeekOfRecords, told: dict[DayKey, ToldDay], by: User | None, now: datetime
) -> list[Route]:
    """Days that people were told of and that are empty now: that, too, has to be said."""
    Route.objects.filter(pk__in=[route.pk for route in week.drafts]).delete()
    _say_what_changed(told, [], by, now)
    return []


def _say_what_changed(
    told: dict[DayKey, ToldDay], published: list[Route], by: User | None, now: datetime
) -> None:
    """For days published before: news for technicians, the phone for owners without a day."""
    if not told:
        return
    stops = list(Stop.objects.filter(route__in=published).select_related("route"))
    by_route = defaultdict(list)
    for stop in stops:
        by_route[stop.route_id].append(stop)
    for route in published:
        if before := told.get((route.technician_id, route.day)):
            route.news = news_of(before, by_route[route.pk])
    Route.objects.bulk_update(published, ["news"])
    for change in changes_since(told.values(), stops):
        if change.kind == "gone":
            _phone_about(change, now)
    Trail.objects.bulk_create(
        Trail(
            at=now,
            by=by,
            did=REPUBLISHED,
            about=f"technician:{day.technician}",
            before={"day": day.day.isoformat(), "published_at": day.published_at.isoformat()},
        )
        for day in told.values()
    )


def _phone_about(change: StopChange, now: datetime) -> None:
    """An owner who was told of a day, and to whom nobody comes any more, is phoned."""
    waits = Ticket.objects.open().filter(site=change.site)
    waits = waits.exclude(stops__route__day__gte=change.was.day)
    if not waits.exists():
        return
    site = Site.objects.get(pk=change.site)
    OfficeTask.objects.get_or_create(
        key=f"gone:{change.uuid}:{change.was.day:%Y-%m-%d}",
        defaults={
            "kind": OfficeTaskKind.PHONE_OWNER,
            "text": f"We do not come to {site} on {said_day(change.was.day)}, and there is no "
            "other day yet. Phone the owner.",
            "site": site,
            "opened_at": now,
        },
    )


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
