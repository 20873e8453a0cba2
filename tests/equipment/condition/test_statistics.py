"""Trends and counts. Check values: tests/reference/reliability.json; each row names its source."""

import itertools
import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.condition import statistics

ROWS = json.loads((Path(__file__).parents[2] / "reference" / "reliability.json").read_text())[
    "rows"
]
values = st.lists(st.integers(-5, 5).map(float), min_size=2, max_size=6)


def rows(quantity):
    return [row for row in ROWS if row["quantity"].startswith(quantity)]


@pytest.mark.parametrize("row", rows("Theil-Sen"), ids=lambda row: row["id"])
def test_slope_and_its_interval_agree_with_published_ones(row):
    found = statistics.theil_sen(**row["inputs"])

    wanted, within = row["expected"], row["tolerance"]["abs"]
    assert (found.slope, found.low, found.high) == pytest.approx(tuple(wanted.values()), abs=within)


@pytest.mark.parametrize("row", rows("Mann-Kendall"), ids=lambda row: row["id"])
def test_trend_test_agrees_with_published_ones(row):
    found = statistics.mann_kendall(**row["inputs"])
    got = {"S": found.s, "Var": found.variance, "Z": found.z, "p": found.p}

    for name, wanted in row["expected"].items():
        assert got[name] == pytest.approx(wanted, abs=row["tolerance"]["abs"])


def test_one_outlier_in_a_year_of_readings_does_not_turn_the_slope():
    # scipy.stats.theilslopes(y, x, 0.95): 0.00219179727, 0.00162601626 to 0.00333333333
    days = [0, 30, 61, 92, 122, 153, 183, 214]
    psi = [6.6, 6.7, 6.7, 6.8, 8.9, 6.9, 7.0, 7.1]

    found = statistics.theil_sen(days, psi)

    assert found.slope == pytest.approx(0.00219179727, abs=1e-10)
    assert (found.low, found.high) == pytest.approx((0.00162601626, 0.00333333333), abs=1e-10)
    assert found.intercept == pytest.approx(6.61547769, abs=1e-8)


def test_irregular_visits_give_the_slope_of_a_general_library():
    # scipy.stats.theilslopes(y, x, 0.95): 0.00331050228, 0.00285714286 to 0.00375; 6.18584475
    days = [0, 14, 45, 80, 140, 200, 290, 365]
    psi = [6.2, 6.3, 6.3, 6.5, 6.6, 6.9, 7.2, 7.4]

    found = statistics.theil_sen(days, psi)

    got = (found.slope, found.low, found.high, found.intercept)
    assert got == pytest.approx((0.00331050228, 0.00285714286, 0.00375, 6.18584475), abs=1e-8)


def test_readings_that_are_all_alike_show_no_trend():
    found = statistics.mann_kendall([6.4] * 7)

    assert (found.s, found.variance, found.z, found.p, found.p_exact) == (0, 0, 0, 1, 1)


@given(values)
def test_exact_probability_counts_every_order_of_the_same_readings(readings):
    def s_of(order):
        return sum((b > a) - (b < a) for a, b in itertools.combinations(order, 2))

    orders = list(itertools.permutations(readings))
    extreme = sum(abs(s_of(order)) >= abs(s_of(readings)) for order in orders)

    found = statistics.mann_kendall(readings)

    assert found.p_exact == pytest.approx(extreme / len(orders))


@pytest.mark.parametrize(("count", "table"), [(4, 0.042), (5, 0.0083), (6, 0.0014), (7, 0.0002)])
def test_exact_probability_is_that_of_the_printed_table(count, table):
    # One-sided, S at its highest: Gilbert (1987), table A18, from memory; 1 order in count!.
    found = statistics.mann_kendall(list(range(count)))

    assert found.p_exact / 2 == pytest.approx(1 / math.factorial(count))
    assert found.p_exact / 2 == pytest.approx(table, abs=0.0005)


@given(st.lists(st.tuples(st.integers(0, 400), st.integers(0, 90)), min_size=2, max_size=12))
def test_slope_turns_round_with_the_readings_and_lies_within_its_interval(points):
    days, psi = [float(x) for x, _ in points], [float(y) for _, y in points]
    if len(set(days)) < 2:
        with pytest.raises(ValueError, match="different times"):
            statistics.theil_sen(days, psi)
        return

    up = statistics.theil_sen(days, psi)
    down = statistics.theil_sen(days, [-y for y in psi])

    assert up.low <= up.slope <= up.high
    assert down.slope == pytest.approx(-up.slope)


def test_slope_needs_a_reading_for_each_day():
    with pytest.raises(ValueError, match="one y for each x"):
        statistics.theil_sen([1, 2, 3], [6.4, 6.5])


@pytest.mark.parametrize("row", rows("stock level") + rows("spares"), ids=lambda row: row["id"])
def test_stock_meets_the_service_wanted(row):
    assert statistics.stock_level(**row["inputs"]) == row["expected"]


def test_poisson_probabilities_agree_with_a_published_page():
    (row,) = rows("Poisson cumulative")
    found = [statistics.poisson_cumulative(row["inputs"]["mean"], k) for k in row["inputs"]["k"]]

    assert found == pytest.approx(row["expected"], abs=row["tolerance"]["abs"])
    assert found == pytest.approx(row["library_printed"], abs=1e-9)  # scipy.stats.poisson.cdf


@given(st.floats(0, 200), st.floats(0, 0.999))
def test_one_unit_less_would_not_meet_the_service(mean, service):
    units = statistics.stock_level(mean, service)

    assert statistics.poisson_cumulative(mean, units) >= service - 1e-12
    assert units == 0 or statistics.poisson_cumulative(mean, units - 1) < service + 1e-12


def test_no_failure_yet_still_bounds_the_rate():
    (row,) = rows("exact one-sided bound")

    found = statistics.failure_rate_bound(**row["inputs"])

    assert found == pytest.approx(row["expected"], rel=row["tolerance"]["rel"])


def test_bound_of_the_rate_is_half_a_chi_square_quantile():
    # Chi-square, upper 10 % at 4 and 6 degrees: 7.779 and 10.645 (NIST e-Handbook, 1.3.6.7.4).
    assert statistics.failure_rate_bound(1, 1, 0.9) == pytest.approx(7.779 / 2, abs=5e-4)
    assert statistics.failure_rate_bound(1, 2, 0.9) == pytest.approx(10.645 / 2, abs=5e-4)


def test_rate_of_things_that_do_not_wear_is_failures_over_time():
    (row,) = rows("constant hazard")
    found = statistics.constant_failure_rate(row["inputs"]["weeks"], row["inputs"]["relapse"])

    assert found == pytest.approx(row["expected"], abs=row["tolerance"]["abs"])
