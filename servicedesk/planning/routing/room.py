"""Making room for what matters more: milder work gives way, and looks for another place."""

import heapq

from servicedesk.planning.routing.insertion import (
    Day,
    Orders,
    best_order,
    lean_jobs,
    may,
    put_in,
    tier,
)
from servicedesk.planning.routing.meetings import (
    free_meeting,
    meeting_in_place_of,
    take_off,
    wants,
)
from servicedesk.planning.routing.problem import Shift, StopWish, WeekProblem
from servicedesk.planning.routing.sorting import prize_cents
from servicedesk.planning.routing.timetable import Visit


def put_in_free(problem: WeekProblem, orders: Orders, wish: StopWish) -> bool:
    """Put a stop where nothing has to go for it: with one person, or with all that it needs.

    problem: the week.
    orders: its days; changed in place.
    wish: the stop.
    Returns False if it fits nowhere.
    Source: cheapest insertion, a textbook method.
    """
    if not wants(wish):
        return put_in(problem, orders, wish, None)
    meeting = free_meeting(problem, orders, wish)
    if meeting:
        meeting.put_into(orders)
    return meeting is not None


def make_room(problem: WeekProblem, orders: Orders, homeless: list[StopWish]) -> list[StopWish]:
    """Put graver work in the place of milder work, tier by tier.

    problem: the week.
    orders: its days; changed in place.
    homeless: stops that fit nowhere.
    Returns the stops without a place afterwards: none of them would fit a day from which only
    work of milder tiers was taken.
    Source: our own rule: safety, fish, asset, warranty, cosmetic.
    """
    queue = [(tier(wish), -prize_cents(wish, wish.jobs), wish.key) for wish in homeless]
    by_key = {wish.key: wish for wish in homeless}
    heapq.heapify(queue)
    left = []
    while queue:
        wish = by_key[heapq.heappop(queue)[2]]
        if put_in_free(problem, orders, wish):
            continue
        removed = _displace(problem, orders, wish)
        if removed is None:
            left.append(wish)
        for other in removed or []:
            by_key[other.key] = other
            heapq.heappush(queue, (tier(other), -prize_cents(other, other.jobs), other.key))
    return left


def _displace(problem: WeekProblem, orders: Orders, wish: StopWish) -> list[StopWish] | None:
    """Take out milder stops, the fewest prizes of all days, until the stop fits."""
    if wants(wish):
        mine = tier(wish)
        meeting = meeting_in_place_of(problem, orders, wish, lambda v: tier(v.wish) > mine)
        return meeting and meeting.put_into(orders)
    visit = Visit(wish, lean_jobs(wish, None))
    best: tuple[int, Day, list[Visit], list[Visit]] | None = None
    for shift in problem.shifts:
        day = (shift.technician, shift.day)
        if not may(shift, visit, None):
            continue
        found = _with_least_taken(problem, shift, orders.get(day, []), visit)
        if found is None:
            continue
        cost = sum(prize_cents(out.wish, out.jobs) for out in found[1])
        if best is None or cost < best[0]:
            best = (cost, day, *found)
    if best is None:
        return None
    orders[best[1]] = best[2]
    return [take_off(orders, out.wish) for out in best[3]]


def _with_least_taken(
    problem: WeekProblem, shift: Shift, visits: list[Visit], visit: Visit
) -> tuple[list[Visit], list[Visit]] | None:
    """The day with the visit in it and what had to go; None if even all milder work is too little.

    Milder stops go first in one sweep, the dearest come back as far as they fit.
    """
    mild = [other for other in visits if tier(other.wish) > tier(visit.wish)]
    kept = [other for other in visits if other not in mild]
    order = best_order(problem, shift, kept, visit) if mild else None
    if order is None:
        return None
    out = []
    for other in sorted(mild, key=lambda v: (-prize_cents(v.wish, v.jobs), v.wish.key)):
        more = best_order(problem, shift, order, other)
        if more is None:
            out.append(other)
        else:
            order = more
    return order, out
