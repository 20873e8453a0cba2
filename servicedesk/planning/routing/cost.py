"""What a plan costs, to choose between two, and how long to search for one."""

from servicedesk.planning.routing.choices import choices, prize_on
from servicedesk.planning.routing.problem import LeftOutReason, WeekPlan, WeekProblem
from servicedesk.planning.routing.sorting import (
    CENTS_PER_MIN,
    LATE_PERCENT,
    Sorted,
    is_good_day,
    prize_cents,
    sort_out,
)
from servicedesk.planning.routing.timetable import working_min

CENTS_PER_HM = 6  # 0.60 a kilometre; common practice, no source
CENTS_PER_DAY = 3_000  # a day less to send somebody out; our judgement
LEAST_ITERATIONS = 4_000
ITERATIONS_A_SITE = 2
WOULD_FIT = (LeftOutReason.FULL, LeftOutReason.LATER)


def iterations_for(sites: int) -> int:
    """How long to search, by the size of a week.

    sites: with open work within the horizon, 0 or more.
    Returns iterations, a few seconds' worth for a hundred visits and half a minute for six hundred.
    Source: our own measurement.
    """
    return max(LEAST_ITERATIONS, ITERATIONS_A_SITE * sites)


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
        for route in [*plan.routes, *plan.ahead]
    )
    kept = sort_out(problem)
    if problem.weeks > 1:
        return cost + _lost_ahead(problem, plan, kept)
    wanted = {wish.key: wish for wish in kept.wishes}
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


def _lost_ahead(problem: WeekProblem, plan: WeekPlan, kept: Sorted) -> int:
    """Over several weeks: what each stop is worth at its best, less what it got where it stands."""
    got: dict[str, int] = {}
    wanted = {wish.key: wish for wish in kept.wishes}
    for route in [*plan.routes, *plan.ahead]:
        for stop in route.stops:
            wish = wanted[stop.wish]
            jobs = tuple(job for job in wish.jobs if job.key in stop.jobs)
            prize = prize_on(problem, wish, jobs, route.day)
            got[wish.key] = max(prize, got.get(wish.key, 0))
    best = {
        wish.key: max((way.prize for stay in choices(problem, wish) for way in stay), default=0)
        for wish in kept.wishes
    }
    return sum(max(0, best[key] - got.get(key, 0)) for key in best)
