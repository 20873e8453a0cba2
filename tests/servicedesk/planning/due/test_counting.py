"""Intervals have no outside table: expected days are counted on a calendar, beside each test."""

from datetime import date, timedelta

import pytest

from servicedesk.planning.due import counting

DAY = date(2026, 8, 22)


def test_running_days_stop_in_the_pause_and_go_on_after_it():
    found = counting.due_by_running_days(DAY, 120, date(2026, 11, 10), date(2027, 4, 5))

    assert found == date(2027, 4, 5) + timedelta(days=120 - 80)


def test_running_days_without_an_end_of_the_pause_have_no_day():
    assert counting.due_by_running_days(DAY, 120, date(2026, 11, 10)) is None


def test_run_hours_follow_the_timer():
    assert counting.due_by_run_hours(DAY, 2900, 8) == DAY + timedelta(days=363)  # 362.5 days


@pytest.mark.parametrize(
    ("first", "second", "days", "turns", "hours"),
    [
        (14_000, 14_230, 30, 0, 230),
        (9_990.5, 20.5, 5, 9999.9, 30),  # ten thousand less 9990.5, and 20.5 more
        (99_950, 70, 10, 99_999, 120),
    ],
)
def test_meter_counts_over_its_last_figure(first, second, days, turns, hours):
    assert counting.meter_hours(first, second, days, turns) == pytest.approx(hours)


@pytest.mark.parametrize("readings", [(500, 400, 30, 0), (100, 5_000, 30, 0)])
def test_hours_that_cannot_have_passed_are_refused_with_what_to_look_for(readings):
    with pytest.raises(ValueError, match="replaced"):
        counting.meter_hours(*readings)


@pytest.mark.parametrize(("every", "days"), [(120, 21), (105, 21), (90, 18), (30, 6), (4, 0)])
def test_task_joins_a_visit_at_most_21_days_and_a_fifth_of_its_interval_early(every, days):
    assert counting.pull_forward_days(every) == days


def test_monthly_series_is_clamped_from_its_anchor():
    days = [counting.series_day(date(2027, 1, 31), 1, number) for number in range(4)]

    assert days == [date(2027, 1, 31), date(2027, 2, 28), date(2027, 3, 31), date(2027, 4, 30)]
