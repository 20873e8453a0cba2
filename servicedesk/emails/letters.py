"""A whole letter: its parts in one frame, its headers, and the bytes that go out."""

from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from urllib.parse import urlsplit

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import translation

from customers.kinds import STOPPABLE_AFTER_FIRST, STOPPABLE_TOPICS
from customers.models import Contact, Firm
from servicedesk.emails import links
from servicedesk.emails.mails import MAILS
from servicedesk.models import Reminder

HEADER_CHARACTERS = 900  # never fold: a folded unsubscribe line has broken signatures at relays


@dataclass(frozen=True)
class Letter:
    """What one message says, before it becomes bytes."""

    topic: str
    subject: str
    text: str
    html: str = ""
    one_click: str = ""  # the address to unsubscribe at


def write_letter(contact: Contact, lines: list[Reminder], *, now: datetime) -> Letter:
    """One letter for all lines, in the contact's language; links are made as it is written."""
    with translation.override(contact.language):
        owed = {line.topic for line in lines}
        topics = [topic for topic in MAILS if topic in owed]
        parts = {
            topic: MAILS[topic](
                contact,
                [line for line in lines if line.topic == topic],
                now=now,
                lead=topic == topics[0],
            )
            for topic in topics
        }
        stops = {
            topic: links.to_stop(contact, topic, now=now)
            for topic in parts
            if topic in STOPPABLE_TOPICS and not _is_first(contact, topic)
        }
        first = next(iter(parts))
        context = {
            "firm": Firm.objects.get(),
            "contact": contact,
            "language": contact.language,
            "parts": list(parts.values()),
            "stops": [(topic, urls["page"]) for topic, urls in stops.items()],
        }
        return Letter(
            topic=first,
            subject=parts[first].subject,
            text=_tidy(render_to_string("servicedesk/mail/frame.txt", context)),
            html=render_to_string("servicedesk/mail/frame.html", context),
            one_click=next(iter(stops.values()))["one_click"] if stops else "",
        )


def _is_first(contact, topic):
    """A warning of heat can be stopped from the second on."""
    if topic not in STOPPABLE_AFTER_FIRST:
        return False
    sent = Reminder.objects.filter(contact=contact, topic=topic, message__sent_at__isnull=False)
    return not sent.exists()


def as_bytes(letter: Letter, *, to: str, name: str, message_id: str, now: datetime) -> bytes:
    """The bytes that go out, the same at every attempt, so write them once and keep them."""
    firm = Firm.objects.get()
    mail = EmailMessage()
    mail["Message-ID"] = message_id
    mail["Date"] = format_datetime(now)
    mail["Subject"] = letter.subject
    mail["From"] = Address(_plain(firm.name), addr_spec=settings.MAIL_FROM)
    mail["To"] = Address(_plain(name), addr_spec=to)
    mail["Reply-To"] = Address(_plain(firm.name), addr_spec=firm.reply_to)
    mail["Auto-Submitted"] = "auto-generated"
    if letter.one_click and urlsplit(letter.one_click).scheme == "https":
        mail["List-Unsubscribe"] = f"<{letter.one_click}>"
        mail["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    mail.set_content(letter.text, cte="quoted-printable")
    if letter.html:
        mail.add_alternative(letter.html, subtype="html", cte="quoted-printable")
    return mail.as_bytes(policy=SMTP.clone(max_line_length=HEADER_CHARACTERS))


def _plain(words):
    return " ".join(words.split())


def _tidy(text):
    """At most one empty line in a row."""
    lines, blank = [], True
    for line in (line.rstrip() for line in text.splitlines()):
        if line or not blank:
            lines.append(line)
        blank = not line
    return "\n".join(lines).strip() + "\n"
