"""Seconds, kilometres and memory of planning one week of invented work, three weeks ahead.

python -m tests.benchmarks.bench_plan [--sizes 60 120 600] [--iterations N] [--seconds CAP]
    [--together PERCENT]

Ponds of the service year, as many as give about that many stops in the published week; two seeds in
two processes, the better plan kept, with the program's own number of iterations. The checker judges
every plan. Of so many percent of the ponds the first job needs two people, of some of these a boat.
Then whoever has the fullest Wednesday falls ill, and what is left of the week is set
right. CPU seconds tell what a machine takes that does nothing else.
"""

import argparse
import os
import resource
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

from servicedesk.planning.routing import checker
from servicedesk.planning.routing.cost import iterations_for, plan_cost_cents
from servicedesk.planning.routing.problem import WEEK
from servicedesk.planning.routing.repair import repaired
from servicedesk.planning.routing.solver import plan_week
from servicedesk.planning.routing.sorting import sort_out
from servicedesk.planning.routing.timetable import visits_of
from tests.benchmarks.lookahead import Planner
from tests.benchmarks.ponds import TECHNICIANS, World

STOPS_A_WEEK = 48  # of 400 ponds, in the weeks that are planned here
MIDWEEK = (1, 2, 3)
SEEDS = (1, 2)


def week(stops: int, technicians: int):
    """Ponds of the first weeks, in which much stands open, until the week holds so many stops."""
    number = -(-stops // STOPS_A_WEEK)
    problems = [Planner(World(seed), 1).problem(0) for seed in range(50, 50 + number)]
    share = stops / (STOPS_A_WEEK * number)
    places, wishes = [problems[0].places[0]], []
    for n, problem in enumerate(problems):
        for wish in problem.wishes[: round(share * len(problem.wishes))]:
            jobs = tuple(replace(job, minutes=job.minutes // 2) for job in wish.jobs)
            places.append(problem.places[wish.place])
            key = f"site:{n}{wish.place:04d}"
            wishes.append(replace(wish, key=key, place=len(places) - 1, jobs=jobs))
    one = [shift for shift in problems[0].shifts if shift.technician == "tech 0"]
    shifts = [replace(s, technician=f"tech {n:02d}") for n in range(technicians) for s in one]
    return replace(problems[0], places=tuple(places), wishes=tuple(wishes), shifts=tuple(shifts))


def with_crews(problem, percent: int):
    """The same week with work for two people spread evenly over its ponds."""
    wishes, owed = [], 0
    for number, wish in enumerate(problem.wishes):
        owed += percent
        if owed >= 100:
            owed -= 100
            pair = replace(wish.jobs[0], crew=2, boat=number % 4 < 2)
            wish = replace(wish, jobs=(pair, *wish.jobs[1:]))
        wishes.append(wish)
    shifts = tuple(replace(shift, boat=True) for shift in problem.shifts)
    return replace(problem, wishes=tuple(wishes), shifts=shifts)


def solved(
    stops: int,
    technicians: int,
    seed: int,
    iterations: int | None,
    cap: float | None,
    together: int = 0,
):
    problem = with_crews(week(stops, technicians), together)
    iterations = iterations or iterations_for(len(problem.wishes))
    begin = time.perf_counter(), time.process_time()
    plan = plan_week(problem, iterations=iterations, seed=seed, cap_seconds=cap)
    wall, cpu = time.perf_counter() - begin[0], time.process_time() - begin[1]
    faults = checker.faults(problem, plan)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return plan_cost_cents(problem, plan), plan, wall, cpu, memory, len(problem.wishes), faults


def ill_on_a_full_day(problem, plan):
    """Seconds until the rest of the week is set right, stops with another day, and without."""
    full = max(plan.routes, key=lambda route: (route.day in MIDWEEK, len(route.stops)))
    known = {wish.key: wish for wish in sort_out(problem).wishes}
    orders, wishes = {}, []
    for route in plan.routes:
        if route.day >= full.day:
            visits = [
                replace(visit, wish=replace(known[visit.wish.key], jobs=visit.jobs))
                for visit in visits_of(problem, route)
            ]
            orders[route.technician, route.day] = visits
            wishes += [visit.wish for visit in visits]
    out = {stop.wish: full.day for stop in full.stops}
    shifts = tuple(
        shift
        for shift in problem.shifts
        if full.day <= shift.day < WEEK
        and (shift.technician, shift.day) != (full.technician, full.day)
    )
    begin = time.process_time()
    left = replace(problem, weeks=1, shifts=shifts, wishes=tuple(wishes))
    found = repaired(left, orders, out=out)
    took = time.process_time() - begin
    return took, len(out) - len(found.undone), len(found.undone)


def main(argv=None, write=sys.stdout.write):
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sizes", type=int, nargs="+", default=[60, 120, 600])
    asked.add_argument("--iterations", type=int)
    asked.add_argument("--seconds", type=float, help="a cap")
    asked.add_argument("--together", type=int, default=0, help="percent of ponds that need two")
    options = asked.parse_args(argv)
    for stops in options.sizes:
        technicians = max(TECHNICIANS, stops // 40)
        with ProcessPoolExecutor(len(SEEDS), max_tasks_per_child=1) as pool:
            runs = [
                pool.submit(
                    solved,
                    stops,
                    technicians,
                    s,
                    options.iterations,
                    options.seconds,
                    options.together,
                )
                for s in SEEDS
            ]
            found = [run.result() for run in runs]
        _, plan, *_, ponds, faults = min(found, key=lambda one: one[0])
        made = sum(len(route.stops) for route in plan.routes)
        comers = Counter((s.wish, r.day, s.starts_min) for r in plan.routes for s in r.stops)
        met = sum(count > 1 for count in comers.values())
        km = sum(route.drive_hm for route in plan.routes) / 10
        write(
            f"{technicians} technicians, {ponds} ponds: {made} stops on {len(plan.routes)} days, "
            f"{met} meetings, {km:.0f} km; {plan.iterations} iterations, "
            f"{max(one[2] for one in found):.1f} s (CPU {max(one[3] for one in found):.1f} s), "
            f"{max(one[4] for one in found):.0f} MB each, {len(faults)} faults, "
            f"load {os.getloadavg()[0]:.1f}\n"
        )
        problem = with_crews(week(stops, technicians), options.together)
        took, moved, undone = ill_on_a_full_day(problem, plan)
        write(
            f"   ill on a full day: {moved} stops have another place, {undone} have none, "
            f"CPU {took:.1f} s\n"
        )


if __name__ == "__main__":
    main()
