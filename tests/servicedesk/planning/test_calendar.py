"""Check rows: tests/reference/calendar.json; each row names its own source."""

import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from dateutil.parser import parse
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning import calendar

REFERENCE = Path(__file__).parents[2] / "reference" / "calendar.json"
ROWS = json.loads(REFERENCE.read_text())["rows"]
ZONES = [
    "America/Chicago",
    "America/St_Johns",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "Pacific/Apia",
    "Africa/Casablanca",
    "America/Vancouver",
]


def rows(*quantities):
    found = [r for r in ROWS if r["quantity"] in quantities]
    assert found
    return [pytest.param(r["inputs"], r["expected"], id=r["id"]) for r in found]


@pytest.mark.parametrize(
    ("given_", "expected"), rows("adding calendar months, clipped to month end")
)
def test_months_are_added_with_the_end_of_the_month_kept(given_, expected):
    day = date.fromisoformat(given_["date"])

    assert calendar.add_months(day, given_["months"]) == date.fromisoformat(expected)


@given(st.dates(date(1900, 1, 1), date(2199, 12, 31)), st.integers(-1200, 1200))
def test_months_are_added_as_dateutil_adds_them(anchor, months):
    assert calendar.add_months(anchor, months) == anchor + relativedelta(months=months)


def test_months_beyond_the_calendar_are_refused_with_a_sentence():
    with pytest.raises(ValueError, match="lie outside the calendar"):
        calendar.add_months(date(9999, 12, 1), 1)


def test_months_count_from_the_original_anchor():
    anchor = date(2027, 1, 31)

    days = [calendar.add_months(anchor, n) for n in range(4)]

    assert days == [anchor, date(2027, 2, 28), date(2027, 3, 31), date(2027, 4, 30)]


@pytest.mark.parametrize(("given_", "expected"), rows("ISO 8601 week date"))
def test_week_goes_by_its_iso_year(given_, expected):
    day = date.fromisoformat(given_["date"])

    assert f"{calendar.week_name(day)}-{day.isoweekday()}" == expected
    assert calendar.week_monday(calendar.week_name(day)) <= day


@pytest.mark.parametrize(("given_", "expected"), rows("ISO 8601 week date"))
def test_week_in_a_sentence_has_its_iso_year(given_, expected):
    year, week = expected.split("-")[:2]

    said = calendar.said_week(date.fromisoformat(given_["date"]))

    assert said == f"Week {int(week.removeprefix('W'))} of {int(year)}"


@pytest.mark.parametrize(("given_", "expected"), rows("ISO 8601 years with week 53, 2000-2060"))
def test_week_53_exists_in_the_long_years_only(given_, expected):
    def has_53(year):
        try:
            return bool(calendar.week_monday(f"{year}-W53"))
        except ValueError:
            return False

    assert [year for year in range(2000, 2061) if has_53(year)] == expected


@pytest.mark.parametrize("text", ["2026-48", "2026-W00", "2025-W53", "2026-W4", "next", "2026-w48"])
def test_text_that_is_no_week_is_refused_with_the_way_to_write_it(text):
    with pytest.raises(ValueError, match="week"):
        calendar.week_monday(text)


@pytest.mark.parametrize(
    ("given_", "expected"), rows("UTC instant in local time across a DST change")
)
def test_site_date_is_that_of_the_wall_clock_there(given_, expected):
    at = datetime.fromisoformat(given_["utc"])

    assert calendar.site_date(at, given_["zone"]) == datetime.fromisoformat(expected).date()


def test_instant_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="zone"):
        calendar.site_date(datetime(2026, 11, 25, 12), "America/Chicago")  # noqa: DTZ001


@pytest.mark.parametrize(
    ("given_", "expected"),
    rows("local 08:00 reminder on consecutive days over the autumn change: gap in hours"),
)
def test_reminder_hour_stays_the_wall_clock_hour_over_the_clock_change(given_, expected):
    zone = ZoneInfo(given_["zone"])
    first = datetime.fromisoformat(given_["first"]).replace(tzinfo=zone).astimezone(UTC)
    night = first + timedelta(hours=13)  # nine in the evening

    second = calendar.next_allowed(night, given_["zone"], on_sunday=True)

    assert (second - first) == timedelta(hours=expected)


