"""How near the solver comes to published best-known costs, beside others in the same run.

python -m tests.benchmarks.bench_solver [FOLDER] [--seconds 15] [--seeds 1 2] [--raw-seeds 1 2]

FOLDER holds VRPTW files in the classic text layout and best_known.json (name: best_known). Each
seed is one process; of ours and of raw PyVRP the better of its seeds counts. OR-Tools and VROOM
are measured where they are installed (pip install ortools pyvroom). Every set of routes is worked
out again from the file.
"""

import argparse
import importlib.util
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pyvrp
from pyvrp.stop import MaxRuntime

from servicedesk.planning.routing.solver import Stop, search
from tests.servicedesk.planning.routing.solomon import (
    FOLDER,
    instance_of,
    judged,
    routes_of,
    rows_of,
    tenths_apart,
)


def ours(path: Path, seconds: float, seed: int):
    return routes_of(search(instance_of(path), Stop(10**9, seconds), seed))


def raw(path: Path, seconds: float, seed: int):
    return routes_of(pyvrp.solve(instance_of(path), MaxRuntime(seconds), seed, display=False))


def ortools(path: Path, seconds: float, seed: int):
    """Guided local search from parallel cheapest insertion, one thread."""
    routing = importlib.import_module("ortools.constraint_solver.pywrapcp")
    enums = importlib.import_module("ortools.constraint_solver.routing_enums_pb2")
    vehicles, capacity, rows = rows_of(path)
    tenths = tenths_apart(rows).tolist()
    manager = routing.RoutingIndexManager(len(rows), vehicles, 0)
    model = routing.RoutingModel(manager)
    node = manager.IndexToNode
    distance = model.RegisterTransitCallback(lambda a, b: tenths[node(a)][node(b)])
    times = model.RegisterTransitCallback(
        lambda a, b: tenths[node(a)][node(b)] + rows[node(a)][6] * 10
    )
    load = model.RegisterUnaryTransitCallback(lambda a: rows[node(a)][3])
    model.SetArcCostEvaluatorOfAllVehicles(distance)
    model.AddDimension(load, 0, capacity, True, "load")
    model.AddDimension(times, rows[0][5] * 10, rows[0][5] * 10, False, "time")
    clock = model.GetDimensionOrDie("time")
    for number, row in enumerate(rows[1:], start=1):
        clock.CumulVar(manager.NodeToIndex(number)).SetRange(row[4] * 10, row[5] * 10)
    asked = routing.DefaultRoutingSearchParameters()
    asked.first_solution_strategy = enums.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    asked.local_search_metaheuristic = enums.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    asked.time_limit.FromMilliseconds(int(seconds * 1000))
    found = model.SolveWithParameters(asked)
    routes = []
    for vehicle in range(vehicles):
        index, route = model.Start(vehicle), []
        while not model.IsEnd(index := found.Value(model.NextVar(index))):
            route.append(node(index))
        routes.append(route)
    return [route for route in routes if route]


def vroom(path: Path, seconds: float, seed: int):
    """Exploration 5, one thread; it stops by itself."""
    engine, numpy = importlib.import_module("vroom"), importlib.import_module("numpy")
    vehicles, capacity, rows = rows_of(path)
    problem = engine.Input()
    tenths = tenths_apart(rows).astype(numpy.uint32)
    problem.set_durations_matrix("car", tenths)
    problem.set_distances_matrix("car", tenths)
    window = engine.TimeWindow(0, rows[0][5] * 10)
    for number in range(vehicles):
        problem.add_vehicle(
            engine.Vehicle(number, start=0, end=0, capacity=[capacity], time_window=window)
        )
    for n, row in enumerate(rows[1:], start=1):
        window = engine.TimeWindow(row[4] * 10, row[5] * 10)
        stay = {"default_service": row[6] * 10, "delivery": [row[3]], "time_windows": [window]}
        problem.add_job(engine.Job(n, location=n, **stay))
    steps = problem.solve(exploration_level=5, nb_threads=1).routes
    jobs = steps[steps["type"] == "job"]
    return [group["id"].astype(int).tolist() for _, group in jobs.groupby("vehicle_id")]


PACKAGES = {ours: "pyvrp", raw: "pyvrp", ortools: "ortools", vroom: "vroom"}


def measured(way, path: Path, seconds: float, seed: int) -> float:
    return judged(path, way(path, seconds, seed)) / 10


def main(argv=None, write=sys.stdout.write):
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    asked.add_argument("--seconds", type=float, default=15)
    asked.add_argument("--seeds", type=int, nargs="+", default=[1, 2])
    asked.add_argument("--raw-seeds", type=int, nargs="+", default=[1, 2])
    options = asked.parse_args(argv)
    best = json.loads((options.folder / "best_known.json").read_text())
    ways = [way for way, package in PACKAGES.items() if importlib.util.find_spec(package)]
    missing = {way.__name__ for way in PACKAGES} - {way.__name__ for way in ways}
    write(f"not installed: {', '.join(sorted(missing)) or 'none'}\n")
    gaps = {way: [] for way in ways}
    with ProcessPoolExecutor(2) as pool:
        for path in sorted(options.folder.glob("*.txt")):
            if path.stem not in best:
                continue
            line = f"{path.stem:9s}"
            for way in ways:
                seeds = {ours: options.seeds, raw: options.raw_seeds}.get(way, [1])
                runs = [pool.submit(measured, way, path, options.seconds, s) for s in seeds]
                found = min(run.result() for run in runs)
                gaps[way].append(100 * (found / best[path.stem]["best_known"] - 1))
                line += f"  {way.__name__} {gaps[way][-1]:6.2f} %"
            write(f"{line}  load {os.getloadavg()[0]:.1f}\n")
    for way, values in gaps.items():
        if values:
            write(f"{way.__name__:8s} mean {sum(values) / len(values):.2f} %, ")
            write(f"worst {max(values):.2f} % in {options.seconds:g} s\n")


if __name__ == "__main__":
    main()
