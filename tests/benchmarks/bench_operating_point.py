"""Time to find the operating point of a manifold, and the valves that share its air.

Run: python -m tests.benchmarks.bench_operating_point
Aim: 8 lines in less than 5 ms. The machine may be busy: look at the median.
"""

import random
import statistics
import sys
import time

from equipment.physics.airline import CHURCHILL, COLEBROOK
from equipment.physics.compressor import Curve
from equipment.physics.network import Line, operating_point, valve_settings

ROUNDS = 100
SEA_PA = 101_325


def system(count, seed):
    chance = random.Random(seed)
    lines = [
        Line(
            f"D{number}",
            chance.uniform(1.5, 4.5),
            chance.uniform(20, 150),
            0.0127,
            valve_pa_per_l_min2=chance.uniform(0, 10),
        )
        for number in range(count)
    ]
    return Curve(((0, 25 * count), (50_000, 20 * count), (100_000, 10 * count))), lines


def timed(what, count, call):
    taken = []
    for seed in range(ROUNDS):
        curve, lines = system(count, seed)
        start = time.perf_counter()
        call(curve, lines)
        taken.append(1000 * (time.perf_counter() - start))
    sys.stdout.write(
        f"{what:<30}{count:>3} lines  median {statistics.median(taken):6.2f} ms"
        f"  longest {max(taken):6.2f} ms\n"
    )


def main():
    for law in (CHURCHILL, COLEBROOK):
        for count in (1, 3, 8, 24):
            timed(
                f"operating point, {law}",
                count,
                lambda curve, lines, law=law: operating_point(
                    curve, lines, air_pa=SEA_PA, leak_l_min_per_sqrt_pa=0.02, law=law
                ),
            )
    timed(
        "valve settings",
        8,
        lambda curve, lines: valve_settings(curve, lines, [20] * 8, air_pa=SEA_PA),
    )


if __name__ == "__main__":
    main()
