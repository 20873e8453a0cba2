"""Seconds, kilometres and memory of planning one week of invented work, three weeks ahead.

python -m tests.benchmarks.bench_plan [--sizes 60 120 600] [--iterations N] [--seconds CAP]

Ponds of the service year, as many as give about that many stops in the week; two seeds in two
processes, the better plan kept, as the program does it. The checker judges every plan.
"""

import argparse
import os
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

from servicedesk.planning.routing import checker
from servicedesk.planning.routing.cost import plan_cost_cents
from servicedesk.planning.routing.solver import plan_week
from tests.benchmarks.lookahead import Planner
from tests.benchmarks.ponds import TECHNICIANS, World

STOPS_A_WEEK = 120  # of 400 ponds and 3 technicians, if each stay takes half the year's minutes
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


def solved(stops: int, technicians: int, seed: int, iterations: int, cap: float | None):
    problem = week(stops, technicians)
    begin = time.perf_counter(), time.process_time()
    plan = plan_week(problem, iterations=iterations, seed=seed, cap_seconds=cap)
    wall, cpu = time.perf_counter() - begin[0], time.process_time() - begin[1]
    faults = checker.faults(problem, plan)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return plan_cost_cents(problem, plan), plan, wall, cpu, memory, len(problem.wishes), faults


def main(argv=None, write=sys.stdout.write):
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sizes", type=int, nargs="+", default=[60, 120, 600])
    asked.add_argument("--iterations", type=int, default=1000)
    asked.add_argument("--seconds", type=float, help="a cap")
    options = asked.parse_args(argv)
    for stops in options.sizes:
        technicians = max(TECHNICIANS, stops // 40)
        with ProcessPoolExecutor(len(SEEDS), max_tasks_per_child=1) as pool:
            runs = [
                pool.submit(solved, stops, technicians, s, options.iterations, options.seconds)
                for s in SEEDS
            ]
            found = [run.result() for run in runs]
        _, plan, *_, ponds, faults = min(found, key=lambda one: one[0])
        made = sum(len(route.stops) for route in plan.routes)
        km = sum(route.drive_hm for route in plan.routes) / 10
        write(
            f"{technicians} technicians, {ponds} ponds: {made} stops on {len(plan.routes)} days, "
            f"{km:.0f} km; {plan.iterations} iterations, "
            f"{max(one[2] for one in found):.1f} s (CPU {max(one[3] for one in found):.1f} s), "
            f"{max(one[4] for one in found):.0f} MB each, {len(faults)} faults, "
            f"load {os.getloadavg()[0]:.1f}\n"
        )


if __name__ == "__main__":
    main()
