"""Intervals have no outside table: expected days are counted on a calendar, beside each test."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from equipment.kinds import SystemState
from servicedesk.kinds import Anchor, Clock, DecisionKind, DoneBy, Join
from servicedesk.planning.due.engine import due, projected
from servicedesk.planning.due.facts import Done, Event, Place, RhythmRule, TaskRule, Verdict
from servicedesk.planning.due.timeline import MeterSpan, ScheduleFrom, StateFrom, timeline
from servicedesk.planning.seasons import Window

RUNNING, SHUT = SystemState.RUNNING, SystemState.SHUT_WINTER
BEGIN = date(2025, 5, 1)
TODAY = date(2026, 11, 25)
FILTER = TaskRule(
    slug="filter_change",
    name="Filter change",
    rhythms=(RhythmRule(Clock.RUN, 2900, "h"), RhythmRule(Clock.OP, 120, "d")),
    early_days=21,
    late_days=14,
)
ANNUAL = TaskRule(
    slug="annual_inspection",
    name="Annual inspection",
    rhythms=(RhythmRule(Clock.CAL, 12, "month"),),
    early_days=30,
    late_days=30,
    anchor=Anchor.FIXED,
)


def done(on, name="Filter change", **more):
    at = datetime.combine(on, time(15), UTC)
    return Done(at=at, on=on, key=on.isoformat(), name=name, **more)


def decided(kind, about_on, until_on=None, at=None, **more):
    at = datetime.combine(at or about_on, time(9), UTC)
    return Verdict(kind, at, about_on, until_on, "Priya Nand", "owner away", **more)


def place(*states, schedules=(), spans=(), **more):
    history = [StateFrom(BEGIN, RUNNING), *(StateFrom(*s) for s in states)]
    return Place(timeline=timeline(history, schedules, spans), since=BEGIN, **more)


def test_filter_falls_due_after_120_running_days():
    found = due(FILTER, place(done=(done(date(2026, 8, 3)),)), TODAY)

    assert found.on == date(2026, 8, 3) + timedelta(days=120) == date(2026, 12, 1)
    assert (found.opens_on, found.closes_on) == (date(2026, 11, 10), date(2026, 12, 15))
    assert found.because == "120 running days since the filter change of 3 August 2026."


def test_task_never_done_counts_from_commissioning():
    found = due(FILTER, place(), TODAY)

    assert found.on == BEGIN + timedelta(days=120)
    assert found.because == "120 running days since commissioning on 1 May 2025."


def test_pause_in_winter_leaves_no_due_day_and_says_what_is_left():
    shut = place((date(2026, 11, 10), SHUT), done=(done(date(2026, 8, 22)),))  # 80 days run

    found = due(FILTER, shut, date(2027, 1, 20))

    assert (found.on, found.paused) == (None, True)
    assert found.because == (
        "Paused since 10 November 2026, shut for winter, "
        "with 40 running days left of 120 running days since the filter change of 22 August 2026."
    )


def test_days_left_before_the_winter_are_run_after_it():
    days_only = replace(FILTER, rhythms=FILTER.rhythms[1:])
    history = place(
        (date(2026, 11, 10), SHUT), (date(2027, 4, 5), RUNNING), done=(done(date(2026, 8, 22)),)
    )

    found = due(days_only, history, date(2027, 4, 20))

    assert found.on == date(2027, 4, 5) + timedelta(days=40) == date(2027, 5, 15)
    assert found.because == (
        "120 running days since the filter change of 22 August 2026, "
        "paused 146 days while shut for winter."
    )


def test_interval_reached_before_a_pause_waits_for_the_restart():
    shut = place((date(2026, 11, 10), SHUT), done=(done(date(2026, 6, 1)),))

    found = due(FILTER, shut, date(2027, 1, 20))

    assert found.paused
    assert "waits for the restart" in found.because


def test_tolerance_after_a_pause_is_counted_in_running_days():
    history = place(
        (date(2026, 10, 2), SHUT), (date(2027, 4, 5), RUNNING), done=(done(date(2026, 6, 1)),)
    )

    found = due(FILTER, history, date(2027, 4, 20))

    assert found.on == date(2026, 9, 29)
    assert found.closes_on == date(2027, 4, 16)  # 3 days run before the pause, 11 after it


def test_rubber_ages_while_the_system_is_off():
    membrane = TaskRule("m", "Membrane inspection", (RhythmRule(Clock.CAL, 730, "d"),), 90, 120)
    history = place((date(2025, 6, 1), SHUT), done=(done(date(2025, 6, 1), "Membrane inspection"),))

    found = due(membrane, history, TODAY)

    assert found.on == date(2027, 6, 1)


def test_timer_stretches_the_days_to_the_run_hours():
    history = place(schedules=[ScheduleFrom(BEGIN, 8)], done=(done(date(2026, 1, 1)),))
    hours_only = replace(FILTER, rhythms=FILTER.rhythms[:1])

    found = due(hours_only, history, TODAY)

    assert found.on == date(2026, 1, 1) + timedelta(days=363)  # 2900 / 8 = 362.5
    assert found.estimated
    assert "at 8 h a day (estimated)" in found.because


def test_whichever_clock_comes_first_decides():
    slow = place(schedules=[ScheduleFrom(BEGIN, 8)], done=(done(date(2026, 1, 1)),))

    assert due(FILTER, slow, TODAY).on == date(2026, 5, 1)
    assert due(replace(FILTER, join=Join.LAST), slow, TODAY).on == date(2026, 12, 30)


def test_first_meter_reading_corrects_the_estimate():
    hours_only = replace(FILTER, rhythms=FILTER.rhythms[:1])
    start = date(2026, 1, 1)
    spans = [MeterSpan(start, start + timedelta(days=100), 1800.0)]  # 18 h a day, not 24

    found = due(hours_only, place(spans=spans, done=(done(start),)), TODAY)

    assert found.on == start + timedelta(days=162)  # 1100 h left at 18 h a day: 61.1 days
    assert not found.estimated
    assert "at 18 h a day (metered until 11 April 2026)" in found.because


def test_meter_that_began_after_the_last_work_leaves_the_day_estimated():
    spans = [MeterSpan(date(2026, 2, 1), date(2026, 3, 1), 28 * 24.0)]

    found = due(
        replace(FILTER, rhythms=FILTER.rhythms[:1]),
        place(spans=spans, done=(done(date(2026, 1, 1)),)),
        TODAY,
    )

    assert found.estimated


def test_yearly_series_keeps_its_day_however_late_it_was_done():
    late = place(done=(done(date(2026, 8, 20), "Annual inspection"),))

    assert due(ANNUAL, late, TODAY).on == date(2027, 5, 1)


@pytest.mark.parametrize(
    ("on", "next_on"),
    [(date(2026, 4, 1), date(2027, 5, 1)), (date(2026, 3, 31), date(2026, 5, 1))],
)
def test_yearly_work_counts_for_its_occasion_from_the_early_window_on(on, next_on):
    found = due(ANNUAL, place(done=(done(on, "Annual inspection"),)), date(2026, 4, 2))

    assert found.on == next_on


def test_yearly_series_begun_on_a_leap_day_keeps_its_anchor():
    leap = Place(timeline(()), since=date(2024, 2, 29))

    days = [due(ANNUAL, leap, date(y, 2, 27)).on for y in (2025, 2026, 2027, 2028)]

    assert days == [date(2025, 2, 28), date(2026, 2, 28), date(2027, 2, 28), date(2028, 2, 29)]


def test_interval_of_days_counts_from_the_day_it_was_done_early_or_late():
    valve = TaskRule("v", "Relief valve test", (RhythmRule(Clock.CAL, 365, "d"),), 60, 45)

    early = due(valve, place(done=(done(date(2026, 3, 20), "Relief valve test"),)), TODAY)

    assert early.on == date(2027, 3, 20)


def test_owners_word_resets_the_clock_and_asks_for_a_look():
    claim = done(date(2026, 8, 3), by=DoneBy.OWNER, verified=False)

    found = due(FILTER, place(done=(claim,)), TODAY)

    assert found.verify
    assert found.on == date(2026, 12, 1)
    assert "the owner says he did" in found.because


def test_season_task_is_due_on_the_last_day_of_its_window():
    windows = tuple(
        Window(date(y, 10, 31), date(y, 11, 17), "ice usually forms about 5 December")
        for y in (2025, 2026, 2027)
    )
    winter = TaskRule("w", "Winter shut-down", (RhythmRule(Clock.SEASON),))
    last_year = place(windows=windows, done=(done(date(2025, 11, 3), "Winter shut-down"),))

    found = due(winter, last_year, date(2026, 9, 1))

    assert (found.opens_on, found.on, found.closes_on) == (
        date(2026, 10, 31),
        date(2026, 11, 17),
        date(2026, 11, 17),
    )
    assert "ice usually forms about 5 December" in found.because


def test_missed_season_window_stays_in_sight_and_then_gives_way_to_the_next():
    windows = tuple(Window(date(y, 10, 31), date(y, 11, 17), "ice") for y in (2026, 2027))
    winter = TaskRule("w", "Winter shut-down", (RhythmRule(Clock.SEASON),))

    assert due(winter, place(windows=windows), date(2027, 1, 10)).on == date(2026, 11, 17)
    assert due(winter, place(windows=windows), date(2027, 2, 10)).on == date(2027, 11, 17)


def test_event_calls_for_each_of_its_steps_in_turn():
    steps = tuple(RhythmRule(Clock.EVENT, n, "d") for n in (2, 4, 7))
    ramp = TaskRule("r", "Ramp follow-up", steps, 0, 1)
    event = Event("ramp:1", date(2026, 4, 5), "the ramp that began on 5 April 2026")
    open_ = place(events=(event,))
    looked = replace(open_, done=(done(date(2026, 4, 7), "Ramp follow-up", occasion="ramp:1:2"),))

    assert due(ramp, open_, TODAY).on == date(2026, 4, 7)
    assert (due(ramp, looked, TODAY).on, due(ramp, looked, TODAY).occasion) == (
        date(2026, 4, 9),
        "ramp:1:4",
    )
    assert due(ramp, place(), TODAY) is None


def test_postponed_task_is_due_on_the_new_day_and_names_who_said_so():
    put_off = decided(
        DecisionKind.POSTPONED, date(2026, 12, 1), date(2027, 1, 8), date(2026, 11, 20)
    )

    found = due(FILTER, place(done=(done(date(2026, 8, 3)),), verdicts=(put_off,)), TODAY)

    assert found.on == date(2027, 1, 8)
    assert found.because.startswith("Postponed until 8 January 2027 by Priya Nand: owner away.")
    assert "It was due on 1 December 2026." in found.because


def test_decision_is_over_once_the_work_is_done():
    put_off = decided(
        DecisionKind.POSTPONED, date(2026, 12, 1), date(2028, 1, 8), date(2026, 11, 20)
    )
    works = (done(date(2026, 8, 3)), done(date(2026, 12, 10)))

    found = due(FILTER, place(done=works, verdicts=(put_off,)), TODAY)

    assert found.on == date(2026, 12, 10) + timedelta(days=120)


def test_waived_occasion_lets_the_interval_run_anew():
    waived = decided(DecisionKind.WAIVED, date(2026, 12, 1), at=date(2026, 11, 20))

    found = due(FILTER, place(done=(done(date(2026, 8, 3)),), verdicts=(waived,)), TODAY)

    assert found.on == date(2026, 12, 1) + timedelta(days=120)
    assert "the waived occasion of 1 December 2026" in found.because


def test_overridden_due_day_may_be_earlier():
    sooner = decided(
        DecisionKind.OVERRIDDEN, date(2026, 12, 1), date(2026, 12, 1), date(2026, 11, 1)
    )
    sooner = replace(sooner, about_on=date(2026, 12, 1), until_on=date(2026, 11, 27))

    found = due(FILTER, place(done=(done(date(2026, 8, 3)),), verdicts=(sooner,)), TODAY)

    assert found.on == date(2026, 11, 27)


def test_blocked_task_keeps_its_day_and_says_what_blocks_it():
    held = decided(DecisionKind.BLOCKED, date(2026, 12, 1), at=date(2026, 11, 20))

    found = due(FILTER, place(done=(done(date(2026, 8, 3)),), verdicts=(held,)), TODAY)

    assert found.on == date(2026, 12, 1)
    assert found.basis["blocked"] == "owner away"
    assert found.because.startswith("Blocked by Priya Nand: owner away. 120 running days")


def test_shorter_interval_makes_nothing_overdue_backwards():
    shorter = RhythmRule(Clock.OP, 90, "d", previous_every=120, changed_on=date(2026, 11, 20))
    rule = replace(FILTER, rhythms=(shorter,))

    assert due(rule, place(done=(done(date(2026, 8, 3)),)), TODAY).on == date(2026, 11, 20)
    assert due(rule, place(done=(done(date(2026, 7, 3)),)), TODAY).on == date(2026, 10, 31)
    assert due(rule, place(done=(done(date(2026, 9, 3)),)), TODAY).on == date(2026, 12, 2)


def test_later_occasions_follow_from_each_other():
    filter_days = replace(FILTER, rhythms=FILTER.rhythms[1:])

    found = projected(
        filter_days, place(done=(done(date(2026, 8, 3)),)), TODAY, TODAY + timedelta(days=400)
    )

    assert [item.on for item in found] == [
        date(2026, 12, 1),
        date(2027, 3, 31),
        date(2027, 7, 29),
        date(2027, 11, 26),
    ]


def test_system_that_never_began_owes_nothing():
    assert due(FILTER, Place(timeline(()), since=None), TODAY) is None
