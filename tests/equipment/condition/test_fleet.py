"""A small invented fleet, judged: what the engine must find, and that forgetting a step is caught.

The faults are put into the physics; see tests/benchmarks/fleet.py, where the accepted cause of
each was written down before any figure was looked at.
"""

import pytest

from tests.benchmarks.bench_fleet import case, figures
from tests.benchmarks.fleet import machine
from tests.benchmarks.rounds import without_level

DAYS = 3 * 365
TWO_YEARS = 730
SYSTEMS = 3  # of each kind
SWING_M = 1.2  # a pond that is drawn down each summer


def test_healthy_systems_raise_hardly_an_alarm():
    healthy = [case(machine(n, 7, "none"), days=DAYS) for n in range(6)]

    assert sum(len(one.false) for one in healthy) <= 2


@pytest.mark.parametrize("kind", ["leak_shore", "worn", "fouling_all", "filter"])
def test_fault_is_found_and_its_true_cause_stands_among_the_first_two(kind):
    cases = [case(machine(n, 7, kind), days=DAYS) for n in range(SYSTEMS)]
    ranks = [one.rank for one in cases if one.rank is not None]

    assert len(ranks) >= SYSTEMS - 1
    assert sum(rank <= 2 for rank in ranks) >= len(ranks) - 1


def swinging():
    systems = [machine(n, 11, "none") for n in range(9)]
    deep = [made for made in systems if made.kind != "linear"][:5]
    for made in deep:
        made.swing_m = SWING_M
    return deep


def test_judge_that_forgets_to_take_the_level_out_is_caught_by_its_false_alarms():
    told = figures([case(made, days=TWO_YEARS) for made in swinging()])
    forgot = figures([case(made, without_level, days=TWO_YEARS) for made in swinging()])

    assert told["false_a_year"] <= 0.2
    assert forgot["false_a_year"] >= 1.0
