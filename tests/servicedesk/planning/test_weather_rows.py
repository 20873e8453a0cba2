"""Weather rows by name. Check rows: tests/reference/weather.json; each names its own source.

The days behind them are frozen in fixtures/weather, with source and licence in their first line.
"""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics.weather import first_crossing, trailing_mean_c
from servicedesk.planning.calculations import CalculationRefused, calculated, slug
from servicedesk.planning.stations import station_names
from tests.benchmarks.bench_weather import compared
from tests.checks import agrees, rows

ROWS = rows("weather")
NEW_YEAR = date(2026, 1, 1)


@pytest.mark.parametrize("named", [str, slug], ids=["quantity", "slug"])
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_row_of_weather_passes_by_its_quantity(row, named):
    got = calculated(named(row["quantity"]), row["inputs"])

    assert agrees(row["expected"], got, row["tolerance"])


def test_every_weather_file_is_checked_and_every_line_of_the_printed_table_agrees():
    assert {row["inputs"]["dataset"] for row in ROWS} == set(station_names())
    lines = compared()
    assert len(lines) > 25
    assert [line for line in lines if not line.agrees] == []


@given(st.lists(st.floats(-40, 40), min_size=40, max_size=80), st.floats(-40, 40), st.booleans())
def test_day_of_crossing_is_the_first_on_which_the_mean_is_past_the_limit(means, limit, rising):
    days = {NEW_YEAR + timedelta(days=n): mean for n, mean in enumerate(means)}

    found = first_crossing(days, limit, NEW_YEAR, max(days), rising=rising, window_days=10)

    past = [
        day
        for day in sorted(days)[9:]
        if ((mean := trailing_mean_c(days, day, 10)) >= limit) == rising and mean is not None
    ]
    assert found == (past[0] if past else None)


def test_no_mean_is_told_over_a_day_that_is_not_known():
    days = {NEW_YEAR + timedelta(days=n): 20.0 for n in range(40) if n != 35}

    assert trailing_mean_c(days, NEW_YEAR + timedelta(days=34), 30) == 20
    assert trailing_mean_c(days, NEW_YEAR + timedelta(days=36), 30) is None


TYPED = {"limit": 5, "unit": "degC", "way": "below", "first_on": "2026-10-01"}


def test_typed_days_are_looked_at_as_those_of_a_file():
    got = calculated(
        "mean_crossing",
        {
            **TYPED,
            "daily_mean_C": [9, 8, 6, 3, 2, 1],
            "window_days": 3,
            "search_from": "2026-10-01",
            "search_to": "2026-10-06",
        },
    )

    assert got == "2026-10-05"


SEARCH = {"search_from": "02-01", "search_to": "07-31"}
REFUSED = [
    ("weather_range", {"dataset": "moon"}, "seattle_weather"),
    ("frost_days", {"dataset": "seattle_weather"}, "2012 to 2015"),
    ("frost_days", {"dataset": "seattle_weather", "year": 2019}, "2012 to 2015"),
    ("freezing_days_of_winter_c", {"dataset": "seattle_weather", "season": "2012"}, "2014-2015"),
    ("freezing_days_of_winter_c", {"dataset": "tmy2_12839", "season": "2012-2013"}, "all days"),
    ("mean_of_month_c", {"dataset": "tmy2_12839", "month": 13}, "1 to 12"),
    ("mean_crossing", {**TYPED, **SEARCH, "daily_mean_C": []}, "name a dataset"),
    ("mean_crossing", {**TYPED, **SEARCH, "unit": "K"}, "degC or degF"),
    ("mean_crossing", {**TYPED, **SEARCH, "dataset": "sf_temps", "window": "centred"}, "trailing"),
    ("mean_crossing", {**TYPED, "dataset": "sf_temps", "search_from": "May", "search_to": "June"},
     "no day"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "inputs", "words"), REFUSED)
def test_what_no_file_holds_is_refused_with_a_sentence(name, inputs, words):
    with pytest.raises(CalculationRefused, match=words):
        calculated(name, inputs)
