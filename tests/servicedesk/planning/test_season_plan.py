"""No outside table exists; days follow the written rule (common practice, no source)."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.kinds import ObservationKind
from servicedesk.planning.ice import ice_possible
from servicedesk.planning.season_plan import (
    Seen,
    is_far_off,
    is_reversed,
    joined_windows,
    pond_windows,
    pond_year,
    winter_of,
)
from servicedesk.planning.seasons import Climate, Window, season_windows

ON, OUT = ObservationKind.ICE_ON, ObservationKind.ICE_OUT
LAYERED, MIXED = ObservationKind.LAYERED, ObservationKind.MIXED
NORTH = Climate(
    latitude=44.9,
    ice_on="12-05",
    ice_on_earliest="11-24",
    ice_out="03-28",
    layering="05-12",
    mixing="10-04",
)
SOUTH = Climate(latitude=-44.9, ice_on="06-20", ice_out="09-05", layering="11-10")
YEAR = range(2026, 2027)


def only(season, seen, climate=NORTH):
    (window,) = pond_windows(season, climate, YEAR, tuple(seen))
    return window


@pytest.mark.parametrize("climate", [NORTH, SOUTH, Climate(latitude=-44, ice_on="12-05")])
@pytest.mark.parametrize("season", ["winter", "spring", "summer"])
def test_sighting_of_another_year_leaves_the_usual_windows_where_they_were(season, climate):
    seen = (Seen(date(2015, 1, 5), LAYERED),)

    redated = pond_windows(season, climate, range(2024, 2030), seen)

    assert redated == season_windows(season, climate, range(2024, 2030))


def test_ice_out_that_was_seen_opens_the_spring_window_and_layers_that_were_seen_close_it():
    seen = [Seen(date(2026, 4, 9), OUT), Seen(date(2026, 5, 2), LAYERED)]

    window = only("spring", seen)

    assert (window.opens_on, window.closes_on) == (date(2026, 4, 9), date(2026, 5, 2))
    assert window.because == (
        "ice-out was seen here on 9 April 2026, and water layers after that; layers were seen here "
        "on 2 May 2026"
    )


def test_what_was_seen_here_goes_before_what_was_seen_nearby_and_that_before_what_is_usual():
    near, here = Seen(date(2026, 4, 2), OUT, here=False), Seen(date(2026, 4, 9), OUT)

    assert only("spring", [near]).opens_on == date(2026, 4, 2)
    assert "seen nearby on 2 April 2026" in only("spring", [near]).because
    assert only("spring", [near, here]).opens_on == date(2026, 4, 9)
    assert only("spring", [Seen(date(2025, 4, 9), OUT)]).opens_on == date(2026, 3, 28)


def test_three_winters_seen_here_say_what_is_usual_here_and_the_earliest_ends_the_window():
    seen = [Seen(date(year, 11, on), ON) for year, on in ((2023, 20), (2024, 12), (2025, 26))]

    window = only("winter", seen)

    assert window.opens_on == date(2026, 11, 20) - timedelta(days=35)
    assert window.closes_on == date(2026, 11, 12) - timedelta(days=7)
    assert window.because == "ice usually forms here about 20 November"


def test_ice_that_was_seen_early_ends_the_winter_window_on_that_day():
    window = only("winter", [Seen(date(2026, 11, 2), ON)])

    assert window.closes_on == date(2026, 11, 2)
    assert window.opens_on == date(2026, 9, 28)


def test_ice_that_came_back_after_an_ice_out_takes_the_restart_away_until_it_is_seen_to_leave():
    back = [Seen(date(2026, 3, 20), OUT), Seen(date(2026, 4, 1), ON)]

    window = only("spring", back)
    assert window.opens_on == date(2026, 4, 8)
    assert "ice was seen again on 1 April 2026" in window.because

    left = [*back, Seen(date(2026, 4, 4), OUT)]
    assert only("spring", left).opens_on == date(2026, 4, 4)
    assert pond_year(NORTH, left, 2025).refrozen_on is None


def test_ice_out_told_twice_holds_from_the_first_day():
    seen = [Seen(date(2026, 4, 9), OUT), Seen(date(2026, 4, 12), OUT)]

    assert only("spring", seen).opens_on == date(2026, 4, 9)


def test_place_without_winter_has_windows_in_the_one_in_which_ice_was_seen():
    mild = Climate(latitude=33.0, has_winter=False)

    assert pond_windows("winter", mild, range(2024, 2030), (Seen(date(2026, 12, 20), ON),)) == (
        Window(
            date(2026, 11, 15),
            date(2026, 12, 20),
            "ice was seen here on 20 December 2026",
            date(2026, 10, 16),
        ),
    )


def test_in_the_tropics_and_in_the_south_months_are_no_guide():
    assert pond_windows("winter", Climate(latitude=5.0), YEAR) == ()
    southern = only("spring", [Seen(date(2026, 8, 30), OUT)], SOUTH)
    assert (southern.opens_on, southern.closes_on) == (date(2026, 8, 30), date(2026, 11, 10))
    assert winter_of(date(2026, 8, 30), -44.9) == 2026
    assert winter_of(date(2026, 4, 2), 44.9) == 2025


def test_ice_after_an_ice_out_is_a_reversal_and_new_ice_next_winter_is_none():
    seen = [Seen(date(2026, 4, 2), OUT)]

    assert is_reversed(seen, Seen(date(2026, 4, 6), ON), 45)
    assert not is_reversed(seen, Seen(date(2026, 11, 30), ON), 45)
    assert not is_reversed(
        [Seen(date(2026, 4, 2), OUT, here=False)], Seen(date(2026, 4, 6), ON), 45
    )


def test_ice_out_in_a_january_thaw_is_far_off():
    assert is_far_off(NORTH, Seen(date(2026, 1, 15), OUT))
    assert not is_far_off(NORTH, Seen(date(2026, 4, 20), OUT))
    assert not is_far_off(Climate(latitude=45), Seen(date(2026, 1, 15), OUT))


def test_ice_that_was_seen_counts_for_warnings_whatever_is_usual():
    seen = Climate(latitude=45.0, ice_on="12-05", ice_out="03-28", ice_seen_on=date(2026, 4, 25))

    assert ice_possible(seen, date(2026, 5, 20))
    assert not ice_possible(seen, date(2026, 7, 1))
    mild = Climate(latitude=33, has_winter=False, ice_seen_on=date(2026, 1, 3))
    assert ice_possible(mild, date(2026, 1, 9))


def test_system_in_two_ponds_waits_for_the_last_ice_and_ends_with_the_first_layers():
    one = (Window(date(2026, 4, 1), date(2026, 5, 12), "a"),)
    other = (Window(date(2026, 4, 9), date(2026, 5, 2), "b"),)

    (window,) = joined_windows([one, other])
    assert (window.opens_on, window.closes_on) == (date(2026, 4, 9), date(2026, 5, 2))


days = st.dates(date(2024, 1, 1), date(2027, 12, 31))
sights = st.lists(
    st.builds(Seen, days, st.sampled_from(ObservationKind), st.booleans()), max_size=12
)
climates = st.sampled_from(
    [
        NORTH,
        SOUTH,
        Climate(latitude=5),
        Climate(latitude=45),
        Climate(latitude=-44, ice_on="12-05", ice_out="03-28"),
    ]
)


@given(climates, sights, st.randoms())
def test_windows_never_hang_on_the_order_of_what_was_seen_and_never_end_before_they_begin(
    climate, seen, random
):
    mixed = list(seen)
    random.shuffle(mixed)
    for season in ("winter", "spring"):
        windows = pond_windows(season, climate, range(2024, 2028), tuple(seen))
        assert windows == pond_windows(season, climate, range(2024, 2028), tuple(mixed))
        assert all(window.opens_on <= window.closes_on for window in windows)
        assert all(a.opens_on < b.opens_on for a, b in pairwise(windows))
