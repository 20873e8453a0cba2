"""Where the records of a place begin later than its clocks: days counted on a calendar."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.kinds import SystemState
from servicedesk.kinds import Anchor, Clock
from servicedesk.planning.due.engine import due
from servicedesk.planning.due.facts import Done, Place, RhythmRule, TaskRule
from servicedesk.planning.due.timeline import StateFrom, timeline
from servicedesk.planning.seasons import Window

BEGIN, RECORDS, TODAY = date(2021, 4, 20), date(2026, 5, 3), date(2026, 6, 1)
CHECK = TaskRule("check", "Check", (RhythmRule(Clock.OP, 120, "d"),), 21, 14)
HOURS = TaskRule("wear", "Wear", (RhythmRule(Clock.RUN, 2400, "h"),), 21, 14)
VALVE = TaskRule("valve", "Valve test", (RhythmRule(Clock.CAL, 365, "d"),), 60, 45)
YEARLY = TaskRule(
    "inspection",
    "Inspection",
    (RhythmRule(Clock.CAL, 12, "month"),),
    30,
    30,
    anchor=Anchor.FIXED,
)
SEASON = TaskRule("summer", "Summer check", (RhythmRule(Clock.SEASON),), 14, 14)


def place(records_from=RECORDS, history=(), **more):
    line = timeline([StateFrom(BEGIN, SystemState.RUNNING), *history])
    return Place(line, BEGIN, records_from=records_from, **more)


def done(on):
    return Done(datetime.combine(on, time(15), UTC), on, on.isoformat(), "Check")


def test_task_never_recorded_counts_from_where_the_records_begin_and_says_so():
    found = due(CHECK, place(), TODAY)

    assert found.on == RECORDS + timedelta(days=120) == date(2026, 8, 31)
    assert found.estimated
    assert found.because == (
        "120 running days since the records begin on 3 May 2026; "
        "what was done before is not on record."
    )


def test_days_and_hours_count_likewise_and_hours_of_before_do_not():
    assert due(VALVE, place(), TODAY).on == date(2027, 5, 3)
    hours = due(HOURS, place(hours_before=9000.0), TODAY)
    assert hours.on == RECORDS + timedelta(days=100)
    assert "run before" not in hours.because


@pytest.mark.parametrize("records_from", [None, BEGIN, BEGIN - timedelta(days=9)])
def test_records_since_the_beginning_change_nothing(records_from):
    found = due(CHECK, place(records_from), TODAY)

    assert (found.on, found.estimated) == (BEGIN + timedelta(days=120), False)
    assert found.because == "120 running days since commissioning on 20 April 2021."


def test_work_told_of_a_day_before_the_records_begin_still_counts():
    found = due(CHECK, place(done=(done(date(2026, 3, 14)),)), TODAY)

    assert (found.on, found.estimated) == (date(2026, 7, 12), False)


def test_yearly_day_is_kept_and_only_the_next_one_after_the_records_begin_counts():
    found = due(YEARLY, place(), TODAY)

    assert found.on == date(2027, 4, 20)
    assert found.because == (
        "Every 12 months, counted from commissioning on 20 April 2021; "
        "never recorded so far, and the records begin on 3 May 2026."
    )
    earlier = due(YEARLY, place(date(2026, 4, 1)), TODAY)
    assert earlier.on == date(2026, 4, 20)


def test_season_window_that_closed_before_the_records_begin_is_over():
    windows = tuple(Window(date(y, 3, 1), date(y, 4, 1), "ice is out") for y in (2026, 2027))

    assert due(SEASON, place(windows=windows), TODAY).on == date(2027, 4, 1)
    assert due(SEASON, place(None, windows=windows), date(2026, 5, 20)).on == date(2026, 4, 1)


def test_clock_that_stands_still_says_what_is_not_known():
    off = StateFrom(date(2026, 5, 23), SystemState.SHUT_OTHER)

    found = due(CHECK, place(history=[off]), TODAY)

    assert found.paused
    assert found.because == (
        "Paused since 23 May 2026, switched off, with 100 running days left of 120 running days "
        "since the records begin on 3 May 2026; what was done before is not on record."
    )


days = st.dates(BEGIN, TODAY)


@given(st.sampled_from([CHECK, HOURS, VALVE, YEARLY]), days, st.lists(days, max_size=4))
def test_later_records_never_make_a_task_due_sooner_and_a_work_settles_the_matter(
    rule, records_from, works
):
    works = tuple(map(done, works))

    found = due(rule, place(records_from, done=works), TODAY)

    plain = due(rule, place(None, done=works), TODAY)
    assert found.on == plain.on if works else found.on >= plain.on
