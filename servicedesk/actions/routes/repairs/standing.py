"""The rest of a week as it stands: what is done stays, everybody is where he is."""

import copy
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property

from servicedesk.actions.routes.drafts import orders_of
from servicedesk.actions.routes.hours import Hours, is_promised
from servicedesk.actions.routes.week import WeekOfRecords, read_week
from servicedesk.actions.routes.wishes import open_tickets, problem_as_it_stands, wish_keys
from servicedesk.kinds import Harm
from servicedesk.models import Route, Stop
from servicedesk.models import Visit as Stay
from servicedesk.planning.routing.insertion import Day, Orders
from servicedesk.planning.routing.problem import (
    Job,
    Lock,
    Place,
    StopWish,
    WeekProblem,
    Window,
)
from servicedesk.planning.routing.repair import DONE
from servicedesk.planning.routing.timetable import Visit


@dataclass
class Standing:
    """Routes that may be repaired, their stops, and the same as a problem with orders.

    `held` are the stops of a day that are done or begun; in the orders one visit stands for them.
    """

    week: WeekOfRecords
    is_published: bool
    stops: dict[int, list[Stop]]
    problem: WeekProblem
    orders: Orders
    held: dict[Day, list[Stop]]

    @cached_property
    def keys(self) -> dict[int, str]:
        """How the problem calls the wish of each stop."""
        return wish_keys(self.stops)

    def route(self, day: Day) -> Route | None:
        return next((r for r in self.week.routes if self.day_of(r) == day), None)

    def day_of(self, route: Route) -> Day:
        return str(route.technician_id), self.week.number(route.day)

    def unpromised(self, keys) -> dict[str, StopWish]:
        """Wishes with the hours of their sites alone, where an owner was promised a time."""
        promised = {
            self.keys[stop.pk]: stop.site
            for stops in self.stops.values()
            for stop in stops
            if any(is_promised(ticket, self.week) for ticket in open_tickets(stop).values())
        }
        hours = Hours(self.week, promised.values())
        wishes = self.problem.wish_by_key
        return {
            key: replace(wishes[key], windows=hours.windows(site, [], self.week.first_on))
            for key, site in promised.items()
            if key in keys and key in wishes
        }


def routes_to_repair(week: WeekOfRecords) -> tuple[list[Route], bool]:
    """The published days that are left; the drafts where none of the week is published."""
    left = [route for route in week.routes if route.day >= week.first_on]
    published = [route for route in left if route.published_at]
    return (published, True) if published else (left, False)


def read_standing(
    monday: date,
    *,
    today: date,
    now: datetime,
    free: frozenset[int] = frozenset(),
    late: dict[int, int] | None = None,
) -> Standing:
    """The rest of a week. Ten queries beside those of the week itself.

    free: stops that lose their place, begun or not.
    late: minutes by which technicians run behind today.
    """
    read = read_week(monday, today=today)
    routes, is_published = routes_to_repair(read)
    week = replace(read, routes=[_as_draft(route) for route in routes])
    problem, stops = problem_as_it_stands(week)
    taken = {(str(r.technician_id), week.number(r.day)) for r in read.drafts}
    taken = taken if is_published else set()
    shifts = tuple(
        shift
        for shift in problem.shifts
        if shift.day < 7 and (shift.technician, shift.day) not in taken
    )
    problem = replace(problem, shifts=shifts)
    standing = Standing(week, is_published, stops, problem, {}, {})
    standing.orders = orders_of(week, problem, stops)
    _hold_what_is_done(standing, now, free, late or {})
    standing.problem = replace(
        standing.problem,
        wishes=tuple(from_now(week, wish, now) for wish in standing.problem.wishes),
    )
    _read_anew(standing)
    return standing


def _as_draft(route: Route) -> Route:
    draft = copy.copy(route)
    draft.published_at = None
    return draft


def from_now(week: WeekOfRecords, wish: StopWish, now: datetime) -> StopWish:
    """Nothing new begins in the past."""
    if wish.key.startswith(DONE):
        return wish
    today = week.number(week.first_on)
    minute = week.minute(now, today)
    windows = [
        replace(window, opens_min=max(window.opens_min, minute)) if window.day == today else window
        for window in wish.windows
    ]
    return replace(wish, windows=tuple(w for w in windows if w.opens_min < w.closes_min))


def _read_anew(standing: Standing) -> None:
    """Orders that speak of the wishes as they are now."""
    wishes = standing.problem.wish_by_key
    for visits in standing.orders.values():
        visits[:] = [replace(visit, wish=wishes[visit.wish.key]) for visit in visits]


def _hold_what_is_done(standing: Standing, now: datetime, free: frozenset[int], late: dict) -> None:
    week, problem = standing.week, standing.problem
    visited = set(
        Stay.objects.filter(stop__route__in=[r.pk for r in week.routes]).values_list(
            "stop", flat=True
        )
    )
    places, wishes, shifts = list(problem.places), list(problem.wishes), list(problem.shifts)
    for route in week.routes:
        if route.day != week.first_on:
            continue
        day = standing.day_of(route)
        more = late.get(route.technician_id, 0)
        held, where = _held(standing.stops[route.pk], route, now, free, visited)
        if where is None:
            shifts = [_later(week, route, s, more) if _is(s, day) else s for s in shifts]
            continue
        standing.held[day] = held
        until = where.leave_at if where in held else now
        wish = _held_wish(week, day, where, until + timedelta(minutes=more), places)
        wishes.append(wish)
        gone = {standing.keys[stop.pk] for stop in held}
        rest = [v for v in standing.orders.get(day, []) if v.wish.key not in gone]
        standing.orders[day] = [Visit(wish, wish.jobs, wish.locks[0].start_min), *rest]
    standing.problem = replace(
        problem, places=tuple(places), wishes=tuple(wishes), shifts=tuple(shifts)
    )


def _is(shift, day: Day) -> bool:
    return (shift.technician, shift.day) == day


def _later(week: WeekOfRecords, route: Route, shift, more: int):
    """Who has not left yet leaves later."""
    if not more or route.starts_at is None:
        return shift
    return replace(shift, from_min=week.minute(route.starts_at, shift.day) + more)


def _held(stops, route: Route, now: datetime, free: frozenset[int], visited: set[int]):
    """The stops that are done or begun, and where the technician is or is driving to."""
    kept, where = [], None
    for number, stop in enumerate(stops):
        done = stop.pk in visited or stop.leave_at <= now or not open_tickets(stop)
        left_for_it = route.starts_at is not None and route.starts_at <= now
        if number:
            left_for_it = left_for_it and stops[number - 1].leave_at <= now
        if not (done or left_for_it):
            continue
        if stop.pk not in free or stop.pk in visited:
            kept, where = stops[: number + 1], stop
        elif stop.arrive_at <= now:
            where = stop
    return [s for s in kept if s.pk in visited or s.pk not in free], where


def _held_wish(
    week: WeekOfRecords, day: Day, stop: Stop, until: datetime, places: list[Place]
) -> StopWish:
    """One visit for all that is done: it ends where and when its last stop does."""
    place = Place(stop.site.lat, stop.site.lon)
    if place not in places:
        places.append(place)
    start = week.minute(stop.arrive_at, day[1])
    minutes = max(0, week.minute(until, day[1]) - start)
    job = Job(f"{DONE}{stop.pk}", minutes, Harm.ASSET)
    return StopWish(
        f"{DONE}{stop.pk}",
        places.index(place),
        (job,),
        (Window(day[1]),),
        0,
        locks=(Lock(day[0], day[1], start),),
        name=stop.site.name,
    )
