"""Alarms to our own people: told once, on the first page and by mail at once."""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

from django.conf import settings
from django.db import transaction
from django.db.models import F

from customers.kinds import Role
from customers.models import Firm, Site, User
from servicedesk.emails import relay as relays
from servicedesk.emails.alarms import alarm_bytes, alarm_text
from servicedesk.emails.relay import Answer, RelayDown, Verdict
from servicedesk.models import Alarm, OfficeTask, Ticket
from servicedesk.wakeups import wake

log = logging.getLogger(__name__)

SEND = "servicedesk.tasks.send_alarms"
LEASE = timedelta(seconds=max(60, 6 * settings.SMTP_TIMEOUT_S))
AGAIN_AFTER = timedelta(seconds=30)
GIVE_UP_AFTER = timedelta(hours=24)  # by then somebody was told by other means, or never
SENT_AT_ONCE = 50


@transaction.atomic
def raise_alarm(
    *,
    key: str,
    kind: str,
    site: Site,
    subject: str,
    text: str,
    now: datetime,
    ticket: Ticket | None = None,
) -> OfficeTask:
    """An urgent task for the office, with a mail to each manager; the same key alarms once.

    Where no manager has an address, the firm's own mailbox gets it. The mails keep no quiet hours.
    """
    fields = {"kind": kind, "text": text, "site": site, "urgent": True}
    fields |= {"ticket": ticket, "opened_at": now}
    task, new = OfficeTask.objects.get_or_create(key=key, defaults=fields)
    if new:
        domain = settings.MAIL_FROM.rpartition("@")[2]
        Alarm.objects.bulk_create(
            Alarm(
                office_task=task,
                to_address=to,
                subject=subject[:200],
                text=alarm_text(text, site=site),
                message_id=f"<{uuid4()}@{domain}>",
                made_at=now,
                try_at=now,
            )
            for to in _mailboxes()
        )
        wake(SEND)
    return task


def _mailboxes():
    managers = User.objects.filter(is_active=True, role=Role.MANAGER).exclude(email="")
    found = list(dict.fromkeys(managers.order_by("pk").values_list("email", flat=True)))
    firm = Firm.objects.first()
    return found or ([firm.reply_to] if firm else [])


def send_alarms(*, clock: Callable[[], datetime], open_relay=relays.open_relay) -> int:
    """Send what waits; how many the mail server took. Any number of workers may do so at once.

    One that dies after the bytes may have sent them: the mail goes out again under the same
    Message-ID, because an alarm told twice is better than one not told.
    """
    now = clock()
    waiting = Alarm.objects.filter(
        sent_at=None, try_at__lte=now, made_at__gt=now - GIVE_UP_AFTER
    ).order_by("made_at", "pk")
    due = list(waiting[:SENT_AT_ONCE])
    if not due:
        return 0
    with open_relay() as relay:
        return sum(_send(alarm, relay, clock) for alarm in due)


def _send(alarm, relay, clock):
    now = clock()
    mine = Alarm.objects.filter(pk=alarm.pk, sent_at=None, try_at=alarm.try_at)
    if mine.update(try_at=now + LEASE) != 1:
        return 0  # another worker has it
    try:
        answer = _told(alarm, relay, now)
    except RelayDown as down:
        answer = Answer(Verdict.LATER, words=str(down))
    except Exception as error:  # one that cannot be written must not hold up the others
        log.exception("alarm %s could not be sent", alarm.pk)
        answer = Answer(Verdict.OURS, words=str(error))
    taken = answer.verdict == Verdict.TAKEN
    booked = {"sent_at": now, "last_error": ""} if taken else {"last_error": answer.words[:250]}
    booked |= {"try_at": now + AGAIN_AFTER, "attempts": F("attempts") + 1}
    Alarm.objects.filter(pk=alarm.pk, sent_at=None).update(**booked)
    return int(taken)


def _told(alarm, relay, now):
    content = alarm_bytes(alarm, now=now)
    relay.reach()
    answer = relay.envelope(alarm.to_address)
    return relay.data(content) if answer.verdict == Verdict.TAKEN else answer
