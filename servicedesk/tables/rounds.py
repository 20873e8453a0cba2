"""Published days for other programs: calendar entries, and one day's round on the map.

Nothing of a way in, of a gate code or of a person's address is in them.
"""

from collections import defaultdict
from datetime import date, datetime

from customers.models import Firm, Site, Trail
from servicedesk.actions.routes.repairs.accept import REPAIRED
from servicedesk.actions.routes.told import REOPENED
from servicedesk.models import Route, Stop, StopTicket, Technician
from servicedesk.planning.feeds import Entry, Times, sequence_of
from servicedesk.planning.tracks import Halt, Round


def round_of(firm: Firm, route: Route) -> Round:
    """The round of a day. Two queries."""
    person = route.technician
    spot = (person.start_lat, person.start_lon)
    at_home = None not in spot
    latitude, longitude = spot if at_home else (firm.shop_lat or 0.0, firm.shop_lon or 0.0)
    start = Halt("Start" if at_home else firm.shop_name or "Shop", latitude, longitude)
    stops = Stop.objects.filter(route=route).select_related("site").order_by("number")
    work = _work(stops)
    halts = tuple(
        Halt(
            stop.site.name,
            stop.site.lat,
            stop.site.lon,
            work[stop.pk],
            stop.arrive_at,
            stop.leave_at,
            stop.number,
        )
        for stop in stops
    )
    name = f"{person}, {route.day:%Y-%m-%d}"
    return Round(name, start, halts, route.drive_km, route.drive_min)


def _work(stops) -> dict[int, str]:
    tasks = defaultdict(list)
    rows = StopTicket.objects.filter(stop__in=stops).select_related("ticket__task")
    for row in rows.order_by("pk"):
        tasks[row.stop_id].append(str(row.ticket.task))
    return defaultdict(str, {pk: ", ".join(dict.fromkeys(names)) for pk, names in tasks.items()})


def calendar_entries(technician: Technician, domain: str, *, from_on: date) -> list[Entry]:
    """Published stops from a day on, and those that were told once and are called off.

    Four queries, whatever the size.
    """
    stops = (
        Stop.objects.filter(
            route__technician=technician, route__published_at__isnull=False, route__day__gte=from_on
        )
        .select_related("site", "route")
        .order_by("arrive_at")
    )
    work = _work(stops)
    now = {
        str(stop.uuid): (stop.arrive_at.isoformat(), stop.leave_at.isoformat()) for stop in stops
    }
    told, changed_at = _told_before(technician, from_on)
    entries = [
        Entry(
            uid=f"stop-{stop.uuid}@{domain}",
            begins_at=stop.arrive_at,
            ends_at=stop.leave_at,
            written_at=max(
                stop.route.published_at, changed_at.get(str(stop.uuid), stop.route.published_at)
            ),
            summary=f"{stop.site.name}: {work[stop.pk]}" if work[stop.pk] else stop.site.name,
            words=work[stop.pk],
            place=stop.site.name,
            latitude=stop.site.lat,
            longitude=stop.site.lon,
            sequence=sequence_of([*told.get(str(stop.uuid), []), now[str(stop.uuid)]]),
        )
        for stop in stops
    ]
    return entries + _called_off(technician, told, changed_at, now, domain, from_on)


def _trail(technician: Technician, from_on: date) -> list[Trail]:
    rows = Trail.objects.filter(about=f"technician:{technician.pk}", did__in=[REOPENED, REPAIRED])
    return [
        row
        for row in rows.order_by("at", "pk")
        if row.before.get("stops") is not None and row.before["day"] >= from_on.isoformat()
    ]


def _told_before(
    technician: Technician, from_on: date
) -> tuple[dict[str, list[Times]], dict[str, datetime]]:
    """The times of each stop before each change of its days, and when the last change was."""
    rows = _trail(technician, from_on)
    days = defaultdict(set)
    for row in rows:
        for stop in row.before["stops"]:
            days[stop["uuid"]].add(row.before["day"])
    told, changed_at = defaultdict(list), {}
    for row in rows:
        there = {s["uuid"]: (s["arrive_at"], s["leave_at"]) for s in row.before["stops"]}
        for uuid, of_days in days.items():
            if row.before["day"] in of_days and (uuid in there or told[uuid]):
                told[uuid].append(there.get(uuid))
                changed_at[uuid] = row.at
    return told, changed_at


def _called_off(technician, told, changed_at, now, domain, from_on) -> list[Entry]:
    gone = {uuid for uuid, versions in told.items() if uuid not in now and any(versions)}
    if not gone:
        return []
    sites = {
        stop["uuid"]: stop["site"]
        for row in _trail(technician, from_on)
        for stop in row.before["stops"]
    }
    names = dict(Site.objects.filter(pk__in=sites.values()).values_list("pk", "name"))
    entries = []
    for uuid in sorted(gone):
        begins, ends = next(times for times in reversed(told[uuid]) if times)
        entries.append(
            Entry(
                uid=f"stop-{uuid}@{domain}",
                begins_at=datetime.fromisoformat(begins),
                ends_at=datetime.fromisoformat(ends),
                written_at=changed_at[uuid],
                summary=names.get(sites[uuid], ""),
                sequence=sequence_of([*told[uuid], None]),
                is_cancelled=True,
            )
        )
    return entries
