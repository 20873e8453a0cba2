"""Plain insertion: the yardstick of the solver, its stand-in, and its finishing touch."""

from collections.abc import Iterator
from dataclasses import replace

from servicedesk.planning.routing import reasons
from servicedesk.planning.routing.insertion import Orders, put_in, put_in_part, tier
from servicedesk.planning.routing.meetings import (
    best_meeting,
    free_meeting,
    is_worth_waiting_for,
    lone_part,
    take_off,
    wants,
)
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
from servicedesk.planning.routing.room import make_room
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
    _never_alone(orders)
    left = {(out.wish, out.job): out for out in wanted.left_out}
    left |= {(out.wish, out.job): out for out in _held_in_vain(problem, wanted, orders)}
    _meet_after_all(problem, wanted, orders)
    for out in _without_a_place(problem, orders, _homeless(problem, wanted, orders)):
        left[out.wish, out.job] = out
    for out in [*_not_met(problem, wanted, orders), *_elsewhere(problem, wanted, orders)]:
        left.setdefault((out.wish, out.job), out)
    left = _without_what_is_done(left, orders)
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


def laid_down(
    problem: WeekProblem, others: Sorted, orders: Orders, meet: list[StopWish]
) -> list[StopWish]:
    """Decide where people meet, the gravest work first, before the rest is searched.

    problem: the week.
    others: what one person does, or what was placed by hand.
    orders: days from a short search without the meetings; none for days that are empty.
    meet: the stops that want one.
    Returns each of them with its pins, or with what one person does there; none for those of
    which nothing is left.
    Source: our own rule: harm first, then kilometres.
    """
    orders = {day: list(visits) for day, visits in orders.items()}
    for day, visits in orders.items():
        _drop_what_breaks(problem, problem.shift_by_day[day], visits)
    _held_in_vain(problem, others, orders)
    settled = []
    for wish in sorted(meet, key=lambda w: (tier(w), -prize_cents(w, w.jobs), w.key)):
        meeting = best_meeting(problem, orders, wish)
        if meeting and is_worth_waiting_for(wish, meeting):
            meeting.put_into(orders)
            settled.append(meeting.wish)
        elif alone := lone_part(wish):
            settled.append(alone)
    return settled


def _without_what_is_done(left: dict, orders: Orders) -> dict:
    """Of the week that is published; what stands in a later one is still left out of it."""
    done = {
        (visit.wish.key, job.key)
        for (_, day), visits in orders.items()
        for visit in visits
        if day < WEEK
        for job in visit.jobs
    }
    return {key: out for key, out in left.items() if key not in done}


def _never_alone(orders: Orders) -> None:
    """A meeting that lost one of its people in the search is taken off the days of all."""
    there = {(visit.wish.key, day) for day, visits in orders.items() for visit in visits}
    for visit in [visit for visits in orders.values() for visit in visits if visit.wish.pins]:
        days = {(pin.technician, pin.day) for pin in visit.wish.pins}
        if any((visit.wish.key, day) not in there for day in days):
            take_off(orders, visit.wish)


def _meet_after_all(problem: WeekProblem, wanted: Sorted, orders: Orders) -> None:
    """Where only one person goes so far, all go if the days as they are now leave room."""
    for wish in wanted.wishes:
        alone = [
            (day, number, visit)
            for day, visits in orders.items()
            for number, visit in enumerate(visits)
            if visit.wish.key == wish.key
        ]
        if not wants(wish) or len(alone) != 1:
            continue
        [(day, number, visit)] = alone
        take_off(orders, wish)
        meeting = free_meeting(problem, orders, wish)
        if meeting and is_worth_waiting_for(wish, meeting):
            meeting.put_into(orders)
        else:
            orders[day].insert(number, visit)


def _without_a_place(
    problem: WeekProblem, orders: Orders, homeless: list[StopWish]
) -> Iterator[LeftOut]:
    """Put in what has no place, in the place of milder work if need be; what fits nowhere."""
    left = make_room(problem, orders, homeless)
    alone = [part for wish in left if wants(wish) and (part := lone_part(wish))]
    held = [wish for wish in alone if wish.locks]
    left = [wish for wish in left if not wants(wish)]
    left += make_room(problem, orders, [wish for wish in alone if not wish.locks])
    for wish in held:
        if not put_in(problem, orders, wish, wish.locks[0]):
            yield from _in_vain(problem, wish)
    for wish in left:
        part = put_in_part(problem, orders, wish)
        for job in wish.jobs:
            if job not in part:
                because = reasons.rest(job) if part else reasons.full(job)
                yield LeftOut(wish.key, job.key, *because)


def _not_met(problem: WeekProblem, wanted: Sorted, orders: Orders) -> Iterator[LeftOut]:
    """Work for which nobody meets, and why."""
    placed = {
        (visit.wish.key, job.key)
        for visits in orders.values()
        for visit in visits
        for job in visit.jobs
    }
    for wish in wanted.wishes:
        shared = [job for job in wish.jobs if job.people > 1]
        if wants(wish) and not any((wish.key, job.key) in placed for job in shared):
            yield from reasons.not_met(problem, orders, wish)


def _homeless(problem: WeekProblem, wanted: Sorted, orders: Orders) -> list[StopWish]:
    """Stops without a place that shall have one; over a horizon what may wait is left to wait."""
    placed = {visit.wish.key for visits in orders.values() for visit in visits}
    return [
        wish
        for wish in wanted.wishes
        if (not wish.locks or wants(wish))
        and wish.key not in placed
        and (problem.weeks == 1 or wants(wish) or any(not job.can_wait for job in wish.jobs))
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
            for job in rest:
                because = reasons.rest(job) if wants(wish) else LATER
                yield LeftOut(wish.key, job.key, *because)
        else:
            alone = tuple(job for job in wish.jobs if job.people == 1)
            yield from reasons.waiting(gaps, replace(wish, jobs=alone) if wants(wish) else wish)


def _drop_what_breaks(problem: WeekProblem, shift: Shift, visits: list[Visit]) -> None:
    while visits and broken(shift, visits, timed_route(problem, shift, visits)):
        visits.remove(min(visits, key=lambda visit: prize_cents(visit.wish, visit.jobs)))


def _held_in_vain(problem: WeekProblem, wanted: Sorted, orders: Orders) -> list[LeftOut]:
    """Put in what was placed by hand; a stop that lost one of its people loses all of them."""
    left_out = []
    for wish in wanted.wishes:
        if wants(wish):
            continue
        if wish.locks and not all(_is_held(problem, orders, wish, lock) for lock in wish.locks):
            for visits in orders.values():
                visits[:] = [visit for visit in visits if visit.wish.key != wish.key]
            left_out += _in_vain(problem, wish)
    return left_out


def _in_vain(problem: WeekProblem, wish: StopWish) -> list[LeftOut]:
    names = " and ".join(problem.name_of(lock.technician) for lock in wish.locks)
    because = f"Was placed by hand with {names} and no longer fits that day. Place it again."
    return [LeftOut(wish.key, job.key, LeftOutReason.FULL, because) for job in wish.jobs]


def _is_held(problem: WeekProblem, orders: Orders, wish: StopWish, lock: Lock) -> bool:
    there = orders.get((lock.technician, lock.day), [])
    return any(visit.wish.key == wish.key for visit in there) or (
        (lock.technician, lock.day) in problem.shift_by_day
        and bool(jobs_at(wish, lock))
        and put_in(problem, orders, wish, lock)
    )
