"""A day's stops in order become a day with times."""

from collections.abc import Sequence
from dataclasses import dataclass

from servicedesk.planning.routing.problem import (
    Job,
    Lock,
    PlannedRoute,
    PlannedStop,
    Shift,
    StopWish,
    WeekProblem,
    Window,
    crew_of,
    minutes_of,
    open_windows,
)


@dataclass(frozen=True)
class Visit:
    """A stop that has its place in the order but no time yet."""

    wish: StopWish
    jobs: tuple[Job, ...]
    start_min: int | None = None  # held there, by hand or where people meet

    @property
    def minutes(self) -> int:
        return minutes_of(self.wish, self.jobs)


def timed_route(
    problem: WeekProblem, shift: Shift, visits: Sequence[Visit], leaves_min: int | None = None
) -> PlannedRoute:
    """Times of a day, each stop as early as the drive and its windows allow.

    problem: gives the driving and the lunch break.
    shift: whose day, from where.
    visits: the stops in their order.
    leaves_min: minute of leaving home; the start of the shift if None.
    Returns the route. It may end after the shift or miss a window: `broken` says so.
    Source: our own rule. Lunch follows the stop or drive in which its time comes.
    """
    now = leaves = shift.from_min if leaves_min is None else leaves_min
    lunch = problem.lunch
    hungry = lunch.minutes > 0 and leaves < lunch.from_min
    lunch_from, here, stops = None, shift.home, []
    drive_min = drive_hm = 0
    for visit in visits:
        if hungry and now >= lunch.from_min:
            lunch_from, hungry, now = now, False, now + lunch.minutes
        there = visit.wish.place
        drive_min += int(problem.travel.minutes[here, there])
        drive_hm += int(problem.travel.hectometres[here, there])
        arrives = now = now + int(problem.travel.minutes[here, there])
        starts = max(now, _earliest_start(visit, shift.day, now))
        if hungry and starts >= lunch.from_min:
            lunch_from, hungry = max(lunch.from_min, now), False
            now = lunch_from + lunch.minutes
            starts = max(now, _earliest_start(visit, shift.day, now))
        now = starts + visit.minutes
        keys = tuple(job.key for job in visit.jobs)
        stops.append(PlannedStop(visit.wish.key, keys, arrives, starts, now))
        here = there
    if hungry and stops and now > lunch.from_min:
        lunch_from, now = now, now + lunch.minutes
    drive_min += int(problem.travel.minutes[here, shift.home])
    drive_hm += int(problem.travel.hectometres[here, shift.home])
    back = now + int(problem.travel.minutes[here, shift.home])
    return PlannedRoute(
        shift.technician, shift.day, leaves, back, lunch_from, drive_min, drive_hm, tuple(stops)
    )


def latest_leaving(problem: WeekProblem, shift: Shift, visits: Sequence[Visit]) -> PlannedRoute:
    """The same day without waiting at its beginning: leaves as late as it may and is back as early.

    problem, shift, visits: as for `timed_route`.
    Returns the route with the latest leaving that brings nobody home later and breaks nothing.
    Source: our own rule.
    """
    best = timed_route(problem, shift, visits)
    if not visits or broken(shift, visits, best):
        return best
    low, high = best.leaves_min, best.stops[0].starts_min
    while low < high:
        middle = (low + high + 1) // 2
        later = timed_route(problem, shift, visits, middle)
        if later.back_min <= best.back_min and not broken(shift, visits, later):
            low, best = middle, later
        else:
            high = middle - 1
    return best


def broken(shift: Shift, visits: Sequence[Visit], route: PlannedRoute) -> bool:
    """Whether a day with times keeps its windows and its shift.

    shift: whose day.
    visits: its stops, in the order of the route.
    route: the same day with times.
    Returns True if a stop lies outside every window of its site, its work is not open yet, the
    day outlasts the shift, the parts do not go into the van, or a clean pond follows an infested
    one; overtime is only for days on which somebody placed a stop by hand.
    Source: our own rule.
    """
    overtime = shift.overtime_min if any(visit.wish.locks for visit in visits) else 0
    if route.back_min > shift.until_min + overtime or not _may_follow(shift, visits):
        return True
    return not all(
        _inside(visit, stop, shift.day) for visit, stop in zip(visits, route.stops, strict=True)
    )


def _may_follow(shift: Shift, visits: Sequence[Visit]) -> bool:
    """Clean water before infested, parts on board, work open by then."""
    infested = [visit.wish.infested for visit in visits]
    jobs = [job for visit in visits for job in visit.jobs]
    units = sum(job.units for job in jobs)
    return (
        infested == sorted(infested)
        and (shift.van_units is None or units <= shift.van_units)
        and all(job.first_day <= shift.day for job in jobs)
    )


def working_min(route: PlannedRoute, lunch_min: int) -> int:
    """Paid time that a day takes.

    route: a day with times.
    lunch_min: length of the lunch break.
    Returns minutes from leaving to being back, without the break.
    Source: our own rule.
    """
    return route.back_min - route.leaves_min - (0 if route.lunch_from_min is None else lunch_min)


def visits_of(problem: WeekProblem, route: PlannedRoute) -> list[Visit]:
    """The stops of a route as an order without times.

    problem: the week it belongs to.
    route: a day with times.
    Returns one Visit for each stop; a held start stays held, and the one at
    which people meet.
    Source: our own rule.
    """
    visits = []
    for stop in route.stops:
        wish = problem.wish_by_key[stop.wish]
        jobs = tuple(job for job in wish.jobs if job.key in stop.jobs)
        held = _held_start(wish.held, route)
        if crew_of(jobs) > 1:
            held = stop.starts_min
        visits.append(Visit(wish, jobs, held))
    return visits


def _held_start(locks: tuple[Lock, ...], route: PlannedRoute) -> int | None:
    for lock in locks:
        if (lock.technician, lock.day) == (route.technician, route.day):
            return lock.start_min
    return None


def _latest_start(window: Window, minutes: int) -> int:
    latest = window.closes_min - minutes
    return latest if window.starts_by_min is None else min(latest, window.starts_by_min)


def _earliest_start(visit: Visit, day: int, ready_min: int) -> int:
    """In the first window still open; after the last one at once, or as held; `broken` says so."""
    for window in open_windows(visit.wish, day, visit.start_min, visit.jobs):
        start = max(ready_min, window.opens_min)
        if start <= _latest_start(window, visit.minutes):
            return start
    return max(ready_min, visit.start_min or 0)


def _inside(visit: Visit, stop: PlannedStop, day: int) -> bool:
    return any(
        window.opens_min <= stop.starts_min <= _latest_start(window, visit.minutes)
        for window in open_windows(visit.wish, day, visit.start_min, visit.jobs)
    )
