"""Keep the cause that was found in the end; the firm's own counts shift what is expected next."""

import uuid
from datetime import datetime

from django.db import transaction

from customers.models import User
from equipment.condition.causes import KNOWN
from equipment.models import Assessment, CauseConfirmed, System

NOT_FOUND = "not_found"  # somebody looked, and no cause was found


class CauseRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def confirm_cause(
    system: System,
    *,
    cause: str,
    found_at: datetime,
    by: User,
    now: datetime,
    key: uuid.UUID,
    note: str = "",
) -> CauseConfirmed:
    """What it was in the end: a word of the cause matrix, or that nothing was found.

    `key` is made where the answer was given: the same answer sent twice is kept once. Where the
    cause stood in the list of that time is kept beside it. Raises CauseRefused.
    """
    if cause != NOT_FOUND and cause not in KNOWN:
        raise CauseRefused("Choose one of the causes offered, or say that none was found.")
    told = Assessment.objects.filter(system=system, at__lte=found_at).order_by("at", "pk").last()
    slugs = [one["slug"] for one in told.basis.get("causes", ())] if told else []
    kept, _new = CauseConfirmed.objects.get_or_create(
        uuid=key,
        defaults={
            "system": system,
            "cause": cause,
            "found_at": found_at,
            "rank_then": slugs.index(cause) + 1 if cause in slugs else None,
            "note": note.strip()[:250],
            "by": by,
            "entered_at": now,
        },
    )
    return kept
