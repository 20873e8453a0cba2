"""Drift is told from noise, or nothing is said; dates follow from the slope and its interval."""

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.condition.baseline import all_series
from equipment.condition.drift import drift_of
from equipment.condition.history import MANIFOLD, PSI_PA
from tests.make_history import DAY, history, later, read


def drift(known, key=MANIFOLD):
    return drift_of(known, all_series(known, later(5000))[key][-1])


def straight(slope_psi_a_year, days, **more):
    return [read(d, 6.0 + slope_psi_a_year * d / 365.25, **more) for d in days]


def test_two_readings_are_not_enough():
    found = drift(history(*straight(1.0, [90])))

    assert found.says == "Not enough comparable readings of the pressure: 2 readings over 90 days."
    assert (found.slope, found.trend, found.crosses) == (None, False, None)


def test_readings_of_less_than_sixty_days_are_not_enough():
    assert "Not enough" in drift(history(*straight(5.0, [15, 30, 45, 59]))).says
    assert "Not enough" not in drift(history(*straight(5.0, [15, 30, 45, 60]))).says


def test_straight_rise_crosses_its_limit_on_the_day_that_arithmetic_gives():
    found = drift(history(*straight(0.6, range(60, 420, 60))))

    # Limit: 1 psi over 6.0 psi (15 percent are less), at 0.6 psi a year.
    expected = DAY + timedelta(days=365.25 / 0.6)
    assert found.trend
    assert found.slope == pytest.approx(0.6 * PSI_PA)
    assert abs((found.likely_on - expected).days) <= 1
    assert found.crosses[0] <= found.likely_on <= found.crosses[1]
    assert "rises by 0.6" in found.says
    assert "It crosses its limit of 7.0\N{NO-BREAK SPACE}psi in December 2027" in found.says


def test_level_is_taken_out_before_anything_is_called_drift():
    rising_water = [read(d, 6.0 + 0.4335 * d / 100, level_ft=d / 100) for d in range(60, 420, 60)]

    found = drift(history(*rising_water))

    assert not found.trend
    assert [value / PSI_PA for _, value in found.points] == pytest.approx([6.0] * 7, abs=0.01)


def test_pressure_without_its_level_is_not_comparable_where_the_water_swings():
    unread = straight(0.6, range(60, 420, 60), level_ft=None)

    assert "Not enough" in drift(history(*unread)).says
    assert drift(history(*unread, swing_m=0.05)).trend


def test_slope_and_interval_of_a_history_are_those_of_a_general_library():
    # scipy.stats.theilslopes(y, x, 0.95): 0.00331050228, 0.00285714286 to 0.00375 psi a day
    days = [0, 14, 45, 80, 140, 200, 290, 365]
    psi = [6.2, 6.3, 6.3, 6.5, 6.6, 6.9, 7.2, 7.4]
    base, *sets = (read(d, p) for d, p in zip(days, psi, strict=True))

    found = drift(history(*sets, base=base))

    got = [value / PSI_PA / 365.25 for value in (found.slope, found.low, found.high)]
    assert got == pytest.approx([0.00331050228, 0.00285714286, 0.00375], rel=1e-6)
    assert found.trend


@settings(deadline=None, max_examples=40)
@given(st.lists(st.floats(-0.05, 0.05), min_size=6, max_size=9), st.integers(0, 3))
def test_order_of_entry_and_the_zero_of_the_level_never_matter(noise, feet):
    sets = [read(60 * (n + 1), 6.0 + 0.1 * n + e) for n, e in enumerate(noise)]
    raised = [
        read(60 * (n + 1), 6.0 + 0.1 * n + e + 0.43302 * feet, level_ft=feet)
        for n, e in enumerate(noise)
    ]
    plain = drift(history(*sets))

    assert drift(history(*reversed(sets))) == plain
    assert drift(history(*raised)).slope == pytest.approx(plain.slope, rel=0.02)
