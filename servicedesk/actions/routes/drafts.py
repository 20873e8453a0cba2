"""Planned routes become rows, and rows become routes that can be judged."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from customers.models import Site
from servicedesk.actions.routes.hours import Hours
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.actions.routes.wishes import open_tickets, wish_keys
from servicedesk.models import PlanRun, Route, Stop, StopTicket, Ticket
from servicedesk.planning.calendar import said_day
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.insertion import Orders
from servicedesk.planning.routing.problem import (
    Job,
    PlannedRoute,
    Shift,
    StopWish,
    WeekPlan,
    WeekProblem,
)
from servicedesk.planning.routing.timetable import Visit, latest_leaving, visits_of
from servicedesk.planning.routing.whys import Meets, meets, why_there

DueIds = list[int]


def orders_of(week: WeekOfRecords, problem: WeekProblem, stops: dict[int, list[Stop]]) -> Orders:
    """Draft routes as stops in order, by technician and day of the week."""
    orders: Orders = {}
    keys = wish_keys(stops)
    for route in week.drafts:
        day = (str(route.technician_id), week.number(route.day))
        visits = [
            _visit(problem.wish_by_key[keys[stop.pk]], stop, day)
            for stop in stops[route.pk]
            if open_tickets(stop)
        ]
        orders[day] = visits
    return orders


def _visit(wish: StopWish, stop: Stop, day: tuple[str, int]) -> Visit:
    keys = {f"ticket:{pk}" for pk in open_tickets(stop)}
    keys |= {f"due:{item.pk}" for item in stop.due_items.all()}
    held = {(lock.technician, lock.day): lock.start_min for lock in wish.held}
    return Visit(wish, tuple(job for job in wish.jobs if job.key in keys), held.get(day))


def timed(problem: WeekProblem, orders: Orders) -> list[PlannedRoute]:
    """Days with times. A day without a shift is timed all the same; the checker will say so."""
    routes = []
    for (technician, number), visits in sorted(orders.items(), key=lambda day: day[0][::-1]):
        if visits:
            shift = problem.shift_by_day.get((technician, number))
            shift = shift or _no_shift(problem, technician, number, visits)
            routes.append(latest_leaving(problem, shift, visits))
    return routes


def _no_shift(problem: WeekProblem, technician: str, number: int, visits: list[Visit]) -> Shift:
    home = next((s.home for s in problem.shifts), visits[0].wish.place)
    return Shift(technician, number, 8 * 60, 16 * 60, home, frozenset())


def faults_of(problem: WeekProblem, routes: list[PlannedRoute]) -> list[str]:
    """What the checker says of some days, with only the stops that stand on them."""
    there = {stop.wish: set() for route in routes for stop in route.stops}
    for route in routes:
        for stop in route.stops:
            there[stop.wish] |= set(stop.jobs)
    wishes = tuple(
        replace(wish, jobs=tuple(job for job in wish.jobs if job.key in there[wish.key]))
        for wish in problem.wishes
        if wish.key in there
    )
    return checker.faults(replace(problem, wishes=wishes), WeekPlan(tuple(routes), ()))


def held_back(week: WeekOfRecords, routes: list[PlannedRoute]) -> list[str]:
    """What keeps people from stops of some days, a sentence each: a hold, or no way for a van."""
    days = defaultdict(set)
    for route in routes:
        for stop in route.stops:
            days[int(stop.wish.split(":")[1]), route.day] |= set(stop.jobs)
    slugs = _slugs_of(set().union(*days.values()))
    sites = {site.pk: site for site in Site.objects.filter(pk__in={pk for pk, _day in days})}
    hours = Hours(week, sites.values())
    found = []
    for pk, number in sorted(days, key=lambda one: one[::-1]):
        here = {slugs[job] for job in days[pk, number] if job in slugs}
        if why := hours.why_held(sites[pk], week.day(number), here):
            found.append(f"{sites[pk]}, {said_day(week.day(number))}: {why}. Choose another day.")
    return found


def _slugs_of(jobs: set[str]) -> dict[str, str]:
    """The task of each job that is a ticket."""
    keys = {int(job.split(":")[1]) for job in jobs if job.startswith("ticket:")}
    rows = Ticket.objects.filter(pk__in=keys).values_list("pk", "task__slug")
    return {f"ticket:{pk}": slug for pk, slug in rows}


def save_routes(
    week: WeekOfRecords,
    problem: WeekProblem,
    routes: Iterable[PlannedRoute],
    *,
    days: Iterable[tuple[str, int]],
    run: PlanRun | None = None,
) -> None:
    """Write days as draft routes; each of `days` that has no route any more is emptied.

    A stop keeps its name and its marks (by hand, locked) as long as its site stays on the day.
    """
    planned = {(route.technician, route.day): route for route in routes}
    touched = {*planned, *days}
    old = {(str(r.technician_id), week.number(r.day)): r for r in week.drafts}
    kept = _marks([old[day].pk for day in touched if day in old])
    Route.objects.filter(pk__in=[old[day].pk for day in touched if day in old]).delete()
    rows = Route.objects.bulk_create(
        _route(week, problem, planned[day], run or (old[day].plan_run if day in old else None))
        for day in sorted(planned, key=lambda day: day[::-1])
    )
    stops, tickets, due = [], [], []
    for row in rows:
        route = planned[str(row.technician_id), week.number(row.day)]
        for number, stop in enumerate(route.stops, start=1):
            meeting = meets(problem, list(planned.values()), route, stop)
            made = _stop(week, problem, row, route, number, meeting)
            for name, value in kept.get((row.technician_id, row.day, made.site_id), {}).items():
                setattr(made, name, value)
            stops.append(made)
            tickets += [StopTicket(stop=made, ticket_id=pk) for pk in pks(stop.jobs, "ticket")]
            due += [
                Stop.due_items.through(stop=made, dueitem_id=pk) for pk in pks(stop.jobs, "due")
            ]
    Stop.objects.bulk_create(stops)
    StopTicket.objects.bulk_create(tickets)
    Stop.due_items.through.objects.bulk_create(due)


def whole_meetings(problem: WeekProblem, routes: Iterable[PlannedRoute]) -> list[PlannedRoute]:
    """Routes without the work whose people are not all on them: one whose day was published
    meanwhile meets nobody. The days that lose something are timed anew."""
    routes = list(routes)
    there = Counter(
        (route.day, stop.wish, key) for route in routes for stop in route.stops for key in stop.jobs
    )
    return [_whole(problem, route, there) for route in routes]


def _whole(problem: WeekProblem, route: PlannedRoute, there: Counter) -> PlannedRoute:
    visits = visits_of(problem, route)
    kept = []
    for visit in visits:
        jobs = tuple(
            job for job in visit.jobs if there[route.day, visit.wish.key, job.key] >= job.people
        )
        if jobs:
            kept.append(replace(visit, jobs=jobs))
    if [visit.jobs for visit in kept] == [visit.jobs for visit in visits]:
        return route
    shift = problem.shift_by_day[route.technician, route.day]
    return latest_leaving(problem, shift, kept)


def site_of(key: str) -> int | None:
    """Number of the site of a wish, such as "site:12" or a part of its work, "site:12:1"."""
    word, _, rest = key.partition(":")
    return int(rest.split(":")[0]) if word == "site" else None


def pks(keys: Iterable[str], kind: str) -> DueIds:
    """Numbers of the rows of one kind that job keys name, such as "ticket:12"."""
    split = (key.split(":") for key in keys)
    return [int(number) for word, number in split if word == kind]


def _marks(route_pks: list[int]) -> dict[tuple[int, date, int], dict]:
    stops = Stop.objects.filter(route__in=route_pks).select_related("route")
    return {
        (stop.route.technician_id, stop.route.day, stop.site_id): {
            "uuid": stop.uuid,
            "by_hand": stop.by_hand,
            "locked": stop.locked,
        }
        for stop in stops
    }


def _route(
    week: WeekOfRecords, problem: WeekProblem, route: PlannedRoute, run: PlanRun | None
) -> Route:
    return Route(
        technician_id=int(route.technician),
        day=week.day(route.day),
        plan_run=run,
        starts_at=week.instant(route.day, route.leaves_min),
        ends_at=week.instant(route.day, route.back_min),
        drive_min=route.drive_min,
        drive_km=route.drive_hm / 10,
        work_min=sum(stop.ends_min - stop.starts_min for stop in route.stops),
    )


def _stop(
    week: WeekOfRecords,
    problem: WeekProblem,
    row: Route,
    route: PlannedRoute,
    number: int,
    meeting: Meets | None,
) -> Stop:
    stop = route.stops[number - 1]
    wish = problem.wish_by_key[stop.wish]
    if number > 1:
        before = problem.wish_by_key[route.stops[number - 2].wish].place
    else:
        shift = problem.shift_by_day.get((route.technician, route.day))
        before = shift.home if shift else wish.place
    return Stop(
        route=row,
        site_id=int(stop.wish.split(":")[1]),
        number=number,
        arrive_at=week.instant(route.day, stop.starts_min),
        leave_at=week.instant(route.day, stop.ends_min),
        drive_min=int(problem.travel.minutes[before, wish.place]),
        drive_km=int(problem.travel.hectometres[before, wish.place]) / 10,
        because=why_there(wish, _jobs(wish, stop.jobs), route.day, meeting),
    )


def _jobs(wish: StopWish, keys: tuple[str, ...]) -> tuple[Job, ...]:
    return tuple(job for job in wish.jobs if job.key in keys)
