"""By when a winter is decided, north and south of the equator and where there is none."""

from datetime import date

import pytest

from servicedesk.planning.seasons import Climate
from servicedesk.planning.winter.deadlines import ask_from, decide_by, notice_ends

NORTH = Climate(45.0, ice_on="12-05", ice_on_earliest="11-25", ice_out="04-01")
SOUTH = Climate(-42.0, ice_on="06-05", ice_on_earliest="05-25", ice_out="10-01")
TROPIC = Climate(5.0)
MILD = Climate(33.0, has_winter=False)
EARLY = Climate(60.0, ice_on="10-10", ice_out="05-20")  # ice in early October
HIGH = Climate(-15.8, ice_on="06-01", ice_out="08-15")  # high in the tropics, ice days entered


def test_the_north_decides_by_the_middle_of_september():
    assert ask_from(NORTH, 2026) == date(2026, 9, 1)
    assert decide_by(NORTH, 2026) == date(2026, 9, 15)
    assert notice_ends(NORTH, 2026) == date(2027, 7, 1)


def test_the_south_decides_half_a_year_earlier():
    assert ask_from(SOUTH, 2026) == date(2026, 3, 1)
    assert decide_by(SOUTH, 2026) == date(2026, 3, 15)
    assert notice_ends(SOUTH, 2026) == date(2027, 1, 1)


def test_where_ice_comes_early_the_winter_is_decided_before_its_window_opens():
    assert decide_by(EARLY, 2026) == date(2026, 9, 5)
    assert ask_from(EARLY, 2026) == date(2026, 8, 22)


@pytest.mark.parametrize("climate", [TROPIC, MILD])
def test_where_ponds_do_not_freeze_nobody_is_asked(climate):
    assert decide_by(climate, 2026) is None
    assert ask_from(climate, 2026) is None


def test_a_place_high_in_the_tropics_is_asked_by_its_own_ice_days():
    assert decide_by(HIGH, 2026) == date(2026, 3, 15)
