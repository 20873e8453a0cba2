"""Published stops of one person as a calendar that other programs come back to read."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from icalendar import Calendar, Event

MAKER = "-//Pond service desk//Rounds//EN"
LOOK_AGAIN = timedelta(minutes=30)

Times = tuple[str, str] | None  # begin and end as they were told; None: called off


@dataclass(frozen=True)
class Entry:
    """A stop as it stands, or one that was told and is called off."""

    uid: str
    begins_at: datetime
    ends_at: datetime
    written_at: datetime
    summary: str
    words: str = ""
    place: str = ""
    latitude: float | None = None
    longitude: float | None = None
    sequence: int = 0
    is_cancelled: bool = False


def feed(name: str, entries: list[Entry]) -> bytes:
    """A calendar to be subscribed to.

    name: of the calendar, as a program shows it.
    entries: its events; one that was called off stays in it as cancelled, so that programs that
        keep what they once read let go of it.
    Returns the bytes of the file.
    Source: RFC 5545 (2009), 3.6.1 and 3.8; RFC 7986 (2016), 5.1 and 5.7; RFC 5546 (2009), 3.2.1.
    """
    calendar = Calendar()
    for key, value in (("prodid", MAKER), ("version", "2.0"), ("method", "PUBLISH")):
        calendar.add(key, value)
    calendar.add("name", name)
    calendar.add("refresh-interval", LOOK_AGAIN, parameters={"VALUE": "DURATION"})
    for entry in sorted(entries, key=lambda entry: (entry.begins_at, entry.uid)):
        calendar.add_component(_event(entry))
    return calendar.to_ical()


def _event(entry: Entry) -> Event:
    event = Event()
    event["uid"] = entry.uid
    event.add("dtstamp", entry.written_at)
    event.add("dtstart", entry.begins_at)
    event.add("dtend", entry.ends_at)
    event.add("summary", entry.summary)
    event.add("sequence", entry.sequence)
    event.add("status", "CANCELLED" if entry.is_cancelled else "CONFIRMED")
    if entry.words:
        event.add("description", entry.words)
    if entry.place:
        event.add("location", entry.place)
    if entry.latitude is not None and entry.longitude is not None:
        event.add("geo", (entry.latitude, entry.longitude))
    return event


def sequence_of(versions: list[Times]) -> int:
    """How often a stop was told anew.

    versions: its times one after the other as they were told, the newest last; None where it was
        called off.
    Returns the number of changes from one to the next.
    Source: RFC 5545 (2009), 3.8.7.4: one more with each significant revision.
    """
    return sum(old != new for old, new in pairwise(versions))
