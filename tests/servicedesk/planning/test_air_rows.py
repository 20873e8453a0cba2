"""Air, airlines, diffusers and operating points by name.

Check rows: air, airline, diffuser and operating_point in tests/reference; each row names its own
source, and with it its friction law and the condition at which its free air is counted.
"""

import json
import math
import re
from pathlib import Path

import pytest

from servicedesk.planning.calculations import CalculationRefused, calculated, found, slug

AREAS = ("air", "airline", "diffuser", "operating_point")
REFERENCE = Path(__file__).parents[2] / "reference"
ROWS = [
    row for area in AREAS for row in json.loads((REFERENCE / f"{area}.json").read_text())["rows"]
]
GATES = [row for row in ROWS if row["kind"] in {"published", "library"}]
HABITS = [row for row in ROWS if row["kind"] == "common_practice"]


def row_id(row):
    return row["id"]


def near(expected, got, tolerance):
    if isinstance(expected, dict):
        return expected.keys() == got.keys() and all(
            near(expected[key], got[key], tolerance) for key in expected
        )
    if isinstance(expected, list):
        return len(expected) == len(got) and all(
            near(*pair, tolerance) for pair in zip(expected, got, strict=True)
        )
    if tolerance == "exact" or isinstance(expected, str | bool | None):
        return expected == got
    allowed = max(tolerance.get("abs", 0), tolerance.get("rel", 0) * abs(expected))
    return abs(expected - got) <= allowed


@pytest.mark.parametrize("named", [str, slug, lambda quantity: found(quantity)[0].name])
@pytest.mark.parametrize("row", GATES, ids=row_id)
def test_check_row_passes_by_its_quantity_and_by_the_calculations_name(row, named):
    held = found(row["quantity"])[1] if named not in (str, slug) else {}

    got = calculated(named(row["quantity"]), {**held, **row["inputs"]})

    assert near(row["expected"], json.loads(json.dumps(got)), row["tolerance"]), got


def test_no_gate_row_is_missing():
    assert len(GATES) > 80


@pytest.mark.parametrize("row", HABITS, ids=row_id)
def test_habit_of_the_trade_is_given_and_said_to_have_no_source(row):
    calculation, _ = found(row["quantity"])

    assert calculated(row["quantity"], row["inputs"]) == row["expected"]
    assert "common practice, no source" in calculation.described()["source"]
