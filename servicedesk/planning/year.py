"""The occasions of a year to come, from the next due day and its interval."""

from collections.abc import Iterator
from datetime import date, timedelta

MOST_OCCASIONS = 60  # in one horizon: one a week and some


def later_occasions(due_on: date, every_days: float | None, until: date) -> Iterator[date]:
    """The next due day and those that follow, if each is done on its day and nothing pauses.

    due_on: the next due day.
    every_days: the interval in days, above 0; None where the task comes only once.
    until: the last day of the horizon.
    Returns the days in order, at most 60 of them.
    Source: our own rule; the engine's own projection says the same, day by day and more slowly.
    """
    for number in range(MOST_OCCASIONS if every_days else 1):
        on = due_on + timedelta(days=round(number * (every_days or 0)))
        if on > until:
            return
        yield on


def months_ahead(today: date, count: int = 12) -> list[date]:
    """The first days of some months, that of today first.

    today: any day of the first month.
    count: how many months, above 0.
    Returns first days of months in order.
    Source: our own rule.
    """
    start = today.year * 12 + today.month - 1
    return [date((start + n) // 12, (start + n) % 12 + 1, 1) for n in range(count)]
