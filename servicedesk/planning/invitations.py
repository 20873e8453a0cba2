"""A visit as a calendar entry that goes out by mail, and the headers to leave a list."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP

from icalendar import Calendar, Event, vCalAddress, vText

MAKER = "-//Pond service desk//Visits//EN"
LINE_OCTETS = 75
ONE_CLICK = "List-Unsubscribe=One-Click"
NEW_SEQUENCE = ("DTSTART", "DTEND", "DURATION", "DUE", "RRULE", "RDATE", "EXDATE", "STATUS")
ENCODINGS = ("7bit", "8bit", "quoted-printable", "base64")
ADDRESS = re.compile(r"<([^<>]*)>")


@dataclass(frozen=True)
class Booking:
    """A visit as it is told to one person."""

    uid: str
    organizer: str
    attendee: str
    begins_at: datetime
    ends_at: datetime
    written_at: datetime
    summary: str
    sequence: int = 0


EXAMPLE = Booking(
    uid="ticket-1@example.com",
    organizer="office@example.com",
    attendee="ines@example.com",
    begins_at=datetime(2026, 11, 30, 15, tzinfo=UTC),
    ends_at=datetime(2026, 11, 30, 16, tzinfo=UTC),
    written_at=datetime(2026, 11, 25, 15, tzinfo=UTC),
    summary="Mill Pond: visit",
)


def invitation(booking: Booking, method: str = "REQUEST") -> Calendar:
    """A visit as a calendar entry.

    booking: what it is, when, and between whom.
    method: REQUEST to invite or move, CANCEL to call off.
    Returns the calendar.
    Source: RFC 6047 (2010), 2.5; RFC 5546 (2009), 3.2.
    """
    calendar = Calendar()
    for name, value in (("prodid", MAKER), ("method", method), ("version", "2.0")):
        calendar.add(name, value)
    event = Event()
    event["organizer"] = vCalAddress(f"mailto:{booking.organizer}")
    event["attendee"] = vCalAddress(f"mailto:{booking.attendee}")
    event.add("dtstamp", booking.written_at)
    event.add("dtstart", booking.begins_at)
    event.add("dtend", booking.ends_at)
    event.add("summary", booking.summary)
    event["uid"] = booking.uid
    event.add("sequence", booking.sequence)
    if method == "CANCEL":
        event.add("status", "CANCELLED")
    calendar.add_component(event)
    return calendar


def invitation_mail(
    booking: Booking, method: str = "REQUEST", encoding: str = "quoted-printable"
) -> EmailMessage:
    """The mail that carries a calendar entry, with the same in plain words.

    booking: what it is, when, and between whom.
    method: as in the calendar entry itself.
    encoding: transfer encoding of the calendar part.
    Returns the mail.
    Raises ValueError when the text does not fit the encoding.
    Source: RFC 6047 (2010), 2.3 to 2.5.
    """
    mail = EmailMessage(policy=SMTP)
    mail.set_content(f"{booking.summary}\n{booking.begins_at:%Y-%m-%d %H:%M} UTC\n")
    text = invitation(booking, method).to_ical(sorted=False).decode().replace("\r\n", "\n")
    mail.add_alternative(text, subtype="calendar", cte=encoding, params={"method": method})
    return mail


def minimal_invitation() -> list[str]:
    """What an invitation says at least, in order.

    Returns the names of its properties, with the value where it is always the same.
    Source: RFC 6047 (2010), 2.5.
    """
    lines = invitation(EXAMPLE).to_ical(sorted=False).decode().splitlines()
    fixed = ("METHOD", "VERSION", "SEQUENCE")
    names = [line if line.startswith(fixed) else re.split("[:;]", line)[0] for line in lines]
    return [name for name in names if name not in {"BEGIN", "END"}]


def calendar_part_type(method: str = "REQUEST") -> str:
    """The content type of the calendar part of a mail.

    method: REQUEST, CANCEL, REPLY or another METHOD of a calendar.
    Returns the header's value.
    Source: RFC 6047 (2010), 2.4.
    """
    part = invitation_mail(EXAMPLE, method).get_payload()[1]
    method, charset = part.get_param("method"), part.get_content_charset().upper()
    return f"{part.get_content_type()}; method={method}; charset={charset}"


def method_agrees(parameter: str | None = None, text: str | None = None) -> bool:
    """Whether the method of a mail's calendar part is that of the calendar inside.

    parameter, text: method in the content type, and the calendar; without them those of a mail
        of our own are compared.
    Returns whether they agree, in small or capital letters.
    Source: RFC 6047 (2010), 2.4.
    """
    part = invitation_mail(EXAMPLE).get_payload()[1]
    calendar = Calendar.from_ical(text or part.get_content())
    return (parameter or part.get_param("method")).lower() == str(calendar["method"]).lower()


def encodings_beyond_ascii() -> list[str]:
    """The transfer encodings that carry a calendar whose text is not ASCII through any relay.

    Returns their names, found by writing such a mail in each.
    Source: RFC 6047 (2010), 2.5; RFC 2045 (1996), 6.
    """
    booking = Booking(**{**vars(EXAMPLE), "summary": "Mühlteich: Besuch"})
    return [name for name in ENCODINGS if _carries(booking, name)]


def alternative_type() -> str:
    """How a calendar part and the same in plain words go together.

    Returns the content type of the whole.
    Source: RFC 6047 (2010), 2.4.
    """
    return invitation_mail(EXAMPLE).get_content_type()


def sequence_after(old_sequence: int, changed: str = "", method: str = "REQUEST") -> int:
    """The SEQUENCE of a visit told anew.

    old_sequence: the one told last, 0 or more.
    changed: properties that are different now, separated by commas.
    method: REQUEST, or CANCEL, which always counts as a change.
    Returns one more where a guest has to decide anew, else the same.
    Raises ValueError for a negative sequence.
    Source: RFC 5546 (2009), 2.1.4.
    """
    if old_sequence < 0:
        raise ValueError("old_sequence must be 0 or more")
    names = {name.strip().upper() for name in changed.split(",")}
    return old_sequence + (method.upper() == "CANCEL" or not names.isdisjoint(NEW_SEQUENCE))


def properties_of_new_sequence() -> list[str]:
    """The properties whose change by the organizer asks guests to decide anew.

    Returns their names.
    Source: RFC 5546 (2009), 2.1.4.
    """
    return [name for name in NEW_SEQUENCE if sequence_after(0, name) == 1]


def escaped_text(raw: str) -> str:
    """Text as a calendar file writes it.

    raw: any text.
    Returns it with backslash, semicolon, comma and line break escaped.
    Source: RFC 5545 (2009), 3.3.11.
    """
    return vText(raw).to_ical().decode()


def folded(line: str, max_octets: int = LINE_OCTETS) -> bytes:
    """A content line as a calendar file breaks it.

    line: the line, without its line break.
    max_octets: octets allowed without the line break, 5 or more.
    Returns it in UTF-8; each line after the first begins with a blank, no character is cut.
    Raises ValueError for lines so short that a character would be cut.
    Source: RFC 5545 (2009), 3.1.
    """
    if max_octets < 5:
        raise ValueError("max_octets must be 5 or more: a character has up to four")
    parts, part = [], b""
    for letter in line:
        octets = letter.encode()
        if len(part) + len(octets) > max_octets - bool(parts):
            parts.append(part)
            part = b""
        part += octets
    return b"\r\n ".join([*parts, part])


def folded_octets(text: str | None = None, max_octets: int = LINE_OCTETS) -> int:
    """The longest line of a text once it is folded for a calendar file.

    text: a content line; without it a long one with letters of two octets.
    max_octets: octets allowed without the line break, 5 or more.
    Returns octets, without the line break.
    Raises ValueError for lines so short that a character would be cut.
    Source: RFC 5545 (2009), 3.1.
    """
    if max_octets < 5:
        raise ValueError("max_octets must be 5 or more: a character has up to four")
    lines = folded(text or f"SUMMARY:{'Mill Pond ' * 30}{'ü' * 90}", max_octets)
    return max(len(line) for line in lines.split(b"\r\n"))


def unsubscribe_headers(url: str) -> list[str]:
    """The two headers by which a mail program leaves a list at one press.

    url: an https address that belongs to one person and one list.
    Returns the headers.
    Raises ValueError for another kind of address.
    Source: RFC 8058 (2017), 3.1 and 8.1.
    """
    if not url.startswith("https://") or set("<> \r\n") & set(url):
        raise ValueError(f"url: {url!r} must be one https address")
    return [f"List-Unsubscribe: <{url}>", f"List-Unsubscribe-Post: {ONE_CLICK}"]


def unsubscribe_body() -> str:
    """What a mail program posts to leave a list at one press.

    Returns the body.
    Source: RFC 8058 (2017), 3.1 and 3.2.
    """
    return ONE_CLICK


def unsubscribe_addresses(header_value: str) -> list[str]:
    """The addresses of a List-Unsubscribe header, the preferred one first.

    header_value: the header without its name, folded or not.
    Returns the addresses.
    Source: RFC 2369 (1998), 2 and 3.2.
    """
    return ["".join(found.split()) for found in ADDRESS.findall(header_value)]


def is_one_click(header_value: str, post_header: str | None = None) -> bool:
    """Whether a mail program may leave a list at one press.

    header_value: the List-Unsubscribe header without its name.
    post_header: the List-Unsubscribe-Post header without its name.
    Returns whether both are there, with an https address.
    Source: RFC 8058 (2017), 3.1.
    """
    addresses = unsubscribe_addresses(header_value)
    secure = any(address.lower().startswith("https://") for address in addresses)
    return secure and (post_header or "").strip() == ONE_CLICK


def _carries(booking, encoding):
    try:
        part = invitation_mail(booking, encoding=encoding).get_payload()[1]
        return part.as_bytes().isascii()
    except ValueError:
        return False
