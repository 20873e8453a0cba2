"""The published instances, read for the solver of this house."""

import json
from pathlib import Path

import numpy as np
from pyvrp import Client, Depot, Location, ProblemData, VehicleType

from servicedesk.planning.routing.solver import Stop, search

FOLDER = Path(__file__).parents[3] / "reference" / "routing"
BEST_KNOWN = json.loads((FOLDER / "best_known.json").read_text())


def instance(name):
    """Distances truncated to one decimal, in tenths; cost is distance alone."""
    lines = (FOLDER / f"{name}.txt").read_text().splitlines()
    vehicles, capacity = map(int, lines[4].split())
    rows = [list(map(int, line.split())) for line in lines[9:] if line.strip()]
    spots = np.array([row[1:3] for row in rows], dtype=float)
    apart = np.hypot(*(spots[:, None] - spots[None, :]).transpose(2, 0, 1))
    tenths = np.floor(apart * 10 + 1e-9).astype(np.int64)
    depot_due = rows[0][5] * 10
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
        [VehicleType(vehicles, capacity=[capacity], tw_early=0, tw_late=depot_due)],
        [tenths],
        [tenths],
    )


def gap(name, iterations, seed=1):
    """How far above the best-known cost, as a share of it."""
    result = search(instance(name), Stop(iterations), seed)
    assert result.is_feasible()
    return result.cost() / 10 / BEST_KNOWN[name]["best_known"] - 1
