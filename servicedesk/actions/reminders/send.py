"""Send what is queued: claim, freeze, check again before the bytes, and book the answer."""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import UUID, uuid4

from django.conf import settings
from django.db import IntegrityError, connection, transaction
from django.db.models import Exists, F, OuterRef, Q
from django.db.models.functions import Now

from customers.models import Firm
from servicedesk.actions.reminders import truth
from servicedesk.actions.reminders.book import (
    GIVE_UP_AFTER,
    ask_to_mend,
    book,
    cancel,
    held,
    leave_to_a_person,
)
from servicedesk.actions.reminders.gather import (
    GONE,
    allowed_at,
    drop,
    gather_lines,
    next_day,
    zone_of,
)
from servicedesk.actions.reminders.owe import SEND
from servicedesk.emails import kept
from servicedesk.emails import relay as relays
from servicedesk.emails.letters import Letter, as_bytes, write_letter
from servicedesk.emails.relay import Answer, RelayDown, Verdict
from servicedesk.kinds import MessageState
from servicedesk.models import Message, Reminder
from servicedesk.planning.calendar import site_date
from servicedesk.wakeups import wake

log = logging.getLogger(__name__)

CLAIMED_AT_ONCE = 10
MAILS_PER_RUN = 200
LEASE = timedelta(seconds=max(60, 6 * settings.SMTP_TIMEOUT_S))  # longer than any conversation


def send_queued_messages(*, clock: Callable[[], datetime], open_relay=relays.open_relay) -> int:
    """Send all that may go now, over one connection; how many were taken by the mail server.

    Any number of workers may run this at once, and any of them may die at any moment.
    """
    with open_relay() as relay:
        try:
            return _send_all(relay, clock)
        except RelayDown as down:
            ask_to_mend(f"Mail does not go out: {down}", key="relay", now=clock())
            return 0


def _send_all(relay, clock):
    gather_lines(now=clock())
    owner, sent, tried = uuid4(), 0, set()
    while len(tried) < MAILS_PER_RUN:
        if not claimable(clock()).exclude(pk__in=tried).exists():
            return sent
        relay.reach()  # nothing is claimed while the mail server is down
        claimed = claim(owner, now=clock(), but=tried)
        if not claimed:
            return sent
        tried.update(claimed)
        sent += _send_claimed(claimed, owner, relay, clock)
    wake(SEND)
    return sent


def _send_claimed(claimed, owner, relay, clock):
    sent = 0
    for number, pk in enumerate(claimed):
        try:
            sent += send_message(pk, owner, relay, clock)
        except RelayDown:
            release(claimed[number:], owner)
            raise
        except Exception:  # one mail that cannot be written must not hold up the others
            log.exception("message %s could not be sent", pk)
            book(pk, owner, Answer(Verdict.OURS, words="it could not be written"), now=clock())
    return sent


def claimable(now: datetime):
    """Queued messages whose time has come, and those whose sender died."""
    return Message.objects.filter(
        Q(state=MessageState.QUEUED, not_before__lte=now)
        | Q(state=MessageState.SENDING, lease_until__lt=Now())
    )


@transaction.atomic
def claim(owner: UUID, *, now: datetime, but=frozenset()) -> list[int]:
    """Take some messages for this worker, for the length of a lease by the database's time."""
    waiting = claimable(now).exclude(pk__in=but).select_related("contact")
    if connection.features.has_select_for_update_skip_locked:
        waiting = waiting.select_for_update(skip_locked=True, of=("self",))
    firm = Firm.objects.first()
    taken = []
    for message in waiting.order_by("not_before", "pk")[:CLAIMED_AT_ONCE]:
        if _may_go(message, firm, now=now):
            try:
                with transaction.atomic():
                    _take(message, owner, firm, now=now)
            except IntegrityError:  # another ordinary mail took this day a moment ago
                _postpone(message, next_day(now, message.contact, firm))
            else:
                taken.append(message.pk)
    return taken


def _may_go(message, firm, *, now):
    """Whether it may go now; else it is put off, or a person has to decide."""
    unsure = message.state == MessageState.SENDING and message.data_at is not None
    if unsure and message.unsure_attempts >= 1:
        leave_to_a_person(message, "twice nobody could tell whether it was taken", now=now)
        return False
    later = _later_than_now(message, firm, now=now)
    if later:
        _postpone(message, later, unsure=unsure)
    return not later


def _later_than_now(message, firm, *, now):
    if message.day_on is None:
        return None
    allowed = allowed_at(now, message.contact, firm)
    if allowed > now:
        return allowed
    today = site_date(now, zone_of(message.contact, firm))
    gone = Message.objects.filter(
        to_address__iexact=message.to_address, day_on=today, state__in=GONE
    ).exclude(pk=message.pk)
    return next_day(now, message.contact, firm) if gone.exists() else None


