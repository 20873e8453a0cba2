"""No outside table exists; days follow the written rule (common practice, no source)."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from servicedesk.planning.seasons import Climate, Season, season_question, season_windows

NORTH = Climate(
    latitude=44.9,
    ice_on="12-05",
    ice_on_earliest="11-24",
    ice_out="03-28",
    layering="05-12",
    mixing="10-04",
)
YEAR = range(2026, 2027)


def only(season, climate, years=YEAR):
    (window,) = season_windows(season, climate, years)
    return window.opens_on, window.closes_on


def test_winter_window_opens_five_weeks_before_ice_and_ends_a_week_before_the_earliest():
    assert only("winter", NORTH) == (date(2026, 10, 31), date(2026, 11, 17))


def test_winter_window_without_an_earliest_day_ends_a_week_before_the_usual_one():
    assert only("winter", Climate(latitude=44.9, ice_on="12-05")) == (
        date(2026, 10, 31),
        date(2026, 11, 28),
    )


def test_spring_window_runs_from_ice_out_until_the_water_layers():
    assert only("spring", NORTH) == (date(2026, 3, 28), date(2026, 5, 12))


def test_summer_window_is_the_middle_of_the_layered_season():
    opens, closes = only("summer", NORTH)

    assert opens == date(2026, 7, 3)
    assert closes == date(2026, 8, 12)


def test_summer_window_without_days_of_the_region_is_july_to_august_in_the_north():
    assert only("summer", Climate(latitude=35)) == (date(2026, 7, 1), date(2026, 8, 10))


def test_summer_window_is_january_to_february_in_the_south():
    assert only("summer", Climate(latitude=-35)) == (date(2026, 1, 1), date(2026, 2, 10))


def test_southern_pond_with_days_of_its_own_keeps_them():
    tasman = Climate(latitude=-44.0, ice_on="06-20", ice_out="09-05", layering="11-10")

    assert only("winter", tasman) == (date(2026, 5, 16), date(2026, 6, 13))
    assert only("spring", tasman) == (date(2026, 9, 5), date(2026, 11, 10))


def test_northern_days_are_moved_by_half_a_year_in_the_south():
    copied = Climate(latitude=-44.0, ice_on="12-05", ice_out="03-28", layering="05-12")

    assert only("winter", copied) == (date(2026, 5, 1), date(2026, 5, 29))
    assert only("spring", copied) == (date(2026, 9, 28), date(2026, 11, 12))


@pytest.mark.parametrize(
    "climate",
    [Climate(latitude=44, has_winter=False, ice_on="12-05"), Climate(latitude=10), Climate(-5)],
)
def test_site_without_winter_has_no_winter_window_and_nothing_to_ask(climate):
    assert season_windows("winter", climate, range(2026, 2030)) == ()
    assert season_windows("spring", climate, range(2026, 2030)) == ()
    assert season_question("winter", climate) == ""
    assert season_question("spring", climate) == ""


def test_mountain_in_the_tropics_that_freezes_has_a_winter():
    assert season_windows("winter", Climate(latitude=-15, ice_on="06-20"), YEAR) != ()


@pytest.mark.parametrize("season", ["winter", "spring"])
def test_unknown_days_are_a_question_and_no_window(season):
    unknown = Climate(latitude=44.9)

    assert season_windows(season, unknown, YEAR) == ()
    assert "Ask" in season_question(season, unknown)


def test_ice_in_january_opens_its_window_the_year_before():
    assert only("winter", Climate(latitude=40, ice_on="01-10", ice_on_earliest="12-28")) == (
        date(2026, 12, 6),
        date(2026, 12, 21),
    )


def test_summer_that_crosses_new_year_is_one_window():
    south = Climate(latitude=-38, layering="11-01", mixing="04-01")

    (window,) = season_windows("summer", south, range(2026, 2027)) or [None]

    assert window.opens_on == date(2026, 12, 26)
    assert window.closes_on - window.opens_on == timedelta(days=40)


@pytest.mark.parametrize("latitude", range(-60, 61, 12))
@pytest.mark.parametrize("ice_on", ["", "12-05", "01-15", "06-10", "02-29"])
@pytest.mark.parametrize("season", list(Season))
def test_each_year_has_at_most_one_window_and_it_ends_after_it_opens(latitude, ice_on, season):
    climate = Climate(latitude=latitude, ice_on=ice_on, ice_out="04-01", layering="05-20")

    windows = season_windows(season, climate, range(2020, 2032))

    assert len(windows) <= 12
    assert all(w.closes_on >= w.opens_on for w in windows)
    assert all(b.opens_on - a.opens_on > timedelta(days=300) for a, b in pairwise(windows))


def test_unknown_season_is_refused():
    with pytest.raises(ValueError, match="season"):
        season_windows("autumn", NORTH, YEAR)
