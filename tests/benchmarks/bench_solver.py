"""Prints how near the solver comes to published best-known costs, by iterations.

python -m tests.benchmarks.bench_solver
"""

import sys
import time

from tests.servicedesk.planning.routing.solomon import BEST_KNOWN, gap


def main(write=sys.stdout.write):
    for name in BEST_KNOWN:
        for iterations in (300, 3000, 10_000):
            begin = time.perf_counter()
            found = 100 * gap(name, iterations)
            took = time.perf_counter() - begin
            write(f"{name}  {iterations:6d} iterations  {found:5.2f} % above best  {took:5.1f} s\n")


if __name__ == "__main__":
    main()
