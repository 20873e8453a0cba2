"""Daily air temperatures: means over days, and the first day on which such a mean is crossed."""

from collections.abc import Mapping
from datetime import date, timedelta

TOMORROW = timedelta(days=1)


def trailing_mean_c(daily_mean_c: Mapping[date, float], on: date, window_days: int) -> float | None:
    """The mean of the days that end with a day.

    daily_mean_c: mean air temperature by day [degC], in no order, gaps allowed.
    on: the last day of the mean.
    window_days: how many days, 1 to 366.
    Returns degC; None where one of the days is not known.
    Raises ValueError for a window of no days, or of more than a year.
    Source: definition.
    """
    if not 1 <= window_days <= 366:
        raise ValueError("a mean is taken over 1 to 366 days")
    days = [on - timedelta(days=back) for back in range(window_days)]
    known = [daily_mean_c[day] for day in days if day in daily_mean_c]
    return sum(known) / window_days if len(known) == window_days else None


def first_crossing(
    daily_mean_c: Mapping[date, float],
    limit_c: float,
    from_on: date,
    to_on: date,
    *,
    rising: bool,
    window_days: int = 30,
) -> date | None:
    """The first day on which a trailing mean has reached a limit, or has fallen below it.

    daily_mean_c: mean air temperature by day [degC], in no order, gaps allowed.
    limit_c: the limit [degC], -70 to 50.
    from_on, to_on: the first and the last day that is looked at.
    rising: True: at or above the limit; False: below it.
    window_days: of the mean, 1 to 366.
    Returns the day; None where there is none, or where days that it needs are not known.
    Raises ValueError for a limit or a window outside those ranges.
    Source: definition; a 30-day mean of the air follows the water of a pond (common practice).
    """
    if not -70 <= limit_c <= 50:
        raise ValueError("a limit of the air lies between -70 and 50 degC")
    day = from_on
    while day <= to_on:
        mean = trailing_mean_c(daily_mean_c, day, window_days)
        if mean is not None and (mean >= limit_c if rising else mean < limit_c):
            return day
        day += TOMORROW
    return None
