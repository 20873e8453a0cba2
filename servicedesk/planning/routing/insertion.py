"""Putting one stop into the days of a week."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from servicedesk.kinds import HARM_ORDER
from servicedesk.planning.routing.horizon import bundles, week_of
from servicedesk.planning.routing.problem import (
    Job,
    Lock,
    Shift,
    StopWish,
    WeekProblem,
    jobs_at,
)
from servicedesk.planning.routing.sorting import (
    detour_worth_hm,
    is_good_day,
    longest_min,
    prize_cents,
)
from servicedesk.planning.routing.timetable import (
    Visit,
    broken,
    latest_leaving,
    timed_route,
    working_min,
)

Day = tuple[str, int]  # technician and day of the week
Orders = dict[Day, list[Visit]]


def put_in(problem: WeekProblem, orders: Orders, wish: StopWish, lock: Lock | None) -> bool:
    """Put a stop where it costs the least driving, on a day inside its tolerance if one is free.

    problem: the week.
    orders: its days; the stop is added to one of them.
    wish: the stop; work that could wait is left off it if only that makes it fit.
    lock: where it was placed by hand, or None.
    Returns False if it fits nowhere.
    Source: cheapest insertion, a textbook method.
    """
    for jobs in _ways(problem, wish, lock):
        visit = Visit(wish, jobs, lock.start_min if lock else None)
        for _, day, position in _places(problem, orders, visit, lock):
            trial = [*orders.get(day, [])]
            trial.insert(position, visit)
            if fits(problem, problem.shift_by_day[day], trial):
                orders[day] = trial
                return True
    return False


def _ways(problem: WeekProblem, wish: StopWish, lock: Lock | None) -> list[tuple[Job, ...]]:
    """What may be done together, most first; over a horizon each week has its own."""
    whole, lean = jobs_at(wish, lock), lean_jobs(wish, lock)
    if lock:
        return list(dict.fromkeys([whole, lean]))
    by_week = [jobs for week in range(problem.weeks) for _, jobs in bundles(wish, week)]
    ways = [jobs for jobs in [whole, *by_week] if set(lean) <= set(jobs)]
    return list(dict.fromkeys([*ways, lean]))


def put_in_part(problem: WeekProblem, orders: Orders, wish: StopWish) -> tuple[Job, ...]:
    """Do at least a part of the work of a stop that does not fit whole.

    problem: the week.
    orders: its days; the part is added to one of them.
    wish: the stop.
    Returns the jobs that found a place: the most valuable part that does, or none.
    Source: our own rule.
    """
    due = lean_jobs(wish, None)
    parts = {tuple(j for j in due if j.skill in shift.skills) for shift in problem.shifts}
    parts |= {(job,) for job in due}
    smaller = [jobs for jobs in parts if jobs and len(jobs) < len(due)]
    for jobs in sorted(smaller, key=lambda jobs: (-prize_cents(wish, jobs), [j.key for j in jobs])):
        if put_in(problem, orders, replace(wish, jobs=jobs), None):
            return jobs
    return ()


def tier(wish: StopWish) -> int:
    """How grave the worst work of a stop is.

    wish: the stop.
    Returns 0 for safety, then up; work that can wait last; -1 for a stop placed by hand, which
    nothing displaces.
    Source: our own rule.
    """
    if wish.locks:
        return -1
    due = [HARM_ORDER[job.harm] for job in wish.jobs if not job.can_wait]
    return min(due, default=len(HARM_ORDER))


def lean_jobs(wish: StopWish, lock: Lock | None) -> tuple[Job, ...]:
    """The work of a stop without what can wait, unless all of it can.

    wish: the stop.
    lock: where it was placed by hand, or None.
    Returns its jobs that are due.
    Source: our own rule.
    """
    jobs = jobs_at(wish, lock)
    due = tuple(job for job in jobs if not job.can_wait)
    return due or tuple(job for job in jobs if not job.pulled_forward)


def fits(problem: WeekProblem, shift: Shift, visits: list[Visit]) -> bool:
    """Whether a day can be worked in this order and keeps room for surprises.

    problem: the week.
    shift: whose day.
    visits: its stops in order.
    Returns False if a window or the shift breaks, or the day is over-full; a day with a stop
    placed by hand may use the room.
    Source: our own rule.
    """
    route = timed_route(problem, shift, visits)
    if broken(shift, visits, route):
        return False
    if any(visit.wish.locks for visit in visits):
        return True
    longest = longest_min(problem, shift.from_min, shift.until_min)
    lunch = problem.lunch.minutes
    return working_min(route, lunch) <= longest or (
        working_min(latest_leaving(problem, shift, visits), lunch) <= longest
    )


def best_order(
    problem: WeekProblem, shift: Shift, visits: list[Visit], visit: Visit
) -> list[Visit] | None:
    """A day with one more stop, where that costs the least driving.

    problem: the week.
    shift: whose day.
    visits: its stops in order.
    visit: the stop to put in.
    Returns the stops in their new order; None if the stop fits nowhere among them.
    Source: cheapest insertion, a textbook method.
    """
    places = sorted(_roomy(problem, shift, visits, visit), key=lambda place: place[1])
    for position, _ in places:
        trial = [*visits]
        trial.insert(position, visit)
        if fits(problem, shift, trial):
            return trial
    return None


def _places(
    problem: WeekProblem, orders: Orders, visit: Visit, lock: Lock | None
) -> list[tuple[tuple[bool, int, int], Day, int]]:
    """Every place that the visit may have, best first; what can wait is no reason to go far."""
    places = []
    can_wait = not lock and all(job.can_wait for job in visit.jobs)
    farthest = detour_worth_hm(visit.jobs) if can_wait else math.inf
    for shift in problem.shifts:
        if not may(shift, visit, lock):
            continue
        day = (shift.technician, shift.day)
        late = not is_good_day(visit.wish, shift.day)
        for position, detour in _roomy(problem, shift, orders.get(day, []), visit):
            if detour <= farthest:
                places.append(((late, week_of(shift.day), detour), day, position))
    return sorted(places, key=lambda place: (place[0], place[1][1], place[1][0], place[2]))


def may(shift: Shift, visit: Visit, lock: Lock | None) -> bool:
    """Whether somebody may make a stop on a day, its hours aside.

    shift: whose day.
    visit: the stop.
    lock: where it was placed by hand, or None.
    Returns False if the site or the work is not open then, or a skill is lacking.
    Source: our own rule.
    """
    if lock:
        return (shift.technician, shift.day) == (lock.technician, lock.day)
    open_then = any(window.day == shift.day for window in visit.wish.windows)
    open_then = open_then and all(job.first_day <= shift.day for job in visit.jobs)
    return open_then and {job.skill for job in visit.jobs} <= shift.skills


def _roomy(
    problem: WeekProblem, shift: Shift, visits: list[Visit], visit: Visit
) -> Iterator[tuple[int, int]]:
    """Positions in a day, with the detour in hundreds of metres, where the hours might suffice."""
    stops = [shift.home, *(other.wish.place for other in visits), shift.home]
    minutes, road = problem.travel.minutes, problem.travel.hectometres
    spare = _spare_min(problem, shift, [*visits, visit], stops)
    here = visit.wish.place
    for position, (before, after) in enumerate(pairwise(stops)):
        longer = int(minutes[before, here] + minutes[here, after] - minutes[before, after])
        if longer <= spare:
            detour = int(road[before, here] + road[here, after] - road[before, after])
            yield position, detour


def _spare_min(problem: WeekProblem, shift: Shift, visits: list[Visit], stops: list[int]) -> int:
    """Time that a day has left, with its new stop last of the visits and if nobody ever waits.

    A day with a stop placed by hand has all of it, the room for surprises and overtime too.
    """
    busy = sum(other.minutes for other in visits)
    busy += sum(int(problem.travel.minutes[a, b]) for a, b in pairwise(stops))
    if any(other.wish.locks for other in visits):
        return shift.until_min + shift.overtime_min - shift.from_min - busy
    return longest_min(problem, shift.from_min, shift.until_min) - busy
