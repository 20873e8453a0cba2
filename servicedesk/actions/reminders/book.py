"""Write down what became of a message, and tell the office where a person is needed."""

import random
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import F

from customers.actions import mark_address_dead
from servicedesk.actions.reminders.gather import WARNINGS
from servicedesk.emails.relay import Answer, Verdict
from servicedesk.kinds import MessageState, OfficeTaskKind
from servicedesk.models import Message, OfficeTask

GIVE_UP_AFTER = timedelta(hours=72)
GIVE_UP_FULL_AFTER = timedelta(hours=24)
RETRY_FIRST = timedelta(seconds=60)
RETRY_AT_MOST = timedelta(hours=4)
NOT_HELD = {"lease_by": None, "lease_until": None}


def held(pk: int, owner: UUID):
    """The fence: the message, only as long as this worker has it."""
    return Message.objects.filter(pk=pk, state=MessageState.SENDING, lease_by=owner)


def cancel(message: Message, why: str) -> None:
    """Nothing of it is true any more, or nothing is left to say."""
    Message.objects.filter(pk=message.pk).update(
        state=MessageState.CANCELLED, last_error=why[:250], **NOT_HELD
    )


def leave_to_a_person(message: Message, why: str, *, now: datetime) -> None:
    """The mail server may have it, and it is not sent again by itself."""
    Message.objects.filter(pk=message.pk).update(
        state=MessageState.UNSURE, last_error=why[:250], **NOT_HELD
    )
    _phone(message, why, now=now)


def book(pk: int, owner: UUID, answer: Answer, *, now: datetime) -> None:
    """Write down what the mail server said, if this worker still has the message."""
    message = held(pk, owner).select_related("contact").first()
    if message is None:
        return
    change = {
        Verdict.TAKEN: _taken,
        Verdict.DEAD: _dead,
        Verdict.UNSURE: _unsure,
    }.get(answer.verdict, _again)(message, answer, now)
    change |= {
        "attempts": F("attempts") + 1,
        "last_code": answer.code,
        "last_error": "" if answer.verdict == Verdict.TAKEN else answer.words[:250],
        "lease_by": None,
        "lease_until": None,
    }
    with transaction.atomic():
        if held(pk, owner).update(**change) == 1:
            _tell_the_office(message, change["state"], answer, now=now)


def _taken(message, answer, now):
    return {"state": MessageState.SENT, "sent_at": now}


def _dead(message, answer, now):
    return {"state": MessageState.FAILED}


def _unsure(message, answer, now):
    """At most one resend after an answer that never came."""
    again = _again(message, answer, now)
    if message.unsure_attempts >= 1 or again["state"] == MessageState.FAILED:
        again = {"state": MessageState.UNSURE}
    return again | {"unsure_attempts": message.unsure_attempts + 1}


def _again(message, answer, now):
    """Try again later; give up by age, never by the number of tries, and never for our fault."""
    wait = min(RETRY_AT_MOST, RETRY_FIRST * 2 ** min(message.attempts, 12))
    wait *= random.random()  # full jitter, so that mails put off together do not come together
    ends = message.give_up_at
    if answer.verdict == Verdict.FULL:
        ends = min(ends, ends - GIVE_UP_AFTER + GIVE_UP_FULL_AFTER)
    if answer.verdict != Verdict.OURS and message.frozen is not None and now >= ends:
        return {"state": MessageState.FAILED}
    return {"state": MessageState.QUEUED, "not_before": now + wait, "data_at": None}


def _tell_the_office(message, state, answer, *, now):
    if answer.verdict == Verdict.DEAD:
        mark_address_dead(message.to_address, because=answer.words, at=now)
        _office_task(
            OfficeTaskKind.MEND_ADDRESS,
            f"{message.to_address} takes no mail ({answer.words}). Phone {message.contact.name} "
            f"and enter the right address. Not told: {message.subject}",
            message,
            key=f"dead-address:{message.pk}",
            now=now,
        )
    elif state in {MessageState.FAILED, MessageState.UNSURE}:
        _phone(message, answer.words, now=now)
    elif answer.verdict == Verdict.OURS:
        ask_to_mend(
            f"A mail waits because of our own mail settings or text ({answer.words}): "
            f"{message.subject}",
            key=f"our-fault:{message.pk}",
            now=now,
        )


def _phone(message, why, *, now):
    _office_task(
        OfficeTaskKind.PHONE_OWNER,
        f"A mail to {message.contact.name} <{message.to_address}> may not have arrived ({why}). "
        f"Phone: {message.subject}",
        message,
        key=f"undelivered:{message.pk}",
        now=now,
    )


def _office_task(kind, text, message, *, key, now):
    OfficeTask.objects.get_or_create(
        key=key,
        defaults={
            "kind": kind,
            "text": text,
            "contact": message.contact,
            "urgent": message.topic in WARNINGS,
            "opened_at": now,
        },
    )


def ask_to_mend(text, *, key, now):
    """Our own fault, told once until somebody has handled it."""
    if OfficeTask.objects.filter(key__startswith=f"{key}:", handled_at=None).exists():
        return
    OfficeTask.objects.get_or_create(
        key=f"{key}:{now:%Y-%m-%dT%H:%M:%S}",
        defaults={"kind": OfficeTaskKind.OTHER, "text": text, "urgent": True, "opened_at": now},
    )
