"""Published oxygen limits. Check rows: tests/reference/lake.json; each row names its own source."""

import re

import pytest

from equipment.physics import oxygen
from tests.checks import rows

CRITERIA = [row for row in rows("lake") if "life stages" in row["quantity"]]


@pytest.mark.parametrize("row", CRITERIA, ids=lambda row: row["id"])
def test_criterion_of_the_agency_is_the_printed_one(row):
    asked = re.match(r"(\w+) (.+), (\w+) life stages", row["quantity"]).groups()

    assert oxygen.criterion(*asked).mg_l == row["expected"]
    assert "EPA" in oxygen.criterion(*asked).source


def test_limits_for_warm_water_fish_are_the_printed_ones():
    expected = {row["quantity"]: row["expected"] for row in rows("lake")}

    assert (
        oxygen.WARMWATER_STRESS.mg_l
        == (expected["oxygen below which most warmwater species are stressed"])
    )
    assert oxygen.SOME_DIE.mg_l == expected["oxygen below which some species die"]
    assert oxygen.ANOXIC.mg_l == expected["water called anoxic below"]


def test_criterion_that_the_table_does_not_have_is_refused_with_what_it_has():
    with pytest.raises(ValueError, match="warmwater, 30-day mean, other"):
        oxygen.criterion("warmwater", "30-day mean", "early")