def _postpone(message, until, *, unsure=False):
    Message.objects.filter(pk=message.pk).update(
        state=MessageState.QUEUED,
        not_before=until,
        lease_by=None,
        lease_until=None,
        data_at=None,
        unsure_attempts=F("unsure_attempts") + int(unsure),
    )


def _take(message, owner, firm, *, now):
    unsure = message.state == MessageState.SENDING and message.data_at is not None
    day = message.day_on and site_date(now, zone_of(message.contact, firm))
    Message.objects.filter(pk=message.pk).update(
        state=MessageState.SENDING,
        lease_by=owner,
        lease_until=Now() + LEASE,
        data_at=None,
        day_on=day,
        unsure_attempts=F("unsure_attempts") + int(unsure),
    )


def release(pks: list[int], owner: UUID) -> None:
    """Put back what was not tried: that the relay is down is no fault of a mail."""
    Message.objects.filter(
        pk__in=pks, state=MessageState.SENDING, lease_by=owner, data_at=None
    ).update(state=MessageState.QUEUED, lease_by=None, lease_until=None)


def send_message(pk: int, owner: UUID, relay, clock) -> bool:
    """Send one claimed message; whether the mail server took it."""
    content = freeze(pk, owner, now=clock())
    if content is None:
        return False
    to = Message.objects.values_list("to_address", flat=True).get(pk=pk)
    answer = relay.envelope(to)
    if answer.verdict == Verdict.TAKEN:
        if not mark_before_data(pk, owner, now=clock()):
            relay.give_up()
            return False
        answer = relay.data(content)
    book(pk, owner, answer, now=clock())
    return answer.verdict == Verdict.TAKEN


@transaction.atomic
def freeze(pk: int, owner: UUID, *, now: datetime) -> bytes | None:
    """The bytes of a claimed message, written once; None where nothing is left to say."""
    message = held(pk, owner).select_for_update(of=("self",)).select_related("contact").first()
    if message is None:
        return None
    lines = still_true(message, now=now)
    if lines is None:
        return None
    if message.frozen is not None:
        return kept.opened(message.frozen)
    letter = (
        write_letter(message.contact, lines, now=now)
        if lines
        else Letter(message.topic, message.subject, message.text, message.html)
    )
    message.topic, message.subject = letter.topic, letter.subject[:250]
    message.text = kept.without_links(letter.text)
    message.html = kept.without_links(letter.html)
    message.give_up_at = now + GIVE_UP_AFTER
    content = as_bytes(
        letter,
        to=message.to_address,
        name=message.contact.name,
        message_id=message.message_id,
        now=now,
    )
    message.frozen = kept.sealed(content)
    message.save(update_fields=["topic", "subject", "text", "html", "give_up_at", "frozen"])
    return content


def still_true(message: Message, *, now: datetime) -> list[Reminder] | None:
    """The lines of a held message, or None: it was cancelled, or has to be written anew.

    Untrue lines are dropped. Bytes that nobody can have got are then written again without them;
    after an attempt of which nobody could tell, a person decides.
    """
    lines = list(truth.fetch(message.reminders.all()))
    untrue = truth.untrue(lines, now=now)
    if not untrue:
        if lines or message.text:
            return lines
        return cancel(message, "nothing is left to say")
    if message.unsure_attempts:
        return leave_to_a_person(message, "part of it is no longer true", now=now)
    drop(untrue, now=now)
    left = [line for line in lines if line.pk not in untrue]
    if not left:
        return cancel(message, next(iter(untrue.values())))
    message.reminders.filter(pk__in=untrue).update(message=None)
    if message.frozen is not None:
        message.frozen, message.text, message.html = None, "", ""
        message.save(update_fields=["frozen", "text", "html"])
    return left


def mark_before_data(pk: int, owner: UUID, *, now: datetime) -> bool:
    """The last look at the live state and the mark, in one fenced UPDATE; whether to go on."""
    with transaction.atomic():
        message = held(pk, owner).select_for_update(of=("self",)).select_related("contact").first()
        if message is None:
            return False
        before = message.frozen
        if still_true(message, now=now) is None:
            return False
        if message.frozen is not before:  # written again without what is untrue, next time
            release([pk], owner)
            return False
        ended = Reminder.objects.filter(message=OuterRef("pk")).filter(truth.stopped())
        marked = held(pk, owner).filter(~Exists(ended))
        return marked.update(data_at=now, lease_until=Now() + LEASE) == 1
