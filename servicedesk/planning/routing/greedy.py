"""Plain insertion: the yardstick of the solver, its stand-in, and its finishing touch."""

from collections.abc import Iterator

from servicedesk.planning.routing import reasons
from servicedesk.planning.routing.insertion import Orders, make_room, put_in, put_in_part
from servicedesk.planning.routing.nearest import gaps_of
from servicedesk.planning.routing.problem import (
    WEEK,
    LeftOut,
    LeftOutReason,
    Lock,
    Shift,
    StopWish,
    WeekPlan,
    WeekProblem,
    jobs_at,
)
from servicedesk.planning.routing.sorting import (
    LATER,
    Sorted,
    prize_cents,
    sort_out,
)
from servicedesk.planning.routing.timetable import Visit, broken, latest_leaving, timed_route


def plan_week_greedily(problem: WeekProblem) -> WeekPlan:
    """Routes by putting each stop, dearest first, where it costs the least driving.

    problem: the week.
    Returns WeekPlan; every job is on one route or in left_out, with the reason.
    Source: cheapest insertion, a textbook method.
    """
    return complete_plan(problem, sort_out(problem), {})


def complete_plan(
    problem: WeekProblem,
    wanted: Sorted,
    orders: Orders,
    *,
    seed: int = 0,
    iterations: int = 0,
    capped: bool = False,
    cancelled: bool = False,
) -> WeekPlan:
    """Give a plan its times, put in what still fits, and name the rest.

    problem: the week.
    wanted: what of it may be planned.
    orders: stops in order by (technician, day), from a search; none for a plan from nothing.
    seed, iterations, capped, cancelled: of the search, noted in the plan.
    Returns WeekPlan. Work said not to fit was tried in every place of every day, also in that of
    milder work.
    Source: our own rule.
    """
    orders = {day: list(visits) for day, visits in orders.items()}
    for day, visits in orders.items():
        _drop_what_breaks(problem, problem.shift_by_day[day], visits)
    left = {(out.wish, out.job): out for out in wanted.left_out}
    left |= {(out.wish, out.job): out for out in _held_in_vain(problem, wanted, orders)}
    for wish in make_room(problem, orders, _homeless(problem, wanted, orders)):
        part = put_in_part(problem, orders, wish)
        for job in wish.jobs:
            if job not in part:
                because = reasons.rest(job) if part else reasons.full(job)
                left[wish.key, job.key] = LeftOut(wish.key, job.key, *because)
    for out in _elsewhere(problem, wanted, orders):
        left.setdefault((out.wish, out.job), out)
    routes = [
        latest_leaving(problem, problem.shift_by_day[day], visits)
        for day, visits in sorted(orders.items(), key=lambda item: (item[0][1], item[0][0]))
        if visits
    ]
    return WeekPlan(
        tuple(route for route in routes if route.day < WEEK),
        tuple(left[key] for key in sorted(left)),
        seed,
        iterations,
        capped,
        cancelled,
        tuple(route for route in routes if route.day >= WEEK),
    )


def _homeless(problem: WeekProblem, wanted: Sorted, orders: Orders) -> list[StopWish]:
    """Stops without a place that shall have one; over a horizon what may wait is left to wait."""
    placed = {visit.wish.key for visits in orders.values() for visit in visits}
    return [
        wish
        for wish in wanted.wishes
        if not wish.locks
        and wish.key not in placed
        and (problem.weeks == 1 or any(not job.can_wait for job in wish.jobs))
    ]


def _elsewhere(problem: WeekProblem, wanted: Sorted, orders: Orders) -> Iterator[LeftOut]:
    """What is done in a later week, along with nothing, or not yet."""
    placed, gaps = {}, gaps_of(problem, orders)
    for (_, day), visits in orders.items():
        for visit in visits:
            if day >= WEEK:
                yield from reasons.placed_later(gaps, visit, day)
            placed.setdefault(visit.wish.key, set()).update(job.key for job in visit.jobs)
    for wish in wanted.wishes:
        if wish.key in placed:
            rest = [job for job in wish.jobs if job.key not in placed[wish.key]]
            yield from (LeftOut(wish.key, job.key, *LATER) for job in rest)
        else:
            yield from reasons.waiting(gaps, wish)


def _drop_what_breaks(problem: WeekProblem, shift: Shift, visits: list[Visit]) -> None:
    while visits and broken(shift, visits, timed_route(problem, shift, visits)):
        visits.remove(min(visits, key=lambda visit: prize_cents(visit.wish, visit.jobs)))


def _held_in_vain(problem: WeekProblem, wanted: Sorted, orders: Orders) -> list[LeftOut]:
    """Put in what was placed by hand; a stop that lost one of its people loses all of them."""
    left_out = []
    for wish in wanted.wishes:
        if wish.locks and not all(_is_held(problem, orders, wish, lock) for lock in wish.locks):
            for visits in orders.values():
                visits[:] = [visit for visit in visits if visit.wish.key != wish.key]
            names = " and ".join(problem.name_of(lock.technician) for lock in wish.locks)
            because = (
                f"Was placed by hand with {names} and no longer fits that day. Place it again."
            )
            left_out += [LeftOut(wish.key, j.key, LeftOutReason.FULL, because) for j in wish.jobs]
    return left_out


def _is_held(problem: WeekProblem, orders: Orders, wish: StopWish, lock: Lock) -> bool:
    there = orders.get((lock.technician, lock.day), [])
    return any(visit.wish.key == wish.key for visit in there) or (
        (lock.technician, lock.day) in problem.shift_by_day
        and bool(jobs_at(wish, lock))
        and put_in(problem, orders, wish, lock)
    )
