"""Reliability and trends by name. Check rows: tests/reference; each names its own source."""

import json
from pathlib import Path

import pytest

from servicedesk.planning.calculations import CalculationRefused, calculated, found, slug

REFERENCE = Path(__file__).parents[2] / "reference"
ROWS = [
    row
    for row in json.loads((REFERENCE / "reliability.json").read_text())["rows"]
    if row["kind"] in {"published", "library"}
]
# scipy.stats.theilslopes(y, x, 0.95); the intercept is median(y) - slope * median(x)
SLOPES = [
    (
        [0, 30, 61, 92, 122, 153, 183, 214],
        [6.6, 6.7, 6.7, 6.8, 8.9, 6.9, 7.0, 7.1],
        (0.00219179727, 0.00162601626, 0.00333333333, 6.61547769),
    ),
    (
        [0, 14, 45, 80, 140, 200, 290, 365],
        [6.2, 6.3, 6.3, 6.5, 6.6, 6.9, 7.2, 7.4],
        (0.00331050228, 0.00285714286, 0.00375, 6.18584475),
    ),
]


def near(expected, got, tolerance):
    if isinstance(expected, dict):
        return expected.keys() == got.keys() and all(
            near(expected[key], got[key], tolerance) for key in expected
        )
    if isinstance(expected, list):
        return len(expected) == len(got) and all(
            near(one, other, tolerance) for one, other in zip(expected, got, strict=True)
        )
    if tolerance == "exact" or isinstance(expected, str | bool):
        return expected == got
    allowed = max(tolerance.get("abs", 0), tolerance.get("rel", 0) * abs(expected))
    return abs(expected - got) <= allowed


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_every_check_row_of_reliability_passes_by_its_words_and_by_the_calculations_name(row):
    own_name = found(row["quantity"])[0].name

    for name in (row["quantity"], slug(row["quantity"]), own_name):
        answer = calculated(name, row["inputs"])
        assert near(row["expected"], answer, row["tolerance"]), (name, answer)


@pytest.mark.parametrize("words", ["robust slope of pressure against days", "pressure_slope"])
@pytest.mark.parametrize(("days", "psi", "wanted"), SLOPES)
def test_robust_slope_of_gauge_readings_agrees_with_a_general_library(words, days, psi, wanted):
    inputs = {"series": "visits", "days": days, "psi": psi, "confidence": 0.95}

    answer = calculated(words, inputs)

    assert list(answer) == ["slope_psi_per_day", "low", "high", "intercept"]
    assert tuple(answer.values()) == pytest.approx(wanted, abs=2e-5)


@pytest.mark.parametrize("ages", ["days", "hours", "km", "weeks", "cycles", "times"])
@pytest.mark.parametrize("marks", ["failed", "relapse", "event"])
def test_lives_are_taken_under_the_names_that_lists_give_them(ages, marks):
    row = next(row for row in ROWS if row["quantity"] == "Weibull MLE, small fleet sample")
    inputs = {ages: row["inputs"]["days"], marks: row["inputs"]["failed"]}

    assert near(row["expected"], calculated(row["quantity"], inputs), row["tolerance"])


def test_list_typed_on_a_line_is_read_as_numbers():
    assert calculated("mann_kendall_z", {"values": "1, 2 3;4"}) == calculated(
        "mann_kendall_z", {"values": [1, 2, 3, 4]}
    )


@pytest.mark.parametrize(
    ("name", "inputs", "says"),
    [
        ("weibull_fit", {"days": [900, 950, 1200], "failed": [0, 1, 0]}, "fixed shape"),
        ("weibull_fit", {"days": [900, 950], "failed": [0, 2]}, "1 for each that failed"),
        ("weibull_fit", {"days": [900, 950], "failed": [1]}, "2 times and 1 marks"),
        ("weibull_fit", {"days": [0, 950], "failed": [1, 1]}, "above 0"),
        ("weibull_log_likelihood", {"data": "another book"}, "one of NIST 8.4.1.3"),
        ("weibull_aic", {}, "give times and failed"),
        ("weibayes", {"days": [900], "failures": 0, "beta": 2}, "at least 1"),
        ("mann_kendall", {"values": [6.4]}, "at least two"),
        ("mann_kendall", {"values": "six"}, "six"),
        ("theil_sen", {"x": [1, 1], "y": [2, 3]}, "different times"),
        ("stock_level", {"mean_demand": 2, "service": 1}, "below 1"),
        ("replacement_age", {"eta": 9, "beta": 0, "planned_cost": 1, "failure_cost": 2}, "above 0"),
    ],
)
def test_what_cannot_be_calculated_is_refused_in_a_sentence(name, inputs, says):
    with pytest.raises(CalculationRefused, match=says):
        calculated(name, inputs)


def test_part_that_does_not_wear_is_run_to_failure_under_every_name():
    inputs = {"eta": 800, "beta": 1.0, "planned_cost": 1, "failure_cost": 5}

    for name in ("age_replacement", "replacement_age", "no planned replacement pays"):
        assert calculated(name, inputs) == "run to failure"


def test_schwarz_criterion_weighs_the_number_of_parts():
    # -2 ln L + 2 ln 20 with the published ln L of -75.135 (NIST/SEMATECH e-Handbook, 8.4.1.3)
    assert calculated("weibull_bic", {"data": "NIST 8.4.1.3"}) == pytest.approx(156.26, abs=0.01)


def test_trend_of_few_readings_is_counted_exactly():
    # all five rising: 1 order in 120 on either side (Gilbert 1987, table A18: 0.0083)
    answer = calculated("mann_kendall_exact", {"values": [1, 2, 3, 4, 5]})

    assert answer == pytest.approx(2 / 120)
