"""The calendar of a person's rounds, read back by a calendar library and held to its RFCs."""

from datetime import UTC, datetime, timedelta

from icalendar import Calendar

from servicedesk.planning.feeds import Entry, feed, sequence_of

AT = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)


def entry(**fields):
    start = {"uid": "stop-1@example.com", "begins_at": AT, "ends_at": AT + timedelta(hours=1)}
    return Entry(**start | {"written_at": AT, "summary": "Mill Lane: Filter change"} | fields)


def events(*entries):
    return Calendar.from_ical(feed("Dario", list(entries))).walk("VEVENT")


def test_feed_has_what_the_standard_requires():
    calendar = Calendar.from_ical(feed("Dario", [entry()]))
    event = calendar.walk("VEVENT")[0]

    # RFC 5545, 3.6: PRODID and VERSION; 3.6.1: UID and DTSTAMP, DTSTART where there is no METHOD
    assert calendar["VERSION"] == "2.0"
    assert calendar["PRODID"]
    assert {"UID", "DTSTAMP", "DTSTART"} <= set(event)
    # RFC 5546, 3.2.1: a published event has a summary; a sequence above 0 is written
    assert event["SUMMARY"] == "Mill Lane: Filter change"
    assert event["STATUS"] == "CONFIRMED"


def test_lines_end_and_break_as_the_standard_says():
    text = feed("Dario", [entry(words="a long line of work " * 20)])

    # RFC 5545, 3.1: CRLF, and lines of at most 75 octets
    assert text.count(b"\n") == text.count(b"\r\n")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75


def test_stop_that_was_called_off_stays_in_the_feed_as_cancelled():
    gone = events(entry(is_cancelled=True, sequence=1))[0]

    assert (gone["STATUS"], gone["SEQUENCE"]) == ("CANCELLED", 1)


def test_sequence_counts_each_change_once():
    eight, nine = ("08:00", "09:00"), ("09:00", "10:00")

    assert sequence_of([eight]) == 0
    assert sequence_of([eight, eight]) == 0
    assert sequence_of([eight, nine]) == 1
    assert sequence_of([eight, None, eight]) == 2
