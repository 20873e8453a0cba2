"""The days of a ramp follow from dates on record: missed, stopped, resumed, late."""

from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.restart.ramps import (
    CONTINUOUS,
    DAY,
    SHORT,
    SLOW,
    STANDARD,
    DayIs,
    Held,
    Ran,
    StepEnd,
    course,
    timer,
)
from servicedesk.planning.restart.readings import LIMITS, Fish
from servicedesk.planning.restart.stops import stop_signs

MONDAY = date(2026, 4, 6)


def day(number):
    return MONDAY + (number - 1) * DAY


def done(*numbers):
    return {day(n): Ran(StepEnd.DONE, 1440) for n in numbers}


def at(number, ran, holds=()):
    """The step of a day, as it stands on that day."""
    walk = course(STANDARD, MONDAY, day(number), ran, holds)
    return next(d for d in walk.days if d.on == day(number)), walk


def test_half_an_hour_is_doubled_until_it_runs_all_day_on_the_seventh():
    assert STANDARD == (30, 60, 120, 240, 480, 960, 1440)
    days = course(STANDARD, MONDAY, MONDAY, {}).days
    assert [(d.on, d.minutes) for d in days] == [
        (day(n), m) for n, m in enumerate(STANDARD, start=1)
    ]


def test_slow_ramp_takes_twelve_days():
    assert SLOW == (15, 30, 45, 60, 75, 90, 105, 120, 240, 480, 960, 1440)


def test_missed_day_shows_the_same_step_again_and_never_the_next():
    """Day 3, two hours, was not run: day 4 shows two hours again, not four."""
    today, _ = at(4, done(1, 2))

    assert (today.minutes, today.what) == (120, DayIs.DUE)
    assert "missed" in today.because


def test_two_missed_days_go_one_step_back():
    today, _ = at(5, done(1, 2))

    assert (today.minutes, today.what) == (60, DayIs.DUE)


def test_ramp_missed_for_longer_is_closed():
    _, walk = at(5, done(1, 2))
    assert not walk.lapsed

    assert course(STANDARD, MONDAY, day(6), done(1, 2)).lapsed


def test_step_that_was_run_and_is_entered_late_mends_the_ramp():
    assert at(4, done(1, 2))[0].minutes == 120
    assert at(4, done(1, 2, 3))[0].minutes == 240


def test_day_that_ran_too_briefly_is_run_again():
    ran = done(1, 2) | {day(3): Ran(StepEnd.DONE, 60)}

    assert at(4, ran)[0].minutes == 120
    assert at(4, done(1, 2) | {day(3): Ran(StepEnd.DONE, 90)})[0].minutes == 240


def test_stop_holds_and_goes_on_one_step_back():
    ran = done(1, 2) | {day(3): Ran(StepEnd.STOPPED, 40)}
    held, walk = at(4, ran, [Held(day(3))])
    assert (held.what, walk.held, walk.coming) == (DayIs.HELD, True, ())

    today, walk = at(5, ran, [Held(day(3), day(5))])
    assert (today.minutes, today.what, walk.held) == (60, DayIs.DUE, False)


def test_stop_in_the_morning_goes_back_from_the_step_that_ran_the_day_before():
    _, walk = at(4, done(1, 2, 3), [Held(day(4))])
    assert walk.held

    assert at(5, done(1, 2, 3), [Held(day(4), day(5))])[0].minutes == 60


def test_hold_that_nobody_ends_closes_the_ramp():
    assert course(STANDARD, MONDAY, day(7), done(1, 2, 3), [Held(day(4))]).lapsed


def test_last_step_completes_it_unless_it_was_stopped_that_day():
    assert course(STANDARD, MONDAY, day(7), done(*range(1, 8))).complete
    held = course(STANDARD, MONDAY, day(7), done(*range(1, 8)), [Held(day(7))])
    assert (held.complete, held.held) == (False, True)


def test_first_step_may_be_late_and_stays_the_first():
    assert at(3, {})[0].minutes == 30
    assert course(STANDARD, MONDAY, day(4), {}).lapsed


def test_without_a_record_today_nothing_hangs_on_the_hour_or_on_how_often_it_is_asked():
    first = course(STANDARD, MONDAY, day(3), done(1, 2))
    assert first == course(STANDARD, MONDAY, day(3), dict(reversed(done(1, 2).items())))


@pytest.mark.parametrize("minutes", [STANDARD, SLOW, SHORT, CONTINUOUS])
@given(ends=st.lists(st.sampled_from([*StepEnd, None]), max_size=16), hold=st.integers(0, 15))
def test_no_step_is_ever_skipped(minutes, ends, hold):
    """A step is at most one above the highest that ran, whatever happened before."""
    ran = {
        MONDAY + timedelta(days=n): Ran(end, 1440) for n, end in enumerate(ends) if end is not None
    }
    holds = [Held(MONDAY + timedelta(days=hold), MONDAY + timedelta(days=hold + 1))]
    today = MONDAY + timedelta(days=len(ends))
    walk = course(minutes, MONDAY, today, ran, holds)
    highest = -1
    for one in walk.days:
        assert one.step <= highest + 1 or one.what == DayIs.AHEAD
        assert one.minutes == minutes[one.step]
        if one.what == DayIs.DONE:
            highest = max(highest, one.step)
    assert [one.on for one in walk.days] == sorted({one.on for one in walk.days})
    assert not (walk.lapsed and walk.complete)


def test_timer_runs_as_long_in_the_night_when_clocks_change():
    """Clocks go forward in Chicago on 8 March 2026 at two, back on 1 November 2026."""
    spring = timer(date(2026, 3, 7), 960, time(12), "America/Chicago")
    assert spring.ends.timestamp() - spring.starts.timestamp() == 960 * 60
    assert (spring.ends.hour, spring.clocks_change) == (5, False)  # 04:00 but for the change
    after = timer(date(2026, 3, 8), 30, time(8), "America/Chicago")
    assert (after.clocks_change, after.starts.hour, after.ends.minute) == (True, 8, 30)
    assert timer(date(2026, 11, 1), 30, time(8), "America/Chicago").clocks_change


def test_timer_of_a_whole_day_has_no_end():
    assert timer(MONDAY, 1440, time(8), "UTC").all_day


@pytest.mark.parametrize(
    ("before", "after", "seen", "count"),
    [
        (7, 6, (), 0),
        (7, 5, (), 0),
        (7, 4.9, (), 1),
        (3.5, 3.0, (), 0),
        (3.5, 2.9, (), 1),
        (6, 2.9, (), 2),
        (None, None, ("gasping",), 1),
        (None, None, ("smell", "dark_water"), 2),
        (None, None, (), 0),
    ],
)
def test_signs_to_stop_at_for_warm_water_fish(before, after, seen, count):
    assert len(stop_signs(LIMITS[Fish.WARM_WATER], before, after, seen)) == count


def test_trout_want_more():
    assert stop_signs(LIMITS[Fish.COLD_WATER], 6, 4.9, ())
