"""Published instances, read for the solver of this house, and their routes judged without it."""

import json
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
from pyvrp import Client, Depot, Location, ProblemData, VehicleType

from servicedesk.planning.routing.solver import Stop, search

FOLDER = Path(__file__).parents[3] / "reference" / "routing"
BEST_KNOWN = json.loads((FOLDER / "best_known.json").read_text())


def rows_of(path: Path) -> tuple[int, int, list[list[int]]]:
    """Vehicles, capacity and the rows: number, x, y, demand, ready, due, service."""
    lines = path.read_text().splitlines()
    vehicles, capacity = map(int, lines[4].split())
    return vehicles, capacity, [list(map(int, line.split())) for line in lines[9:] if line.strip()]


def tenths_apart(rows: list[list[int]]) -> np.ndarray:
    spots = np.array([row[1:3] for row in rows], dtype=float)
    apart = np.hypot(*(spots[:, None] - spots[None, :]).transpose(2, 0, 1))
    return np.floor(apart * 10 + 1e-9).astype(np.int64)


def instance_of(path: Path) -> ProblemData:
    """Distances truncated to one decimal, in tenths; cost is distance alone."""
    vehicles, capacity, rows = rows_of(path)
    tenths = tenths_apart(rows)
    return ProblemData(
        [Location(*row[1:3]) for row in rows],
        [
            Client(
                number,
                delivery=[row[3]],
                service_duration=row[6] * 10,
                tw_early=row[4] * 10,
                tw_late=row[5] * 10,
            )
            for number, row in enumerate(rows[1:], start=1)
        ],
        [Depot(0)],
        [VehicleType(vehicles, capacity=[capacity], tw_early=0, tw_late=rows[0][5] * 10)],
        [tenths],
        [tenths],
    )


def instance(name: str) -> ProblemData:
    return instance_of(FOLDER / f"{name}.txt")


def judged(path: Path, routes: Sequence[Sequence[int]]) -> int:
    """Cost of routes in tenths, worked out again from the file; AssertionError if a rule breaks."""
    vehicles, capacity, rows = rows_of(path)
    tenths, cost = tenths_apart(rows), 0
    assert sorted(n for route in routes for n in route) == list(range(1, len(rows)))
    assert len(routes) <= vehicles
    for route in routes:
        assert sum(rows[n][3] for n in route) <= capacity
        now = 0
        for here, there in pairwise([0, *route, 0]):
            now = max(now + rows[here][6] * 10 + int(tenths[here, there]), rows[there][4] * 10)
            assert now <= rows[there][5] * 10
            cost += int(tenths[here, there])
    return cost


def routes_of(result) -> list[list[int]]:
    """Numbers of the customers, route by route."""
    return [[act.idx + 1 for act in route if act.is_client()] for route in result.best.routes()]


def gap(name, iterations, seed=1):
    """How far above the best-known cost, as a share of it."""
    path = FOLDER / f"{name}.txt"
    result = search(instance_of(path), Stop(iterations), seed)
    assert result.is_feasible()
    return judged(path, routes_of(result)) / 10 / BEST_KNOWN[name]["best_known"] - 1
