"""Occasions of a year; calendar arithmetic against the library that the standard came with."""

from datetime import date, timedelta

from dateutil.relativedelta import relativedelta

from servicedesk.planning.year import later_occasions, months_ahead


def test_task_comes_again_at_its_interval_until_the_horizon():
    days = list(later_occasions(date(2026, 7, 1), 120, date(2027, 6, 30)))

    assert days == [date(2026, 7, 1) + timedelta(days=n * 120) for n in range(4)]


def test_task_without_interval_comes_once_and_none_after_the_horizon():
    assert list(later_occasions(date(2026, 7, 1), None, date(2027, 6, 30))) == [date(2026, 7, 1)]
    assert list(later_occasions(date(2027, 7, 1), 30, date(2027, 6, 30))) == []


def test_part_of_a_day_does_not_add_up_to_a_wrong_day():
    last = list(later_occasions(date(2026, 1, 1), 30.4375, date(2026, 12, 31)))[-1]

    assert last == date(2026, 1, 1) + timedelta(days=round(11 * 30.4375))


def test_twelve_months_begin_with_that_of_today():
    months = months_ahead(date(2026, 11, 30))  # counted with dateutil

    assert months == [date(2026, 11, 1) + relativedelta(months=n) for n in range(12)]
