"""Tickets to look at something: a serial number that a recall asks for, work that others report."""

from collections.abc import Collection
from datetime import datetime

from customers.models import User
from servicedesk.actions.claims import LOOK, claims_of
from servicedesk.actions.recalls import RecallRefused, record_serial
from servicedesk.actions.visits.payload import Node
from servicedesk.actions.work import refuse_work, verify_work
from servicedesk.kinds import OfficeTaskKind, Outcome, WorkState
from servicedesk.models import OfficeTask, RecallUnit, Ticket, Work

NOT_READABLE = "not readable"
AS_TOLD, NOT_SO = "as_told", "not_so"


def units_to_read(tickets: Collection[Ticket]) -> dict[int, RecallUnit]:
    """The unit whose serial number a ticket asks for, by ticket; no query where none does."""
    asked = [ticket.pk for ticket in tickets if ticket.occasion.startswith("recall:")]
    if not asked:
        return {}
    waiting = RecallUnit.objects.filter(ticket__in=asked, must_look=True, handled_at=None)
    rows = waiting.select_related("campaign", "component__type", "site").order_by("pk")
    return {unit.ticket_id: unit for unit in rows}


def note_look(node: Node, ticket: Ticket | None, *, done: bool) -> dict:
    """What was read or seen, for `found`; a sentence where a done look does not say it."""
    if ticket is None:
        return {}
    if ticket.task.slug == LOOK:
        return _claim(node, done)
    return _serial(node, done) if units_to_read([ticket]) else {}


def follow_look(work: Work, *, by: User, now: datetime) -> None:
    """What a counted look changes: the unit of a recall, or the work that was reported."""
    if (work.state, work.outcome) != (WorkState.ACCEPTED, Outcome.DONE) or work.ticket is None:
        return
    if claim := work.found.get("claim"):
        for reported in list(claims_of(work.ticket)):
            if claim == AS_TOLD:
                verify_work(reported, by=by, now=now)
            else:
                refuse_work(reported, by=by, now=now, reason="looked at the pond: not done")
    serial = work.found.get("serial")
    unit = units_to_read([work.ticket]).get(work.ticket_id) if serial else None
    if unit:
        _read(unit, serial, by, now)


def _claim(node, done):
    claim = node.text("claim")
    if claim in {AS_TOLD, NOT_SO}:
        return {"claim": claim}
    if done:
        node.fault("claim", "Say what you saw: was it done as reported?")
    return {}


def _serial(node, done):
    serial, blind = node.text("serial", 60), node.yes("unreadable")
    if serial and blind:
        node.fault("serial", "A number is typed and ticked as not readable. Leave one of the two.")
    elif not serial and not blind and done:
        node.fault("serial", "Type the number on the nameplate, or tick that nobody can read it.")
    return {"serial": serial or NOT_READABLE} if serial or blind else {}


def _read(unit, serial, by, now):
    """Into the register; where the number tells nothing, a person decides about the unit."""
    says = "nobody can read its serial number."
    if serial != NOT_READABLE:
        try:
            record_serial(unit, serial, by=by, now=now)
            return
        except RecallRefused:
            says = f"the number read is {serial}, which does not tell whether it is meant."
    OfficeTask.objects.get_or_create(
        key=f"recall-read:{unit.pk}",
        defaults={
            "kind": OfficeTaskKind.RECALL,
            "text": f"Recall {unit.campaign}: {by} looked at {unit.component}; {says} Decide what "
            "becomes of the unit, and write it on the list of the recall.",
            "site": unit.site,
            "opened_at": now,
        },
    )
