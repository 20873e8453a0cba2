"""Hints and alerts from weather. Sums of cold: tests/reference/ice.json; alerts are a judgement."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.seasons import Climate
from servicedesk.planning.weather import (
    NO_PERMISSION,
    AlertKind,
    alerts,
    cold_so_far,
    windows_around,
)
from tests.checks import rows

PLAIN = Climate(
    latitude=44.9,
    ice_on="12-05",
    ice_on_earliest="11-24",
    ice_out="03-28",
    layering="05-12",
    mixing="10-04",
)


def days(first, means):
    return {first + timedelta(days=n): mean for n, mean in enumerate(means)}


def kinds(first, means, today, climate=PLAIN):
    return [
        alert.kind for alert in alerts(days(first, means), today, windows_around(climate, today))
    ]


@pytest.mark.parametrize("row", rows("ice", "accumulated freezing"), ids=lambda row: row["id"])
def test_cold_so_far_is_that_of_the_check_row(row):
    means = [(mean - 32) / 1.8 for mean in row["inputs"]["daily_mean_F"]]
    known = days(date(2026, 12, 1), means)

    cold = cold_so_far(known, PLAIN, max(known))

    subtract = "subtract" in row["quantity"]
    assert 1.8 * (cold.net_c if subtract else cold.freezing_c) == pytest.approx(row["expected"])


def test_hint_of_ice_is_a_spread_that_begins_at_nothing_while_nobody_has_seen_ice():
    known = days(date(2026, 12, 1), [-10.0] * 10 + [3.0] * 2)

    cold = cold_so_far(known, PLAIN, date(2026, 12, 13))
    seen = cold_so_far(known, PLAIN, date(2026, 12, 13), ice_on=date(2026, 12, 3))

    assert (cold.least_cm, round(cold.most_cm, 1)) == (0, 27.0)
    assert (cold.thaw_c, cold.missing) == (6, 1)
    assert seen.least_cm == pytest.approx(1.7 * 74**0.5)
    assert seen.most_cm == pytest.approx(2.7 * 80**0.5)
    assert "Nobody goes onto the ice" in NO_PERMISSION
    assert cold_so_far({}, PLAIN, date(2026, 12, 13)) is None


@given(st.lists(st.floats(-40, 30), min_size=1, max_size=60), st.integers(0, 40))
def test_spread_of_the_hint_is_never_upside_down(means, after):
    known = days(date(2026, 11, 1), means)
    seen = date(2026, 11, 1) + timedelta(days=after)

    cold = cold_so_far(known, PLAIN, date(2027, 1, 10), ice_on=seen)

    assert 0 <= cold.least_cm <= cold.most_cm + 1e-9
    assert 0 <= cold.net_c <= cold.freezing_c + 1e-9


def test_three_days_of_frost_before_the_winter_window_closes_are_told():
    today = date(2026, 10, 20)

    assert kinds(today, [4, -1, -2, -3], today) == [AlertKind.FROST]
    assert kinds(today, [4, -1, 1, -3], today) == []
    assert kinds(date(2026, 8, 1), [-1, -2, -3], date(2026, 8, 1)) == []
    assert kinds(date(2026, 12, 1), [-1, -2, -3], date(2026, 12, 1)) == []


def test_thaw_is_told_between_ice_on_and_ice_out():
    assert kinds(date(2027, 1, 10), [3.0] * 5, date(2027, 1, 12)) == [AlertKind.THAW]
    assert kinds(date(2027, 1, 10), [3.0] * 4, date(2027, 1, 12)) == []


def test_warm_week_in_the_spring_window_says_that_water_may_layer_early():
    first = date(2027, 4, 10)

    (alert,) = alerts(days(first, [16.0] * 8), date(2027, 4, 12), windows_around(PLAIN, first))

    assert alert.kind == AlertKind.WARM_SPELL
    assert "16 °C (61 °F)" in alert.says
    assert alert.due_on == date(2027, 5, 12)


def test_heat_is_told_while_water_is_layered_and_in_the_south_in_january():
    south = Climate(latitude=-38, has_winter=False)

    assert kinds(date(2027, 7, 10), [26.0] * 3, date(2027, 7, 11)) == [AlertKind.HEAT]
    assert kinds(date(2027, 1, 10), [26.0] * 3, date(2027, 1, 11), south) == [AlertKind.HEAT]


def test_forecast_further_ahead_than_a_week_tells_nothing():
    today = date(2026, 10, 20)

    assert kinds(today + timedelta(days=6), [-5.0] * 8, today) == []