def test_nothing_is_sent_on_a_sunday():
    saturday_evening = datetime(2026, 11, 29, 3, tzinfo=UTC)  # 21:00 on Saturday in Chicago

    at = calendar.next_allowed(saturday_evening, "America/Chicago")

    assert at == datetime(2026, 11, 30, 14, tzinfo=UTC)  # 08:00 on Monday


def test_allowed_instant_is_kept_as_it_is():
    noon = datetime(2026, 11, 25, 18, 0, 1, tzinfo=UTC)

    assert calendar.next_allowed(noon, "America/Chicago") == noon


@given(
    st.datetimes(datetime(2011, 12, 1), datetime(2027, 12, 31), timezones=st.just(UTC)),  # noqa: DTZ001
    st.sampled_from(ZONES),
)
def test_next_allowed_is_never_quiet_never_earlier_and_the_first(now, zone):
    at = calendar.next_allowed(now, zone)

    local = at.astimezone(ZoneInfo(zone))
    assert at >= now
    assert at - now < timedelta(days=3)
    assert 8 <= local.hour < 20
    assert local.isoweekday() != 7
    if at > now + timedelta(minutes=1):
        before = (at - timedelta(minutes=1)).astimezone(ZoneInfo(zone))
        assert before.hour < 8 or before.hour >= 20 or before.isoweekday() == 7


def test_quiet_hours_that_leave_no_time_are_refused():
    noon = datetime(2026, 11, 25, 18, tzinfo=UTC)

    with pytest.raises(ValueError, match="quiet hours"):
        calendar.next_allowed(noon, "UTC", quiet_from=calendar.QUIET_UNTIL)


def test_working_days_leave_out_weekends_and_days_off():
    days = calendar.working_days(date(2026, 11, 25), date(2026, 12, 1), free=[date(2026, 11, 26)])

    assert days == [date(2026, 11, 25), date(2026, 11, 27), date(2026, 11, 30), date(2026, 12, 1)]


def test_leap_day_falls_on_the_28th_in_a_common_year():
    assert calendar.month_day("02-29", 2027) == date(2027, 2, 28)
    assert calendar.month_day("02-29", 2028) == date(2028, 2, 29)


@pytest.mark.parametrize("text", ["2-30", "02-30", "13-01", "", "02/28"])
def test_month_and_day_that_do_not_exist_are_refused(text):
    with pytest.raises(ValueError, match="day"):
        calendar.month_day(text, 2026)


@pytest.mark.parametrize(
    ("day", "first", "last", "inside"),
    [
        (date(2026, 12, 31), "11-15", "04-30", True),
        (date(2027, 4, 30), "11-15", "04-30", True),
        (date(2027, 5, 1), "11-15", "04-30", False),
        (date(2026, 11, 14), "11-15", "04-30", False),
        (date(2027, 3, 1), "03-01", "03-01", True),
        (date(2028, 2, 29), "02-29", "03-10", True),
        (date(2027, 2, 28), "02-29", "03-10", False),
        (date(2027, 6, 1), "", "", False),
    ],
)
def test_part_of_a_year_may_lie_over_its_turn(day, first, last, inside):
    assert calendar.is_in_part_of_year(day, first, last) is inside


@given(st.dates(min_value=date(1900, 1, 1)))
def test_day_in_a_sentence_is_read_back_by_another_library_and_has_no_leading_zero(day):
    said = calendar.said_day(day, near=day.replace(year=day.year - 1, day=1))

    assert parse(said).date() == day
    assert f" {day.day} " in said


def test_day_in_a_sentence_says_its_year_only_where_it_is_another_one():
    day = date(2026, 12, 2)

    assert calendar.said_day(day, near=date(2026, 11, 30)) == "Wednesday 2 December"
    assert calendar.said_day(date(2030, 1, 1), near=day) == "Tuesday 1 January 2030"
