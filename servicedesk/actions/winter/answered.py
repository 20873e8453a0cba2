"""What owners answer about winter and thin ice, by the links in their mails."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from django.db import transaction

from customers.models import SignedLink
from servicedesk.actions.answers import answer_once
from servicedesk.actions.matters import Matter
from servicedesk.actions.winter.notices import acknowledge
from servicedesk.kinds import AnswerKind, OfficeTaskKind
from servicedesk.models import OfficeTask, OwnerAnswer

KINDS = frozenset(
    {
        AnswerKind.WINTER_SHALLOW,
        AnswerKind.WINTER_SHUT,
        AnswerKind.WINTER_DEEP,
        AnswerKind.NOTICE_READ,
        AnswerKind.NEED_SIGNS,
        AnswerKind.ICE_IS_USED,
    }
)


@transaction.atomic
def choose_winter(
    link: SignedLink, matter: Matter, kind: str, words: str, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """The owner's wish for these systems; the firm decides, and what bars a run still bars it."""
    systems = [system.pk for system in matter.winters]
    said = {"place": matter.water.name, "systems": systems, "words": words}
    return answer_once(link, kind, uuid, now, said=said)


@transaction.atomic
def read_notice(
    link: SignedLink, matter: Matter, name: str, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """He typed his name under the notice; nobody of the firm has to look at it."""
    acknowledge(matter.notice, name, now=now)
    said = _said(matter) | {"name": name, "version": str(matter.notice.text)}
    answer = answer_once(link, AnswerKind.NOTICE_READ, uuid, now, said=said)
    OwnerAnswer.objects.filter(pk=answer.pk).update(handled_at=now)
    return answer


@transaction.atomic
def ask_for_signs(
    link: SignedLink, matter: Matter, words: str, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """Signs are wanted: a task for the office, with whom to bring them to."""
    pond = matter.notice.notice.pond
    OfficeTask.objects.get_or_create(
        key=f"signs:{matter.notice.pk}",
        defaults={
            "kind": OfficeTaskKind.WINTER,
            "text": f"{link.contact} asks for signs about thin ice at {pond}. {words}".strip(),
            "site": pond.site,
            "contact": link.contact,
            "opened_at": now,
        },
    )
    said = _said(matter) | {"words": words}
    return answer_once(link, AnswerKind.NEED_SIGNS, uuid, now, said=said)


@transaction.atomic
def ice_is_used(
    link: SignedLink, matter: Matter, words: str, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """Somebody goes onto the ice: urgent, and nothing is started there until it is dealt with."""
    said = _said(matter) | {"words": words}
    return answer_once(link, AnswerKind.ICE_IS_USED, uuid, now, said=said, urgent=True)


def record(
    link: SignedLink, matter: Matter, kind: str, given: Mapping, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """Whichever of these was pressed, with what was typed."""
    press = {"uuid": uuid, "now": now}
    if kind == AnswerKind.NOTICE_READ:
        return read_notice(link, matter, given["name"], **press)
    if kind == AnswerKind.NEED_SIGNS:
        return ask_for_signs(link, matter, given["words"], **press)
    if kind == AnswerKind.ICE_IS_USED:
        return ice_is_used(link, matter, given["words"], **press)
    return choose_winter(link, matter, kind, given["words"], **press)


def _said(matter):
    return {"place": matter.water.name, "pond": matter.notice.notice.pond_id}
