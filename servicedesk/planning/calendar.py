"""Days at a site, weeks, months with their ends, and hours in which nobody is disturbed."""

import re
from calendar import monthrange
from collections.abc import Collection
from datetime import MAXYEAR, MINYEAR, UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

QUIET_FROM = time(20)
QUIET_UNTIL = time(8)
SUNDAY = 7
WEEK = re.compile(r"(\d{4})-W(\d{2})")
MONTH_DAY = re.compile(r"(\d{2})-(\d{2})")


def site_date(at: datetime, zone: str) -> date:
    """The date on the wall at a site.

    at: an instant with a zone.
    zone: name in the IANA zone database, such as America/Chicago.
    Returns the local date.
    Raises ValueError when the instant has no zone.
    Source: IANA time zone database.
    """
    if at.tzinfo is None:
        raise ValueError("an instant needs a time zone; this one has none")
    return at.astimezone(ZoneInfo(zone)).date()


def week_name(day: date) -> str:
    """The ISO week of a day, by ISO year: 3 January 2027 lies in 2026-W53.

    day: any date.
    Returns text such as "2026-W48".
    Source: ISO 8601 week rule.
    """
    year, week, _ = day.isocalendar()
    return f"{year:04d}-W{week:02d}"


def said_day(day: date, *, near: date | None = None) -> str:
    """A day as it is said in a sentence, such as "Wednesday 2 December".

    day: any date.
    near: a day that the sentence is about; of another year than this one, the year is said too.
    Returns English text without a leading zero.
    Source: our own words.
    """
    year = f" {day.year}" if near and near.year != day.year else ""
    return f"{day:%A} {day.day} {day:%B}{year}"


def said_week(day: date) -> str:
    """The week of a day as it is said where no dates stand beside it.

    day: any date.
    Returns text such as "Week 48 of 2026", by ISO year.
    Source: ISO 8601 week rule; our own words.
    """
    year, week, _ = day.isocalendar()
    return f"Week {week} of {year}"


def week_monday(name: str) -> date:
    """The Monday that begins an ISO week.

    name: such as "2026-W48".
    Returns its Monday.
    Raises ValueError, with a sentence for the reader, when there is no such week, or when it lies
    at an end of the calendar, where no week stands before or after it.
    Source: ISO 8601 week rule.
    """
    match = WEEK.fullmatch(name)
    if match and not MINYEAR < int(match[1]) < MAXYEAR:
        raise ValueError(f"there is no week {name} in this calendar")
    if not match:
        raise ValueError(f"{name!r} is not a week: write it like 2026-W48")
    try:
        return date.fromisocalendar(int(match[1]), int(match[2]), 1)
    except ValueError as error:
        raise ValueError(f"there is no week {name}: {error}") from error


def week_date(day: date) -> str:
    """A day by the number of its week.

    day: any date.
    Returns text such as "2026-W53-5" for 1 January 2027.
    Source: ISO 8601 week rule.
    """
    return f"{week_name(day)}-{day.isoweekday()}"


def long_years(first_year: int, last_year: int) -> list[int]:
    """The years that have 53 weeks.

    first_year, last_year: both counted, 1 to 9999.
    Returns the years in order.
    Raises ValueError for a year that no date can have.
    Source: ISO 8601 week rule; 28 December always lies in the last week of its year.
    """
    if not 1 <= first_year <= last_year <= 9999:
        raise ValueError("first_year and last_year must lie between 1 and 9999, in this order")
    years = range(first_year, last_year + 1)
    return [year for year in years if date(year, 12, 28).isocalendar().week == 53]


def working_days(
    first: date, last: date, *, free: Collection[date] = (), weekdays: Collection[int] = range(1, 6)
) -> list[date]:
    """The days on which people work.

    first, last: both counted.
    free: days off, such as public holidays.
    weekdays: ISO numbers of working weekdays, 1 for Monday.
    Returns the days in order; none when last lies before first.
    Source: our own rule.
    """
    span = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return [day for day in span if day.isoweekday() in weekdays and day not in free]


def add_months(anchor: date, months: int) -> date:
    """A day some calendar months after an anchor, clamped to the month's end.

    anchor: the original day; always count from it, never from the last result, so that
    31 January gives 28 February and then 31 March.
    months: how many, may be negative.
    Returns the day.
    Raises ValueError when it lies outside the calendar.
    Source: dateutil's relativedelta; 29 February becomes 28 February in common years.
    """
    year, month = divmod(12 * anchor.year + anchor.month - 1 + months, 12)
    if not MINYEAR <= year <= MAXYEAR:
        raise ValueError(f"{months} months from {anchor} lie outside the calendar")
    last = monthrange(year, month + 1)[1]
    return anchor.replace(year=year, month=month + 1, day=min(anchor.day, last))


def month_day(text: str, year: int) -> date:
    """A month and day of a year.

    text: such as "12-05".
    year: the year to put it in; 02-29 becomes 28 February in a common year.
    Returns the date.
    Raises ValueError, with a sentence for the reader, when there is no such day.
    Source: our own rule.
    """
    match = MONTH_DAY.fullmatch(text)
    if not match:
        raise ValueError(f"{text!r} is not a month and day: write it like 12-05")
    try:
        leap = date(2024, int(match[1]), int(match[2]))  # a leap year, so that 02-29 is a day
    except ValueError as error:
        raise ValueError(f"there is no day {text}: {error}") from error
    return add_months(leap, 12 * (year - 2024))


def is_in_part_of_year(day: date, first: str, last: str) -> bool:
    """Whether a day lies between two days of every year, both included.

    day: at the site.
    first, last: month and day, such as "11-15" and "04-30"; the last may lie in the next year.
    Returns False where either is empty.
    Source: our own rule.
    """
    if not (first and last):
        return False
    today = f"{day:%m-%d}"
    return first <= today <= last if first <= last else today >= first or today <= last


def next_allowed(
    now: datetime,
    zone: str,
    *,
    quiet_from: time = QUIET_FROM,
    quiet_until: time = QUIET_UNTIL,
    on_sunday: bool = False,
) -> datetime:
    """The first instant, now or later, at which a person may be disturbed.

    now: an instant with a zone.
    zone: the zone of the person, in the IANA database.
    quiet_from, quiet_until: local times between which all is quiet, over midnight.
    on_sunday: whether Sundays are open too.
    Returns now itself when it is allowed, else a later instant in UTC.
    Raises ValueError when the quiet hours leave no time, or now has no zone.
    Source: our own rule, on the IANA time zone database.
    """
    if quiet_until >= quiet_from:
        raise ValueError("quiet hours have to begin in the evening and end in the morning")
    local_day = site_date(now, zone)
    rules = (ZoneInfo(zone), quiet_from, quiet_until, on_sunday)
    if _is_open(now, *rules):
        return now
    for days in range(4):  # a Sunday, a day that a zone skipped, and one to spare
        morning = datetime.combine(local_day + timedelta(days=days), quiet_until)
        for fold in (0, 1):
            at = morning.replace(tzinfo=rules[0], fold=fold).astimezone(UTC)
            if at >= now and _is_open(at, *rules):
                return at
    raise ValueError(f"no allowed time within four days of {now} in {zone}")


def _is_open(at, zone, quiet_from, quiet_until, on_sunday):
    local = at.astimezone(zone)
    return quiet_until <= local.time() < quiet_from and (on_sunday or local.isoweekday() != SUNDAY)
