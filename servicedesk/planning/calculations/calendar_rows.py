"""Days, calendars, invitations, clocks and seasons, by name."""

from servicedesk.planning import calendar, instants, invitations, recurrence
from servicedesk.planning.calculations.engine import Calculation
from servicedesk.planning.due import counting
from servicedesk.planning.seasons import Climate, Window, season_windows


def windows_of_season(
    season: str,
    latitude: float,
    first_year: int,
    last_year: int,
    ice_on: str = "",
    ice_on_earliest: str = "",
    ice_out: str = "",
    layering: str = "",
    mixing: str = "",
    has_winter: bool = True,
) -> tuple[Window, ...]:
    """The season windows of a site.

    season: winter, spring or summer.
    latitude: degrees, -90 to 90, negative in the south.
    first_year, last_year: calendar years in which a window may open.
    ice_on, ice_on_earliest, ice_out, layering, mixing: the region's usual days as month-day
        text such as 12-05; empty where nobody knows.
    has_winter: whether ponds freeze over there.
    Returns each window with its first day, its last day and the reason.
    Raises ValueError for an unknown season, or text that is no month and day.
    Source: common practice, no source; the windows before ice are a judgement.
    """
    if not -90 <= latitude <= 90:
        raise ValueError("latitude must lie between -90 and 90 degrees")
    if not first_year <= last_year <= first_year + 100:
        raise ValueError("last_year must lie within a hundred years after first_year")
    days = (ice_on, ice_on_earliest, ice_out, layering, mixing)
    climate = Climate(latitude, has_winter, *days)
    return season_windows(season, climate, range(first_year, last_year + 1))


CALCULATIONS = (
    Calculation(
        "add_months", calendar.add_months, (r"adding calendar months.*",), {"date": "anchor"}
    ),
    Calculation("series_day", counting.series_day),
    Calculation("week_date", calendar.week_date, (r"iso 8601 week date",), {"date": "day"}),
    Calculation("week_name", calendar.week_name, (), {"date": "day"}),
    Calculation("week_monday", calendar.week_monday, (), {"week": "name"}),
    Calculation(
        "long_years",
        calendar.long_years,
        (r"iso 8601 years with week 53,? (?P<first_year>\d{4})\W(?P<last_year>\d{4})",),
    ),
    Calculation("occurrences", recurrence.occurrences, (r"recurrence:? number of occurrences.*",)),
    Calculation("recurrence", recurrence.recurrence, (r"recurrence\b.*",)),
    Calculation("alarm_trigger", recurrence.alarm_trigger, (r"alarm trigger text:? (?P<when>.*)",)),
    Calculation(
        "alarm_repeat",
        recurrence.alarm_repeat,
        (r"repeat of an alarm:? (?P<times>\d+) more times (?P<minutes>\d+) minutes apart",),
    ),
    Calculation("folded_octets", invitations.folded_octets, (r"content line fold",)),
    Calculation("escaped_text", invitations.escaped_text, (r"text escaping",)),
    Calculation(
        "sequence_after",
        invitations.sequence_after,
        (
            r"rescheduled visit:? (?P<changed>[a-z]+) changes.*",
            r"cancelled visit:? sequence after method (?P<method>\w+)",
        ),
    ),
    Calculation(
        "properties_of_new_sequence",
        invitations.properties_of_new_sequence,
        (r"properties whose change by the organizer must raise sequence",),
    ),
    Calculation(
        "calendar_part_type",
        invitations.calendar_part_type,
        (r"mail part of an invitation:? content.type",),
    ),
    Calculation("method_agrees", invitations.method_agrees, (r"method parameter must equal.*",)),
    Calculation(
        "encodings_beyond_ascii",
        invitations.encodings_beyond_ascii,
        (r"transfer encoding when text is not ascii",),
    ),
    Calculation(
        "alternative_type",
        invitations.alternative_type,
        (r"a plain.text alternative goes with the calendar part",),
    ),
    Calculation("minimal_invitation", invitations.minimal_invitation, (r"minimal invitation.*",)),
    Calculation(
        "unsubscribe_headers", invitations.unsubscribe_headers, (r"one.click unsubscribe headers",)
    ),
    Calculation(
        "unsubscribe_body", invitations.unsubscribe_body, (r"one.click unsubscribe request body",)
    ),
    Calculation(
        "unsubscribe_addresses",
        invitations.unsubscribe_addresses,
        (r"addresses in a list.unsubscribe header",),
    ),
    Calculation("is_one_click", invitations.is_one_click, (r"one.click needs an https address",)),
    Calculation(
        "instant",
        instants.instant,
        (r"rfc 3339 timestamp to utc", r"rfc 3339 leap second text"),
    ),
    Calculation("local_time", instants.local_time, (r"utc instant in local time.*",)),
    Calculation("utc_of_local", instants.utc_of_local, (r"ambiguous local time.*",)),
    Calculation(
        "offset_h",
        instants.offset_h,
        (r"utc offset of a local time", r"zone whose .* clock change ended.*"),
    ),
    Calculation("local_time_exists", instants.local_time_exists, (r"does this local time exist",)),
    Calculation("hours_between", instants.hours_between, (r"local .* reminder on .*gap in hours",)),
    Calculation("due_by_running_days", counting.due_by_running_days),
    Calculation("due_by_run_hours", counting.due_by_run_hours),
    Calculation("meter_hours", counting.meter_hours),
    Calculation("pull_forward_days", counting.pull_forward_days),
    Calculation("season_windows", windows_of_season),
)
