"""Lives of parts. Check values: tests/reference/reliability.json; each row names its source."""

import json
import math
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.condition import lifetimes

ROWS = json.loads((Path(__file__).parents[2] / "reference" / "reliability.json").read_text())[
    "rows"
]
shapes = st.floats(0.6, 6)
ages = st.floats(0, 3000)


def rows(quantity):
    return [row for row in ROWS if row["quantity"].startswith(quantity)]


def test_weibull_life_of_a_published_example_is_found_again():
    (row,) = rows("Weibull MLE, right-censored")
    found = lifetimes.weibull_fit(row["inputs"]["time"], row["inputs"]["failed"])

    # lifelines 0.30.3 prints 606.527535 and 1.72079738, log-likelihood -75.1346182
    assert (found.eta, found.beta) == pytest.approx((606.528, 1.7208), rel=1e-5)
    assert found.log_likelihood == pytest.approx(-75.135, abs=1e-3)


@pytest.mark.parametrize(
    "failed", [[0, 0, 0], [0, 1, 0], [1, 1, 0]], ids=["none", "one", "two of one age"]
)
def test_shape_is_never_fitted_to_fewer_than_two_different_failures(failed):
    with pytest.raises(ValueError, match="fixed shape"):
        lifetimes.weibull_fit([900, 900, 1200], failed)


@given(st.lists(st.integers(1, 4000), min_size=6, max_size=20, unique=True), st.floats(0.01, 1000))
def test_fit_does_not_depend_on_the_unit_of_time(times, factor):
    failed = [n % 3 != 0 for n in range(len(times))]

    one = lifetimes.weibull_fit(times, failed)
    other = lifetimes.weibull_fit([factor * time for time in times], failed)

    assert other.beta == pytest.approx(one.beta, rel=1e-6)
    assert other.eta == pytest.approx(factor * one.eta, rel=1e-6)


def test_fit_of_many_parts_comes_near_the_life_that_they_were_drawn_from():
    chance = random.Random(4)
    lives = [chance.weibullvariate(730, 2.5) for _ in range(4000)]

    found = lifetimes.weibull_fit(
        [min(life, 800) for life in lives], [life < 800 for life in lives]
    )

    assert (found.eta, found.beta) == pytest.approx((730, 2.5), rel=0.04)


@pytest.mark.parametrize("row", rows("characteristic life"), ids=lambda row: row["id"])
def test_characteristic_life_of_a_known_shape(row):
    given_ = row["inputs"]
    found = lifetimes.weibayes(given_["days"], given_["failures"], given_["beta"])

    assert found == pytest.approx(row["expected"], rel=1e-6)


def test_parts_that_never_failed_give_a_lower_bound_and_no_life():
    with pytest.raises(ValueError, match="at least 1"):
        lifetimes.weibayes([900, 950], 0, 2)

    # shape 1: chi-square bound, 2.302585 over the total time (NIST e-Handbook, 8.4.5.1)
    assert lifetimes.weibayes_bound([2000, 3000], 1, 0.9) == pytest.approx(5000 / 2.302585)


def test_share_still_working_falls_at_each_failure():
    row = rows("Kaplan-Meier survival (NIST)")[0]
    steps = lifetimes.kaplan_meier(row["inputs"]["time"], row["inputs"]["failed"])

    assert [step.time for step in steps] == row["inputs"]["at"]
    assert [step.survival for step in steps] == pytest.approx(row["expected"], abs=1e-9)
    assert lifetimes.survival_at(steps, 9) == 1
    assert lifetimes.survival_at(steps, 121) == pytest.approx(row["expected"][3], abs=1e-9)


def test_standard_error_without_censoring_is_the_binomial_one():
    # Greenwood's formula reduces to sqrt(S (1 - S) / n) when every part has failed.
    for step in lifetimes.kaplan_meier([1, 2, 3, 4, 5], [1] * 5):
        assert step.standard_error == pytest.approx(
            math.sqrt(step.survival * (1 - step.survival) / 5)
        )


@given(st.floats(1, 2000), ages, ages)
def test_part_that_does_not_wear_does_not_remember_its_age(eta, age, further):
    assert lifetimes.conditional_reliability(eta, 1, age, further) == pytest.approx(
        math.exp(-further / eta), rel=1e-9, abs=1e-12
    )
    assert lifetimes.mean_residual_life(eta, 1, age) == pytest.approx(eta, rel=1e-9)


@given(shapes, st.floats(0.001, 0.999))
def test_age_by_which_a_fraction_failed_leaves_the_others(beta, p):
    age = lifetimes.b_life(730, beta, p)

    assert 1 - lifetimes.conditional_reliability(730, beta, 0, age) == pytest.approx(p, abs=1e-9)


@given(shapes, ages)
def test_mean_residual_life_is_the_area_under_what_is_left(beta, age):
    def alive(u):
        return lifetimes.conditional_reliability(730, beta, age, u)

    whole = lifetimes.mean_residual_life(730, beta, age)
    far, count = whole * 40, 8000
    area = far / count * math.fsum(alive((n + 0.5) * far / count) for n in range(count))

    assert whole == pytest.approx(area, rel=0.01)


@given(st.floats(1.2, 5), st.floats(1.5, 30), st.floats(0.3, 3))
def test_no_other_age_of_replacement_costs_less(beta, ratio, other):
    best = lifetimes.age_replacement(1000, beta, 1, ratio)
    if best is None:
        return

    def cost(age):
        alive = [
            lifetimes.conditional_reliability(1000, beta, 0, age * n / 2000) for n in range(2001)
        ]
        lived = age / 2000 * (math.fsum(alive) - (alive[0] + alive[-1]) / 2)
        return (alive[-1] + ratio * (1 - alive[-1])) / lived

    assert cost(best.age) == pytest.approx(best.cost_rate, rel=1e-4)
    assert cost(best.age * other) >= best.cost_rate * (1 - 1e-4)


@pytest.mark.parametrize(
    ("beta", "failure_cost"), [(1.0, 5), (0.7, 5), (2.5, 1), (2.5, 0.5), (1.01, 1.5)]
)
def test_where_planned_replacement_does_not_pay_there_is_no_date(beta, failure_cost):
    assert lifetimes.age_replacement(800, beta, 1, failure_cost) is None


@given(shapes, st.floats(0.05, 4))
def test_replacements_lie_between_the_first_failure_and_its_repetition(beta, lives):
    failed = 1 - lifetimes.conditional_reliability(1, beta, 0, lives)
    found = lifetimes.weibull_renewals(1, beta, lives)

    assert failed - 1e-3 <= found
    if failed < 0.9:  # Barlow & Proschan (1965): M(t) is at most F(t) / (1 - F(t))
        assert found <= failed / (1 - failed) + 1e-3


@given(st.floats(0.01, 12))
def test_replacements_of_what_fails_by_chance_grow_evenly(lives):
    assert lifetimes.weibull_renewals(365, 1, 365 * lives) == pytest.approx(lives, rel=1e-3)
    assert lifetimes.erlang_renewals(1, lives) == pytest.approx(lives)


@given(st.floats(0.01, 3), st.floats(0, 40))
def test_replacements_after_two_stages_follow_the_closed_form(rate, duration):
    passed = rate * duration  # Cox, Renewal Theory (1962): lambda t/2 - 1/4 + exp(-2 lambda t)/4

    found = lifetimes.erlang_renewals(rate, duration, 2)

    assert found == pytest.approx(passed / 2 - 0.25 + math.exp(-2 * passed) / 4, abs=1e-9)
