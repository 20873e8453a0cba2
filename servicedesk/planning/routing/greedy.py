"""Plain insertion: the yardstick of the solver, its stand-in, and its finishing touch."""

from servicedesk.planning.routing.insertion import Orders, make_room, put_in, put_in_part
from servicedesk.planning.routing.problem import (
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
    full_sentence,
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
    left_out = [*wanted.left_out, *_held_in_vain(problem, wanted, orders)]
    placed = {visit.wish.key for visits in orders.values() for visit in visits}
    homeless = [w for w in wanted.wishes if not w.locks and w.key not in placed]
    for wish in make_room(problem, orders, homeless):
        part = put_in_part(problem, orders, wish)
        full = _REST if part else _FULL
        left_out += [
            LeftOut(wish.key, job.key, *(LATER if job.can_wait else full))
            for job in wish.jobs
            if job not in part
        ]
    left_out += _left_behind(orders)
    routes = [
        latest_leaving(problem, problem.shift_by_day[day], visits)
        for day, visits in sorted(orders.items(), key=lambda item: (item[0][1], item[0][0]))
        if visits
    ]
    left_out.sort(key=lambda out: (out.wish, out.job))
    return WeekPlan(tuple(routes), tuple(left_out), seed, iterations, capped, cancelled)


_FULL = (LeftOutReason.FULL, full_sentence())
_REST = (
    LeftOutReason.FULL,
    "Did not fit with the other work of the site, which is planned. Place it by hand, or leave it "
    "for the next week.",
)


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


def _left_behind(orders: Orders) -> list[LeftOut]:
    """Work that would have been done early at a planned stop, but did not fit."""
    visits = [visit for order in orders.values() for visit in order]
    done = {(visit.wish.key, job.key) for visit in visits for job in visit.jobs}
    there = {visit.wish.key: visit.wish for visit in visits}
    return [
        LeftOut(wish.key, job.key, *LATER)
        for wish in there.values()
        for job in wish.jobs
        if (wish.key, job.key) not in done
    ]
