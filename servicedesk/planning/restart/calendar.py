"""The days of a ramp as a file that calendar programs read."""

from collections.abc import Iterable
from datetime import datetime

from servicedesk.planning.feeds import Entry, feed
from servicedesk.planning.restart.ramps import Timer


def ramp_calendar(
    name: str,
    timers: Iterable[Timer],
    *,
    gone: Iterable[Timer] = (),
    uid: str,
    summary: str,
    words: str,
    written_at: datetime,
    sequence: int = 0,
) -> bytes:
    """A calendar with one entry for each day on which the air runs.

    name: of the calendar.
    timers: the runs as they stand now.
    gone: runs that were told before and are called off.
    uid: beginning of each entry's own name, the same for ever.
    summary, words: title of each entry, and what to look for.
    written_at: when the ramp was approved.
    sequence: how often the days have changed since.
    Returns the bytes of the file.
    Source: RFC 5545 (2009), 3.6.1 and 3.8; RFC 5546 (2009), 3.2.1.
    """
    entries = [
        Entry(
            uid=f"{uid}-{one.on.isoformat()}",
            begins_at=one.starts,
            ends_at=max(one.ends, one.starts),
            written_at=written_at,
            summary=summary,
            words=words,
            sequence=sequence,
            is_cancelled=off,
        )
        for runs, off in ((timers, False), (gone, True))
        for one in runs
    ]
    return feed(name, entries)
