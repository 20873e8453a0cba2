"""What a plan costs, to choose between two: late-weighted harm and kilometres."""

from servicedesk.planning.routing.problem import LeftOutReason, WeekPlan, WeekProblem
from servicedesk.planning.routing.sorting import (
    CENTS_PER_MIN,
    is_good_day,
    prize_cents,
    sort_out,
)
from servicedesk.planning.routing.timetable import working_min

CENTS_PER_HM = 6  # 0.60 a kilometre; common practice, no source
CENTS_PER_DAY = 3_000  # a day less to send somebody out; our judgement
WOULD_FIT = (LeftOutReason.FULL, LeftOutReason.LATER)
LATE_PERCENT = 85  # of the prize, after the tolerance; our judgement


def plan_cost_cents(problem: WeekProblem, plan: WeekPlan) -> int:
    """Cost of a plan: driving, time, days, and what is lost by work that is late or left out.

    problem: the week that was planned.
    plan: routes and left-out work.
    Returns cents; of two plans for one week the lower is better. No sum of money to show.
    Source: our own rule.
    """
    lunch = problem.lunch.minutes
    cost = sum(
        route.drive_hm * CENTS_PER_HM + working_min(route, lunch) * CENTS_PER_MIN + CENTS_PER_DAY
        for route in plan.routes
    )
    wanted = {wish.key: wish for wish in sort_out(problem).wishes}
    for route in plan.routes:
        for stop in route.stops:
            wish = wanted.get(stop.wish)
            if wish and not wish.locks and not is_good_day(wish, route.day):
                cost += prize_cents(wish, wish.jobs) * (100 - LATE_PERCENT) // 100
    lost: dict[str, set[str]] = {}
    for out in plan.left_out:
        if out.reason in WOULD_FIT and out.wish in wanted:
            lost.setdefault(out.wish, set()).add(out.job)
    for key, keys in lost.items():
        jobs = tuple(job for job in wanted[key].jobs if job.key in keys)
        cost += prize_cents(wanted[key], jobs) if jobs else 0
    return cost
