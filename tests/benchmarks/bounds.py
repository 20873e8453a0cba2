"""What no year of visits can do without, to read its kilometres by: two references.

The radial bound holds for every plan without late work, over the long run: who reaches a pond at
r km drives there and back, and has the rest of the shift for work (after Haimovich and Rinnooy
Kan, Bounds and heuristics for capacitated routing problems, 1985; from memory). A day may be
filled with fractions of visits, so it lies far below what can be driven.

Perfect timing is no proof but comes nearer: each pond alone is visited as late and as bundled as
its windows allow; then the first visits of all ponds are routed as if none had a date, then the
second ones, and so on.
"""

from collections.abc import Iterator

import numpy as np
from pyvrp import Client, Depot, Location, ProblemData, VehicleType, solve
from pyvrp.stop import MaxIterations

from tests.benchmarks.ponds import DAY_MIN, SETUP_MIN, WARM_UP_DAYS, Pond, World

SWEEP_ITERATIONS = 1_500
KM_H = 55


def radial_km(world: World, weeks: int) -> float:
    """Kilometres that no plan without late work can save in the long run.

    world: at its first day.
    weeks: how many are measured.
    Returns km.
    """
    total = 0.0
    for pond in world.ponds:
        away_hm, away_min = world.hm[0][pond.number], world.minutes[0][pond.number]
        total += _least_min(pond, weeks) * 2 * away_hm / (DAY_MIN - 2 * away_min)
    return total / 10


def perfect_timing(world: World, weeks: int) -> tuple[float, int]:
    """Kilometres and visits of ponds that are each visited as seldom as their windows allow.

    world: at its first day; worked through, and of no use afterwards.
    weeks: how many are measured, after the warm-up.
    Returns (km, visits).
    """
    stays = [list(_latest_stays(pond, weeks)) for pond in world.ponds]
    hm = 0
    for turn in range(max(len(some) for some in stays)):
        asked = {
            pond.number: some[turn]
            for pond, some in zip(world.ponds, stays, strict=True)
            if len(some) > turn
        }
        hm += _sweep_hm(world, asked)
    return hm / 10, sum(len(some) for some in stays)


def _least_min(pond: Pond, weeks: int) -> float:
    """Minutes of work and set-up that a pond can not do without."""
    days = 7 * weeks
    cycles = [task.every + (0 if task.calendar else task.late) for task in pond.tasks]
    work = sum(days * task.minutes / cycle for task, cycle in zip(pond.tasks, cycles, strict=True))
    seasonal = sum(task.calendar for task in pond.tasks) * days / 365
    return work + SETUP_MIN * max(seasonal, *(days / cycle for cycle in cycles))


def _latest_stays(pond: Pond, weeks: int) -> Iterator[int]:
    """Minutes of each stay in the measured weeks, if the pond were the only one."""
    end = WARM_UP_DAYS + 7 * weeks
    day = 0
    while (day := max(day, min(task.closes for task in pond.tasks))) < end:
        work = [task for task in pond.tasks if task.opens <= day]
        if day >= WARM_UP_DAYS:
            yield SETUP_MIN + sum(task.minutes for task in work)
        for task in work:
            task.done(day)


def _sweep_hm(world: World, minutes: dict[int, int]) -> int:
    """One visit to each of some ponds, on as many days as it takes."""
    numbers = list(minutes)
    at = [0, *numbers]
    data = ProblemData(
        [Location(*world.spots[n]) for n in at],
        [
            Client(place, service_duration=minutes[number])
            for place, number in enumerate(numbers, start=1)
        ],
        [Depot(0)],
        [VehicleType(len(numbers), shift_duration=DAY_MIN)],
        [np.array(world.hm)[np.ix_(at, at)]],
        [np.array(world.minutes)[np.ix_(at, at)]],
    )
    found = solve(data, MaxIterations(SWEEP_ITERATIONS), seed=1, display=False)
    if not found.is_feasible():
        raise AssertionError(f"{len(numbers)} visits alone do not fit their days")
    return found.best.distance()
