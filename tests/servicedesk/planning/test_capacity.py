"""A season's capacity: our own rule. Figures here are reckoned by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.capacity import (
    CrewDay,
    Job,
    capacity,
    pace_share,
    season_shown,
    share_left,
)
from servicedesk.planning.seasons import Season

TODAY = date(2026, 10, 1)


def crews(hours, days=60, people=2):
    return {TODAY + timedelta(days=n): CrewDay(hours, people) for n in range(days)}


def job(number, closes, minutes=60, opens=0, ponds=None):
    day = TODAY + timedelta(days=closes)
    ponds = (number,) if ponds is None else ponds
    return Job(minutes, day, TODAY + timedelta(days=opens), number, ponds)


def test_work_that_does_not_fit_before_its_windows_close_is_told_pond_by_pond():
    jobs = [job(n, closes=9) for n in range(14)] + [job(99, closes=20, minutes=120)]

    found = capacity(jobs, crews(1.0), TODAY)

    assert (found.jobs, found.needed_h, found.available_h) == (15, 16, 21)
    assert found.person_days == 42
    assert len(found.missed_ponds) == 4
    assert 99 not in found.missed_ponds
    assert len(capacity(jobs, crews(1.0), TODAY, share=0.5).missed_ponds) == 9


def test_as_few_ponds_as_possible_are_left_waiting():
    big, small = job(1, closes=9, minutes=600), [job(n, closes=10) for n in range(2, 9)]

    assert capacity([big, *small], crews(1.0), TODAY).missed_ponds == (1,)


def test_hours_before_the_first_window_opens_do_not_count():
    found = capacity([job(1, closes=9, minutes=600, opens=5)], crews(1.0), TODAY)

    assert found.available_h == 5
    assert found.missed_ponds == (1,)


def test_work_whose_window_is_closed_already_is_missed():
    assert capacity([job(1, closes=-3)], crews(8.0), TODAY).missed_ponds == (1,)


def test_nothing_left_is_no_curve():
    assert capacity([], crews(8.0), TODAY).points == ()


@pytest.mark.parametrize(
    ("month", "southern", "season"),
    [
        (8, False, Season.WINTER),
        (1, False, Season.WINTER),
        (2, False, Season.SPRING),
        (7, False, Season.SPRING),
        (2, True, Season.WINTER),
        (7, True, Season.WINTER),
        (8, True, Season.SPRING),
        (1, True, Season.SPRING),
    ],
)
def test_winter_is_planned_from_august_and_spring_from_february_and_turned_in_the_south(
    month, southern, season
):
    assert season_shown(date(2026, month, 1), southern) == season


def test_pace_is_told_after_ten_person_days_and_what_other_work_leaves_before():
    assert pace_share(5, 20, 9) is None
    assert pace_share(5, 20, 10) == 0.25
    assert pace_share(50, 20, 10) == 1
    assert share_left(30, 40) == 0.25
    assert share_left(50, 40) == 0
    assert share_left(0, 0) == 0
    with pytest.raises(ValueError, match="share"):
        capacity([job(1, 1)], {}, TODAY, share=2)


jobs = st.lists(
    st.builds(
        job, st.integers(1, 9), st.integers(-5, 50), st.integers(1, 600), st.integers(-5, 30)
    ),
    max_size=20,
)


@given(jobs, st.floats(0, 20), st.floats(0, 20))
def test_more_hours_never_let_more_ponds_miss_and_the_curves_never_fall(some, one, more):
    less = capacity(some, crews(one), TODAY)
    all_ = capacity(some, crews(one + more), TODAY)

    assert all_.missed_jobs <= less.missed_jobs
    for name in ("needed_h", "available_h"):
        values = [getattr(point, name) for point in less.points]
        assert values == sorted(values)
    assert less.needed_h == pytest.approx(sum(j.minutes for j in some) / 60)
