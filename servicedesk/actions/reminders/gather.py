"""Put the lines that are owed into messages: one ordinary mail an address and day."""

import logging
from collections import defaultdict
from datetime import date, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.conf import settings
from django.db import transaction

from customers.kinds import MailTopic
from customers.models import Contact, Firm
from servicedesk.actions.reminders import truth
from servicedesk.kinds import MessageState
from servicedesk.models import Message, Reminder
from servicedesk.planning.calendar import next_allowed, site_date

log = logging.getLogger(__name__)

AFTER_A_FAULT = timedelta(hours=1)
AT_ONCE = 500  # lines gathered in one transaction
GONE = (MessageState.SENT, MessageState.UNSURE)
ON_ITS_WAY = (MessageState.QUEUED, MessageState.SENDING)
WARNINGS = frozenset(
    {
        MailTopic.SYSTEM_OFF,
        MailTopic.RECALL,
        MailTopic.RESTART,
        MailTopic.THIN_ICE,
        MailTopic.HEAT_ADVISORY,
    }
)


def gather_lines(*, now: datetime) -> int:
    """Put each owed line whose time has come into a message; how many messages are new."""
    firm = Firm.objects.first()
    made = 0
    owed = Reminder.objects.filter(message=None, dropped_at=None, not_before__lte=now)
    first = list(owed.order_by("not_before", "pk").values_list("pk", "contact__email")[:AT_ONCE])
    _drop_untrue(owed.filter(pk__in=[pk for pk, _email in first]), now=now)
    for address in dict.fromkeys(email.lower() for _pk, email in first):
        try:
            made += _gather_for(address, firm, now=now)
        except Exception:  # what is owed to one must not hold up what is owed to the others
            log.exception("what is owed to one address could not be put into a mail")
            _try_later(owed.filter(contact__email__iexact=address), now=now)
    return made


def _drop_untrue(owed, *, now):
    """Lines that are not true any more; a line that cannot be judged waits, with its reason."""
    try:
        drop(truth.untrue(list(truth.fetch(owed)), now=now), now=now)
    except Exception:
        for line in truth.fetch(owed):
            try:
                drop(truth.untrue([line], now=now), now=now)
            except Exception:
                log.exception("reminder %s cannot be judged", line.pk)
                _try_later(owed.filter(pk=line.pk), now=now)


def _try_later(lines, *, now):
    lines.update(not_before=now + AFTER_A_FAULT)


@transaction.atomic
def _gather_for(address, firm, *, now):
    contacts = (
        Contact.objects.select_for_update(no_key=True).filter(email__iexact=address).order_by("pk")
    )
    contacts = list(contacts)  # the lock: two workers make no two mails for one address
    owed = Reminder.objects.filter(
        contact__in=contacts, message=None, dropped_at=None, not_before__lte=now
    )
    lines = list(owed.select_related("contact").order_by("pk"))
    warnings = [line for line in lines if line.topic in WARNINGS]
    ordinary = [line for line in lines if line.topic not in WARNINGS]
    made = 0
    if warnings:
        made += _into_new(warnings, now=now)
    if ordinary:
        made += _gather_ordinary(ordinary, firm, now=now)
    return made


def _gather_ordinary(lines, firm, *, now):
    """Into the mail that still waits; else tomorrow's if one went today; else a new one."""
    contact = lines[0].contact
    mails = Message.objects.filter(to_address__iexact=contact.email, day_on__isnull=False)
    waiting = mails.filter(state=MessageState.QUEUED, frozen=None).order_by("pk").first()
    if waiting:
        _join(lines, waiting)
        return 0
    if mails.filter(state__in=ON_ITS_WAY).exists():
        return 0  # the next sweep looks again
    today = site_date(now, zone_of(contact, firm))
    if mails.filter(state__in=GONE, day_on__gte=today).exists():
        later = next_day(now, contact, firm)
        Reminder.objects.filter(pk__in=[line.pk for line in lines]).update(not_before=later)
        return 0
    when = allowed_at(now, contact, firm)
    return _into_new(lines, now=now, not_before=when, day=site_date(when, zone_of(contact, firm)))


def _into_new(lines, *, now, not_before=None, day=None):
    contact = lines[0].contact
    domain = settings.MAIL_FROM.rpartition("@")[2]
    message = Message.objects.create(
        message_id=f"<{uuid4()}@{domain}>",
        contact=contact,
        topic=lines[0].topic,
        to_address=contact.email,
        made_at=now,
        not_before=not_before or warn_at(now, lines),
        give_up_at=now,  # set anew when the bytes are written
        day_on=day,
    )
    _join(lines, message)
    return 1


def _join(lines, message):
    Reminder.objects.filter(pk__in=[line.pk for line in lines], message=None).update(
        message=message
    )


def drop(reasons: dict[int, str], *, now: datetime) -> None:
    """Lines that are not owed any more, each with its reason."""
    by_reason = defaultdict(list)
    for pk, why in reasons.items():
        by_reason[why].append(pk)
    for why, pks in by_reason.items():
        Reminder.objects.filter(pk__in=pks, dropped_at=None).update(
            dropped_at=now, dropped_because=why[:200]
        )


def zone_of(contact: Contact, firm: Firm | None) -> str:
    """The contact's zone; the firm's where the contact's is none that exists."""
    for zone in (contact.time_zone, firm.time_zone if firm else ""):
        try:
            ZoneInfo(zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            continue
        return zone
    return "UTC"


def allowed_at(now: datetime, contact: Contact, firm: Firm | None) -> datetime:
    """Now, or the end of the reader's quiet hours; the usual ones where the firm's make no day."""
    rules = {"on_sunday": firm.mail_on_sunday} if firm else {}
    if firm and firm.quiet_until < firm.quiet_from:
        rules |= {"quiet_from": firm.quiet_from, "quiet_until": firm.quiet_until}
    return next_allowed(now, zone_of(contact, firm), **rules)


def next_day(now: datetime, contact: Contact, firm: Firm | None) -> datetime:
    """The first moment of the reader's next day at which he may be written to."""
    zone = zone_of(contact, firm)
    today = site_date(now, zone)
    midnight = datetime.combine(date.fromordinal(today.toordinal() + 1), datetime.min.time())
    return allowed_at(midnight.replace(tzinfo=ZoneInfo(zone)), contact, firm)


def warn_at(now: datetime, lines: list[Reminder]) -> datetime:
    """A warning waits for the morning like any mail, unless the danger is immediate."""
    contact = lines[0].contact
    immediate = any(line.facts.get("ice") or line.facts.get("immediate") for line in lines)
    return now if immediate else allowed_at(now, contact, Firm.objects.first())
