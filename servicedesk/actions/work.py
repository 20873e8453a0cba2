"""Record that a task was done, or was not: the only way by which work gets in."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction

from customers.models import Trail, User
from equipment.models import Part
from servicedesk.actions.claims import follow_claims
from servicedesk.actions.due import lock_sites, refresh_sites
from servicedesk.actions.facts import CLOCK_SLACK
from servicedesk.actions.proposals import ask_after_work
from servicedesk.actions.reports import owe_report
from servicedesk.actions.tickets import open_tickets_at
from servicedesk.kinds import (
    DoneBy,
    NotDoneReason,
    OfficeTaskKind,
    Outcome,
    TicketEnd,
    WorkState,
)
from servicedesk.models import OfficeTask, PartUsed, Task, Ticket, Work
from servicedesk.wakeups import wake

CLAIMED_BY = {DoneBy.OWNER, DoneBy.OTHER_FIRM}
SAME = [
    "task_id",
    "place_key",
    "done_at",
    "outcome",
    "not_done_reason",
    "done_by",
    "user_id",
    "contact_id",
    "found",
    "note",
]
# What the office does about work that was not done: kind, sentence, whether at once.
NOT_DONE = {
    NotDoneReason.NO_ACCESS: (OfficeTaskKind.MEND_ACCESS, "No way in. Mend the way in.", False),
    NotDoneReason.PART_MISSING: (OfficeTaskKind.KIT_FAULT, "A part was not on the van.", False),
    NotDoneReason.NOT_SAFE_TO_WORK: (
        OfficeTaskKind.OTHER,
        "The technician found a danger and left. Call him.",
        True,
    ),
    NotDoneReason.OWNER_REFUSED: (
        OfficeTaskKind.PHONE_OWNER,
        "The owner refused the work. Write down what was said.",
        False,
    ),
}
FIRM_PAYS = {NotDoneReason.WEATHER, NotDoneReason.NOT_SAFE_TO_WORK, NotDoneReason.PART_MISSING}


class WorkRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def record_work(
    *,
    uuid: UUID,
    task: Task,
    place: Mapping,
    done_at: datetime,
    now: datetime,
    occasion: str = "",
    ticket: Ticket | None = None,
    parts: Mapping[Part, int] | None = None,
    derive: bool = True,
    own_rhythm: bool = False,
    **said,
) -> Work:
    """Record one work under the UUID made at the tap; the same one twice is recorded once.

    `place` are the fields of place_of(); `said` are fields of Work: outcome (done, unless told),
    not_done_reason, done_by (a technician, unless told), user, contact, visit, found, note.
    An owner's or another firm's word is kept unverified. A second closing of a ticket that was
    done is kept for review. With `derive` off the caller computes due days and tickets after
    its last work, by derive_from_work(). `own_rhythm`: what an owner did in a rhythm of his
    own, which closes no ticket of ours.
    """
    lock_sites([place["site_id"]])
    work = Work(
        uuid=uuid,
        task=task,
        **place,
        occasion=ticket.occasion if ticket else occasion,
        done_at=done_at,
        entered_at=now,
        **{"outcome": Outcome.DONE, "done_by": DoneBy.TECHNICIAN} | said,
    )
    work.verified = work.done_by not in CLAIMED_BY
    before = Work.objects.filter(uuid=uuid).first()
    if before:
        return _same_or_refused(before, work)
    _refuse_faults(work, ticket, now)
    work.ticket = ticket = None if own_rhythm else _ticket_of(work, ticket)
    _settle_state(work, ticket)
    work.save(force_insert=True)
    for part, quantity in (parts or {}).items():
        key = uuid5(uuid, f"part {part.pk}")
        PartUsed.objects.create(uuid=key, work=work, visit=work.visit, part=part, quantity=quantity)
    _follow(work, ticket, now)
    if derive:
        derive_from_work(work.site_id, now=now)
    return work


def derive_from_work(site_id: int, *, now: datetime) -> None:
    """After work at a site: due days, and tickets that close or open with them."""
    refresh_sites([site_id], now=now)
    open_tickets_at([site_id], now=now)
    wake("servicedesk.tasks.open_tickets")


@transaction.atomic
def accept_work(work: Work, *, by: User, now: datetime) -> None:
    """Let a closing under review count, in place of the one that counted before it."""
    lock_sites([work.site_id])
    work.refresh_from_db()
    if work.state != WorkState.REVIEW:
        raise WorkRefused("This closing is not waiting for a review any more.")
    if work.ticket_id and work.outcome == Outcome.DONE:
        others = Work.objects.counting().filter(ticket=work.ticket_id).exclude(pk=work.pk)
        others.update(state=WorkState.REFUSED, reviewed_by=by, reviewed_at=now)
    _reviewed(work, WorkState.ACCEPTED, by, now)
    if work.outcome == Outcome.DONE:
        if work.ticket_id:
            _close(work.ticket, now)
        ask_after_work(work, now=now)
        follow_claims(work, now=now)
    derive_from_work(work.site_id, now=now)


@transaction.atomic
def refuse_work(work: Work, *, now: datetime, by: User | None = None, reason: str = "") -> None:
    """Work that does not count after all: looked at by the office, or taken back by the owner.

    It stays on record. A ticket that it had closed is open again while its task is due.
    """
    lock_sites([work.site_id])
    work.refresh_from_db()
    if work.state == WorkState.REFUSED:
        return
    counted = work.state == WorkState.ACCEPTED and work.outcome == Outcome.DONE
    _reviewed(work, WorkState.REFUSED, by, now, reason)
    if counted:
        if work.ticket_id:
            _open_again(work)
        ask_after_work(work, now=now)
        follow_claims(work, now=now)
    derive_from_work(work.site_id, now=now)


@transaction.atomic
def verify_work(work: Work, *, by: User, now: datetime) -> None:
    """One of ours has seen what an owner or another firm said they did."""
    lock_sites([work.site_id])
    Work.objects.filter(pk=work.pk).update(verified=True, reviewed_by=by, reviewed_at=now)
    work.refresh_from_db()
    ask_after_work(work, now=now)
    follow_claims(work, now=now)
    derive_from_work(work.site_id, now=now)


def _same_or_refused(before, work):
    if any(getattr(before, name) != getattr(work, name) for name in SAME):
        raise WorkRefused(
            "This closing was recorded before with other content, and nothing was changed. "
            "Load the ticket again and close it anew."
        )
    return before


def _refuse_faults(work, ticket, now):
    if work.done_at > now + CLOCK_SLACK:
        raise WorkRefused(
            f"The work is dated {work.done_at:%Y-%m-%d %H:%M} UTC, which is still to come. "
            "Set the phone's clock and send it again."
        )
    if ticket and (ticket.place_key, ticket.task_id) != (work.place_key, work.task_id):
        raise WorkRefused("The ticket is about another task or place. Load it again.")
    if work.outcome == Outcome.NOT_DONE and not work.not_done_reason:
        raise WorkRefused("Say why it was not done.")
    if work.outcome == Outcome.DONE and work.not_done_reason:
        raise WorkRefused("Work that was done has no reason for not being done.")
    if work.done_by == DoneBy.OWNER and not work.task.by_owner:
        raise WorkRefused("This is not a task for owners. We come and do it.")


def _ticket_of(work, ticket):
    """The ticket given, else the open one of this task at this place, whoever had it."""
    same = Ticket.objects.select_for_update(no_key=True, of=("self",))
    if ticket:
        return same.get(pk=ticket.pk)
    return same.filter(
        closed_at=None, place_key=work.place_key, task=work.task_id, occasion=work.occasion
    ).first()


def _settle_state(work, ticket):
    """A second closing waits for review; seeing what an owner said he did is no second one."""
    if ticket is None:
        return
    first = Work.objects.counting().filter(ticket=ticket).first()
    if first is None:
        return
    if first.verified or not work.verified:
        work.state = WorkState.REVIEW
    elif work.outcome == Outcome.DONE:
        work.ticket = None  # the owner's word has closed it; this is ours beside it


def _follow(work, ticket, now):
    if work.state == WorkState.REVIEW:
        text = f"A second closing of {work.task} came in. Compare the two, and say which counts."
        return _office(work, OfficeTaskKind.REVIEW_CLOSING, "review", text, now, ticket=ticket)
    if work.outcome == Outcome.NOT_DONE:
        return _follow_not_done(work, ticket, now)
    ask_after_work(work, now=now)
    follow_claims(work, now=now)
    if ticket:
        if ticket.end == TicketEnd.CANCELLED:
            text = f"{work.task} was done although its ticket was cancelled. Decide who pays."
            _office(work, OfficeTaskKind.OTHER, "cancelled", text, now, ticket=ticket)
        _close(ticket, now)
    if work.done_by == DoneBy.OTHER_FIRM:
        text = f"Another firm did: {work.task}. Ask for its invoice, for the warranty papers."
        return _office(work, OfficeTaskKind.OTHER, "other_firm", text, now, ticket=ticket)
    return None


def _follow_not_done(work, ticket, now):
    reason = NotDoneReason(work.not_done_reason)
    if ticket and reason in FIRM_PAYS:
        Ticket.objects.filter(pk=ticket.pk).update(no_charge=True)
    if reason in NOT_DONE:
        kind, text, urgent = NOT_DONE[reason]
        text = f"{work.task}: {text} {work.note}".strip()
        _office(work, kind, "not_done", text, now, ticket=ticket, urgent=urgent)


def _office(work, kind, about, text, now, *, ticket=None, urgent=False):
    OfficeTask.objects.get_or_create(
        key=f"{about}:{work.uuid}",
        defaults={
            "kind": kind,
            "text": text,
            "site_id": work.site_id,
            "contact": work.contact,
            "ticket": ticket,
            "urgent": urgent,
            "opened_at": now,
        },
    )


def _close(ticket, now):
    open_ = Ticket.objects.filter(pk=ticket.pk, closed_at=None)
    open_.update(closed_at=now, end=TicketEnd.DONE)


def _open_again(work):
    """Unless another work counts for it, or the next ticket of the task is open already."""
    same = {"place_key": work.place_key, "task": work.task_id, "occasion": work.occasion}
    taken = Ticket.objects.open().filter(**same).exists()
    if not taken and not Work.objects.counting().filter(ticket=work.ticket_id).exists():
        ended = Ticket.objects.filter(pk=work.ticket_id, end=TicketEnd.DONE)
        ended.update(closed_at=None, end="", end_note="")


def _reviewed(work, state, by, now, reason=""):
    Trail.objects.create(
        at=now,
        by=by,
        did=f"work {state}",
        about=work.place_key,
        before={"state": work.state, "work": str(work.uuid)},
        after={"state": state, "reason": reason},
    )
    work.state, work.reviewed_by, work.reviewed_at = state, by, now
    work.save(update_fields=["state", "reviewed_by", "reviewed_at"])
    if work.visit_id:
        owe_report(work.visit, now=now)
    key = f"review:{work.uuid}"
    handled = OfficeTask.objects.filter(key=key, handled_at=None)
    handled.update(handled_at=now, handled_by=by, handled_note=state)
