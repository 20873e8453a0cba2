"""Days as plain data: kept with a repair, compared, and written back."""

import hashlib
import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID

from servicedesk.models import DueItem, Route, Stop, StopTicket, Visit

DayRow = dict[str, Any]
STOP_FIELDS = ("number", "drive_min", "drive_km", "locked", "by_hand", "because")
ROUTE_FIELDS = ("drive_min", "drive_km", "work_min", "published_by_id", "plan_run_id")


def day_rows(routes: Iterable[Route]) -> list[DayRow]:
    """Days with their stops. Three queries."""
    routes = list(routes)
    by_route: dict[int, list[Stop]] = {route.pk: [] for route in routes}
    found = Stop.objects.filter(route__in=by_route).prefetch_related("stop_tickets", "due_items")
    for stop in found.order_by("number", "pk"):
        by_route[stop.route_id].append(stop)
    return [_day(route, by_route[route.pk]) for route in routes]


def _day(route: Route, stops: list[Stop]) -> DayRow:
    return {
        "technician": route.technician_id,
        "day": route.day.isoformat(),
        "published_at": _iso(route.published_at),
        "starts_at": _iso(route.starts_at),
        "ends_at": _iso(route.ends_at),
        **{name: getattr(route, name) for name in ROUTE_FIELDS},
        "stops": [_stop(stop) for stop in stops],
    }


def _stop(stop: Stop) -> dict[str, Any]:
    return {
        "uuid": str(stop.uuid),
        "site": stop.site_id,
        "arrive_at": _iso(stop.arrive_at),
        "leave_at": _iso(stop.leave_at),
        **{name: getattr(stop, name) for name in STOP_FIELDS},
        "tickets": sorted(row.ticket_id for row in stop.stop_tickets.all()),
        "due": sorted(item.pk for item in stop.due_items.all()),
    }


def _iso(at: datetime | None) -> str | None:
    return at.isoformat() if at else None


def at(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def fingerprint(days: list[DayRow]) -> str:
    """Tells whether days are still the same, and no work was done on them meanwhile."""
    uuids = [stop["uuid"] for day in days for stop in day["stops"]]
    visits = Visit.objects.filter(stop__uuid__in=uuids).order_by("pk")
    said = json.dumps([days, list(visits.values_list("pk", flat=True))], sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()


def write_days(days: list[DayRow]) -> None:
    """Make the rows say what these days say; a stop keeps its name wherever it goes."""
    wanted = {stop["uuid"] for day in days for stop in day["stops"]}
    for day in days:  # first make room: a site stands once on a day
        here = Route.objects.filter(technician=day["technician"], day=day["day"])
        Stop.objects.filter(route__in=here).exclude(uuid__in=wanted).delete()
    routes = {_key(day): _write_route(day) for day in days if day["stops"]}
    stops = {str(stop.uuid): stop for stop in Stop.objects.filter(uuid__in=wanted)}
    for day in days:
        for row in day["stops"]:
            _write_stop(routes[_key(day)], row, stops.get(row["uuid"]))
    for day in days:
        if not day["stops"]:
            Route.objects.filter(technician=day["technician"], day=day["day"]).delete()


def _key(day: DayRow) -> tuple[int, str]:
    return day["technician"], day["day"]


def _write_route(day: DayRow) -> Route:
    fields = {name: day[name] for name in ROUTE_FIELDS}
    fields |= {name: at(day[name]) for name in ("published_at", "starts_at", "ends_at")}
    route, _ = Route.objects.update_or_create(
        technician_id=day["technician"], day=date.fromisoformat(day["day"]), defaults=fields
    )
    return route


def _write_stop(route: Route, row: dict[str, Any], stop: Stop | None) -> None:
    stop = stop or Stop(uuid=UUID(row["uuid"]), site_id=row["site"])
    stop.route = route
    stop.arrive_at, stop.leave_at = at(row["arrive_at"]), at(row["leave_at"])
    for name in STOP_FIELDS:
        setattr(stop, name, row[name])
    stop.save()
    there = set(StopTicket.objects.filter(stop=stop).values_list("ticket_id", flat=True))
    StopTicket.objects.filter(stop=stop, ticket__in=there - set(row["tickets"])).delete()
    StopTicket.objects.bulk_create(
        StopTicket(stop=stop, ticket_id=pk) for pk in sorted(set(row["tickets"]) - there)
    )
    stop.due_items.set(DueItem.objects.filter(pk__in=row["due"]))  # some may be done since
