"""What a person decides about a mail that failed, or of which nobody can tell."""

from datetime import datetime

from django.db import transaction

from customers.models import Trail, User
from servicedesk.actions.reminders.owe import SEND
from servicedesk.kinds import MessageState
from servicedesk.models import Message, OfficeTask
from servicedesk.wakeups import wake

TO_DECIDE = (MessageState.FAILED, MessageState.UNSURE)


class NothingToDecide(Exception):
    """The mail waits for no person, or somebody else has decided."""


@transaction.atomic
def send_again(message: Message, *, by: User, now: datetime) -> None:
    """Send it once more, whatever is still true of it; a second copy has the same Message-ID."""
    _decide(
        message,
        "mail sent again",
        {
            "state": MessageState.QUEUED,
            "not_before": now,
            "give_up_at": now,
            "data_at": None,
            "unsure_attempts": 0,
            "attempts": 0,
        },
        by,
        now,
    )
    wake(SEND)


@transaction.atomic
def settle(message: Message, *, by: User, note: str, now: datetime) -> None:
    """Leave it: the owner has it, or was told in another way."""
    change = {"state": MessageState.SUPPRESSED, "last_error": f"settled by {by}: {note}"[:250]}
    _decide(message, "mail settled", change, by, now)


def _decide(message, did, change, by, now):
    before = message.state
    waiting = Message.objects.filter(pk=message.pk, state__in=TO_DECIDE)
    if waiting.update(**change) != 1:
        raise NothingToDecide
    Trail.objects.create(
        at=now,
        by=by,
        did=did,
        about=f"message:{message.pk}",
        before={"state": before},
        after={"state": change["state"]},
    )
    OfficeTask.objects.filter(
        key__in=[f"undelivered:{message.pk}", f"dead-address:{message.pk}"], handled_at=None
    ).update(handled_at=now, handled_by=by, handled_note=did)
