"""Series of dates as calendar files write them, and the alarms beside them."""

import re
from datetime import datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

from dateutil.rrule import rrulestr
from icalendar import vDuration

MOST_OCCURRENCES = 10_000
NUMBER_WORDS = {
    word: number
    for number, word in enumerate(
        ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"), start=1
    )
}
WHEN = re.compile(
    r"(?P<count>\d+|[a-z]+) (?P<unit>minute|hour|day|week)s? (?P<side>before|after) "
    r"the (?P<end>start|end)\b.*",
    re.IGNORECASE,
)


def recurrence(
    dtstart: str,
    rrule: str,
    tzid: str | None = None,
    exdate: str | None = None,
    first: int | None = None,
) -> list[str]:
    """The occurrences of a recurrence rule, by the wall clock of a zone.

    dtstart: local start, such as 19970902T090000.
    rrule: the rule, such as FREQ=MONTHLY;COUNT=10;BYDAY=1FR; down to minutes.
    tzid: zone in the IANA database; without one, days alone are answered.
    exdate: local instants left out, separated by commas.
    first: how many to answer, 1 to 10 000; without it all, when the rule ends.
    Returns local times with their offset, or days.
    Raises ValueError for a rule, zone or instant that cannot be read, and for a series without
        an end when `first` is not given.
    Source: RFC 5545 (2009), 3.3.10 and 3.8.5.3. A month without the day is skipped, not clamped.
    """
    if first is not None and not 1 <= first <= MOST_OCCURRENCES:
        raise ValueError(f"first: ask for 1 to {MOST_OCCURRENCES} occurrences")
    if "SECONDLY" in rrule.upper():
        raise ValueError("rrule: a series by the second is not a calendar's; use MINUTELY or more")
    zone = ZoneInfo(tzid) if tzid else None
    start = _local(dtstart, zone)
    left_out = {_local(text, zone) for text in exdate.split(",")} if exdate else set()
    series = (at for at in _rule(rrule, start) if at not in left_out)
    found = list(islice(series, first or MOST_OCCURRENCES + 1))
    if len(found) > MOST_OCCURRENCES:
        raise ValueError("this series has no end in sight: say with first how many to answer")
    return [at.isoformat(timespec="minutes") if zone else at.date().isoformat() for at in found]


def occurrences(dtstart: str, rrule: str, tzid: str | None = None) -> int:
    """How many occurrences a recurrence rule has.

    dtstart: local start, such as 19970902T090000.
    rrule: the rule, with COUNT or UNTIL.
    tzid: zone in the IANA database, needed where UNTIL is given in UTC.
    Returns their number, up to 10 000.
    Raises ValueError for a rule that cannot be read, or that has no end in sight.
    Source: RFC 5545 (2009), 3.8.5.3.
    """
    return len(recurrence(dtstart, rrule, tzid))


def alarm_trigger(when: str) -> str:
    """The TRIGGER of an alarm.

    when: such as "15 minutes before the start" or "five minutes after the end"; minutes, hours,
        days or weeks.
    Returns a duration, such as -PT15M; counted from the end it goes with RELATED=END.
    Raises ValueError when the words cannot be read.
    Source: RFC 5545 (2009), 3.3.6 and 3.8.6.3.
    """
    match = WHEN.fullmatch(when.strip())
    count = match and (NUMBER_WORDS.get(match["count"].lower()) or match["count"])
    if not match or not str(count).isdigit():
        raise ValueError(f'when: {when!r} cannot be read; write "15 minutes before the start"')
    length = timedelta(**{f"{match['unit'].lower()}s": int(count)})
    return _duration(-length if match["side"].lower() == "before" else length)


def alarm_repeat(times: int, minutes: int) -> list[str]:
    """The lines by which an alarm rings again.

    times: how often after the first time, 1 or more.
    minutes: time between two of them [min], 1 or more.
    Returns the lines REPEAT and DURATION, which only go together.
    Raises ValueError for a number below 1.
    Source: RFC 5545 (2009), 3.8.6.2.
    """
    if times < 1 or minutes < 1:
        raise ValueError("times and minutes must be 1 or more")
    return [f"REPEAT:{times}", f"DURATION:{_duration(timedelta(minutes=minutes))}"]


def _rule(text, start):
    try:
        return rrulestr(text, dtstart=start)
    except (ValueError, AttributeError, LookupError) as error:
        raise ValueError(
            f"rrule: {text!r} cannot be read ({error}); write such as FREQ=MONTHLY;COUNT=10"
        ) from error


def _local(text, zone):
    return datetime.fromisoformat(text.strip()).replace(tzinfo=zone)


def _duration(length):
    return vDuration(length).to_ical().decode()
