"""Instants and the clock on the wall, with the hour that a change of clocks takes or gives."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo


def instant(text: str) -> datetime:
    """An instant from its text.

    text: date, time and offset, such as 1996-12-19T16:39:57-08:00 or 1985-04-12T23:20:50.52Z.
    Returns it in UTC.
    Raises ValueError for text that is no instant, has no offset, or names a leap second.
    Source: RFC 3339 (2002), 5.6 and 5.8.
    """
    try:
        at = datetime.fromisoformat(text.strip().upper())
    except ValueError as error:
        hint = "; a leap second cannot be kept, write second 59" if ":60" in text else ""
        raise ValueError(f"text: {text!r} is no instant: {error}{hint}") from error
    if at.tzinfo is None:
        raise ValueError(f"text: {text!r} has no offset; end it with Z or such as -06:00")
    return at.astimezone(UTC)


def local_time(utc: str, zone: str) -> datetime:
    """What the clock on the wall shows at an instant.

    utc: the instant, with its offset.
    zone: name in the IANA zone database.
    Returns the local time with its offset.
    Raises ValueError for text that is no instant.
    Source: IANA time zone database.
    """
    return instant(utc).astimezone(ZoneInfo(zone))


def utc_of_local(local: str, zone: str, fold: int = 0) -> str:
    """The instant of a time on the wall.

    local: date and time without offset.
    zone: name in the IANA zone database.
    fold: 0 for the first, 1 for the second of two equal times in autumn.
    Returns the instant in UTC, to the minute.
    Raises ValueError for another fold, or a local time with an offset.
    Source: PEP 495; IANA time zone database.
    """
    return _aware(local, zone, fold).astimezone(UTC).isoformat(timespec="minutes")


def offset_h(local: str, zone: str) -> float:
    """How far the clock on the wall is ahead of UTC.

    local: date and time without offset.
    zone: name in the IANA zone database.
    Returns hours [h], negative in the west.
    Raises ValueError for a local time with an offset.
    Source: IANA time zone database.
    """
    return _aware(local, zone).utcoffset().total_seconds() / 3600


def local_time_exists(local: str, zone: str) -> bool:
    """Whether a time is ever on the wall: the hour that spring leaves out is not.

    local: date and time without offset.
    zone: name in the IANA zone database.
    Returns whether there is such a time.
    Raises ValueError for a local time with an offset.
    Source: IANA time zone database; PEP 495.
    """
    at = _aware(local, zone)
    back = at.astimezone(UTC).astimezone(ZoneInfo(zone))
    return back.replace(tzinfo=None) == at.replace(tzinfo=None)


def hours_between(zone: str, first: str, second: str) -> float:
    """The hours that really pass between two times on the wall.

    zone: name in the IANA zone database.
    first, second: dates and times without offset.
    Returns hours [h]: 25 from eight to eight over the autumn change.
    Raises ValueError for a local time with an offset.
    Source: IANA time zone database.
    """
    ends = (_aware(local, zone).astimezone(UTC) for local in (second, first))
    return (next(ends) - next(ends)).total_seconds() / 3600


def _aware(local, zone, fold=0):
    if fold not in (0, 1):
        raise ValueError("fold: write 0 for the first and 1 for the second of two equal times")
    at = datetime.fromisoformat(local)
    if at.tzinfo is not None:
        raise ValueError(f"{local!r} has an offset; give the time on the wall and the zone")
    return at.replace(tzinfo=ZoneInfo(zone), fold=fold)
