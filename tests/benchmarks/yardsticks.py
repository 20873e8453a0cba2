"""How weeks are planned without a solver: by due dates, and by zones."""

import math
from itertools import pairwise

from tests.benchmarks.ponds import DAY_MIN, SETUP_MIN, TECHNICIANS, Pond, Task, World

Work = dict[int, list[Task]]  # by pond


def due_dates(world: World, day: int) -> None:
    """Each day the earliest due work that fits, technicians filled one after another."""
    _by_date(world, {p.number: _due(p, day) for p in world.ponds}, day)


def due_dates_bundled(world: World, day: int) -> None:
    """The same from the week's list, and everything that is open is done along."""
    sunday = day - day % 7 + 6
    wanted = [p for p in world.ponds if _due(p, sunday)]
    _by_date(world, {p.number: _open(p, day) for p in wanted}, day)


def zones(world: World, day: int) -> None:
    """A fifth of the ponds each weekday: what is due before the next turn, nearest first."""
    sector = _sectors(world)[day % 7]
    _nearest_first(world, {p.number: _due(p, day + 6) for p in sector}, day)


def zones_bundled(world: World, day: int) -> None:
    """The same, and everything that is open is done along."""
    sector = [p for p in _sectors(world)[day % 7] if _due(p, day + 6)]
    _nearest_first(world, {p.number: _open(p, day) for p in sector}, day)


def _due(pond: Pond, day: int) -> list[Task]:
    return [task for task in pond.tasks if task.due <= day]


def _open(pond: Pond, day: int) -> list[Task]:
    """What may be done, with what is due before the next turn, which is why somebody comes."""
    return [task for task in pond.tasks if task.opens <= day]


def _minutes(tasks: list[Task]) -> int:
    return SETUP_MIN + sum(task.minutes for task in tasks)


def _by_date(world: World, work: Work, day: int) -> None:
    """The earliest due work with which the technicians' days are still filled one by one."""
    chosen: list[int] = []
    for number in sorted((n for n in work if work[n]), key=lambda n: min(t.due for t in work[n])):
        if not _filled(world, {*chosen, number}, work)[1]:
            chosen.append(number)
    for tour in _filled(world, set(chosen), work)[0]:
        _drive(world, tour, work, day)


def _length(world: World, tour: list[int], work: Work) -> int:
    stops = [0, *tour, 0]
    driving = sum(world.minutes[a][b] for a, b in pairwise(stops))
    return driving + sum(_minutes(work[n]) for n in tour)


def _nearest_first(world: World, work: Work, day: int) -> None:
    for tour in _filled(world, {n for n in work if work[n]}, work)[0]:
        _drive(world, tour, work, day)


def _filled(world: World, left: set[int], work: Work) -> tuple[list[list[int]], set[int]]:
    """One technician after another goes to the nearest pond that fits; tours, and what is left."""
    tours = []
    for _ in range(TECHNICIANS):
        tour, here, now = [], 0, 0
        while True:
            fitting = [
                n
                for n in left
                if now + world.minutes[here][n] + _minutes(work[n]) + world.minutes[n][0] <= DAY_MIN
            ]
            if not fitting:
                break
            there = min(fitting, key=lambda n: (world.minutes[here][n], n))
            now += world.minutes[here][there] + _minutes(work[there])
            here = there
            tour.append(there)
            left = left - {there}
        tours.append(tour)
    return tours, left


def _drive(world: World, tour: list[int], work: Work, day: int) -> None:
    if not tour:
        return
    stops = [0, *tour, 0]
    legs = list(pairwise(stops))
    driving = sum(world.minutes[a][b] for a, b in legs)
    whole = _length(world, tour, work)
    world.drove(sum(world.hm[a][b] for a, b in legs), driving, whole, day)
    for number in tour:
        world.visit(world.ponds[number - 1], work[number], day)


def _sectors(world: World) -> list[list[Pond]]:
    """Five sectors of equal pond count round the shop; weekends have none."""
    x, y = world.spots[0]

    def bearing(pond):
        return math.atan2(world.spots[pond.number][1] - y, world.spots[pond.number][0] - x)

    ponds = sorted(world.ponds, key=bearing)
    size = len(ponds) // 5
    return [*(ponds[n * size : (n + 1) * size] for n in range(5)), [], []]
