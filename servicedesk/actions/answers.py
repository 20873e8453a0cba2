"""What owners answer by the links in their mails: each recorded once, each to be taken back."""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from customers.actions import resume_mail, stop_mail
from customers.models import Contact, SignedLink
from equipment.models import Part
from servicedesk.actions.defects import record_defect, take_back_defect
from servicedesk.actions.due import lock_sites
from servicedesk.actions.matters import AnswerRefused, Matter, NotTheirs, Visit, matter_of
from servicedesk.actions.reminders.rhythms import Ask, ask_again, done_since, forget_later
from servicedesk.actions.restarts.reported import stop_on_report
from servicedesk.actions.winter.notices import take_back_acknowledgement
from servicedesk.actions.work import record_work, refuse_work
from servicedesk.kinds import AnswerKind, DoneBy, OfficeTaskKind
from servicedesk.models import NoticeDelivery, OfficeTask, OwnerAnswer, Ticket

__all__ = [
    "AnswerRefused",
    "NotTheirs",
    "answer_once",
    "ask_another_day",
    "confirm_visit",
    "confirm_visits",
    "did_it_myself",
    "did_own",
    "is_settled",
    "matter_of",
    "remind_later",
    "report_problem",
    "say",
    "stop_reminders",
    "take_back",
]

UNDO_FOR = timedelta(hours=24)
NOON, DAY_ENDS = time(12), time(18)
AS_PRESSED = frozenset({AnswerKind.CONFIRM, AnswerKind.DID_IT_MYSELF})


@transaction.atomic
def confirm_visit(link: SignedLink, visit: Visit, *, uuid: UUID, now: datetime) -> OwnerAnswer:
    """The day suits: the half day is promised, so that the next planning keeps it."""
    start, end = _half_day_of(visit.stop)
    answer = answer_once(
        link,
        AnswerKind.CONFIRM,
        uuid,
        now,
        ticket=visit.first,
        said={"visit": f"{visit.stop.route.day:%Y-%m-%d}", "half_day": visit.half},
    )
    Ticket.objects.open().filter(
        pk__in=[ticket.pk for ticket in visit.tickets], promised_from=None
    ).update(promised_from=start, promised_until=end)
    return answer


@transaction.atomic
def confirm_visits(
    link: SignedLink, visits: list[Visit], *, uuid: UUID, now: datetime
) -> list[OwnerAnswer]:
    """The same answer for all of them."""
    return [
        confirm_visit(link, visit, uuid=uuid5(uuid, f"stop {visit.stop.pk}"), now=now)
        for visit in visits
    ]


def ask_another_day(
    link: SignedLink, matter: Matter, said: Mapping, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """Days that suit better, for the office to settle; nothing is moved by this."""
    return answer_once(link, AnswerKind.ANOTHER_DAY, uuid, now, ticket=matter.ticket, said=said)


@transaction.atomic
def did_it_myself(
    link: SignedLink,
    ticket: Ticket,
    *,
    done_on: date,
    part: Part | None,
    note: str,
    uuid: UUID,
    now: datetime,
) -> OwnerAnswer:
    """The owner's word, as work that nobody of ours has seen: the ticket leaves the list."""
    lock_sites([ticket.site_id])  # a second press waits here, and then finds the first
    standing = _standing(link.contact, ticket, AnswerKind.DID_IT_MYSELF)
    if standing:
        return standing
    if not ticket.task.by_owner:
        raise AnswerRefused(_("This is not a job for owners. We come and do it."))
    noon = datetime.combine(done_on, NOON, ZoneInfo(ticket.site.time_zone))
    work = record_work(
        uuid=uuid,
        task=ticket.task,
        place=ticket.place,
        done_at=min(noon, now),
        now=now,
        ticket=ticket,
        done_by=DoneBy.OWNER,
        contact=link.contact,
        note=note,
        parts={part: 1} if part else None,
    )
    said = {"done_on": f"{done_on:%Y-%m-%d}", "part": str(part or ""), "note": note}
    return answer_once(
        link, AnswerKind.DID_IT_MYSELF, uuid, now, ticket=ticket, work=work, said=said
    )


@transaction.atomic
def did_own(
    link: SignedLink, ask: Ask, *, done_on: date, note: str, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """What an owner looks after himself is done; it closes no ticket of ours."""
    lock_sites([ask.site.pk])
    if standing := _standing_of(link, AnswerKind.DID_IT_MYSELF):
        return standing
    noon = datetime.combine(done_on, NOON, ZoneInfo(ask.site.time_zone))
    work = record_work(
        uuid=uuid,
        task=ask.task,
        place=ask.place,
        done_at=min(noon, now),
        now=now,
        done_by=DoneBy.OWNER,
        contact=link.contact,
        note=note,
        own_rhythm=True,
    )
    said = {"job": ask.task.owner_name, "done_on": f"{done_on:%Y-%m-%d}", "note": note}
    answer = answer_once(link, AnswerKind.DID_IT_MYSELF, uuid, now, work=work, said=said)
    return _needs_nobody(answer, now) if not note else answer


@transaction.atomic
def remind_later(link: SignedLink, ask: Ask, *, uuid: UUID, now: datetime) -> OwnerAnswer:
    """Ask once more in a week; pressed twice it is asked once."""
    if standing := _standing_of(link, AnswerKind.REMIND_LATER):
        return standing
    ask_again(ask.line, now=now)
    said = {"job": ask.task.owner_name}
    return _needs_nobody(answer_once(link, AnswerKind.REMIND_LATER, uuid, now, said=said), now)


def is_settled(ask: Ask) -> bool:
    """Whether nothing is left to ask: it is done, or the owner has put it off."""
    later = OwnerAnswer.objects.standing().filter(
        link__about=ask.about, kind=AnswerKind.REMIND_LATER
    )
    return bool(done_since([ask])) or later.exists()


def _standing_of(link, kind):
    return OwnerAnswer.objects.standing().filter(link__about=link.about, kind=kind).first()


def _needs_nobody(answer, now):
    """Nobody of the firm has to look at it; it stays on record."""
    OwnerAnswer.objects.filter(pk=answer.pk).update(handled_at=now)
    return answer


@transaction.atomic
def report_problem(
    link: SignedLink, matter: Matter, *, sign: str, text: str, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """Something to mend, urgent until somebody has looked at it."""
    record_defect(
        uuid=uuid,
        site=matter.site,
        system=matter.system,
        contact=link.contact,
        sign=sign,
        text=text,
        urgent=True,
        seen_at=now,
        now=now,
    )
    stop_on_report(sign, matter.site, matter.system, contact=link.contact, now=now)
    said = {"sign": sign.replace("_", " "), "place": matter.water.name, "words": text}
    return answer_once(
        link, AnswerKind.PROBLEM, uuid, now, ticket=matter.ticket, said=said, urgent=True
    )


@transaction.atomic
def stop_reminders(link: SignedLink, topic: str, *, uuid: UUID, now: datetime) -> OwnerAnswer:
    """No more mail of this kind to this address, whichever customer it belongs to."""
    before = OwnerAnswer.objects.standing().filter(link=link, kind=AnswerKind.STOP_REMINDERS)
    for contact in _same_address(link.contact):
        stop_mail(contact, topic, at=now, how="link in a mail")
    if answer := before.first():
        return answer
    said = {"topic": topic.replace("_", " ")}
    return answer_once(link, AnswerKind.STOP_REMINDERS, uuid, now, said=said)


def say(
    link: SignedLink, kind: str, matter: Matter, said: Mapping, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """An answer that only has to reach a person: call me, I turned it off on purpose."""
    said = {"place": matter.water.name} | dict(said)
    urgent = kind != AnswerKind.WILL_WATCH
    return answer_once(link, kind, uuid, now, ticket=matter.ticket, said=said, urgent=urgent)


@transaction.atomic
def take_back(answer: OwnerAnswer, *, now: datetime) -> None:
    """Undo an answer within a day; what hung on it is as before. Twice changes nothing."""
    standing = OwnerAnswer.objects.standing().filter(pk=answer.pk)
    if now - answer.recorded_at > UNDO_FOR:
        raise AnswerRefused(
            _("This was recorded more than a day ago. Please call us to change it.")
        )
    if standing.update(undone_at=now) != 1:
        return
    _undo(answer, now)


def _undo(answer, now):
    if answer.kind == AnswerKind.CONFIRM:
        _forget_promise(answer)
    elif answer.kind == AnswerKind.DID_IT_MYSELF and answer.work_id:
        refuse_work(answer.work, now=now, reason="taken back by the owner")
    elif answer.kind == AnswerKind.REMIND_LATER:
        forget_later(answer.link, now=now)
    elif answer.kind == AnswerKind.STOP_REMINDERS:
        for contact in _same_address(answer.contact):
            resume_mail(contact, answer.said["topic"].replace(" ", "_"), at=now)
    elif answer.kind == AnswerKind.PROBLEM:
        _problem_taken_back(answer, now)
    elif answer.kind == AnswerKind.NOTICE_READ:
        delivery = NoticeDelivery.objects.filter(pk=answer.link.about.partition(":")[2]).first()
        take_back_acknowledgement(delivery)


def _forget_promise(answer):
    """The stop's tickets were promised together, so they are let go together."""
    first = answer.ticket
    first.refresh_from_db()
    if first.promised_from:
        Ticket.objects.open().filter(
            site=first.site_id,
            promised_from=first.promised_from,
            promised_until=first.promised_until,
        ).update(promised_from=None, promised_until=None)


def _problem_taken_back(answer, now):
    """Somebody still asks: a danger is not gone because a button was pressed."""
    take_back_defect(answer.uuid, now=now)
    OfficeTask.objects.get_or_create(
        key=f"taken-back:{answer.uuid}",
        defaults={
            "kind": OfficeTaskKind.PHONE_OWNER,
            "text": f"{answer.contact} took back a report ({answer.said.get('sign')}, "
            f"{answer.said.get('place')}). Ask whether all is well.",
            "contact": answer.contact,
            "opened_at": now,
        },
    )


def answer_once(link, kind, uuid, now, *, said=None, ticket=None, work=None, urgent=False):
    """One row for one press: the same UUID, or the same standing answer, is the same press."""
    known = OwnerAnswer.objects.filter(uuid=uuid).first()
    if known is None and kind in AS_PRESSED and ticket:
        known = _standing(link.contact, ticket, kind)
    if known:
        return known
    try:
        with transaction.atomic():
            answer = OwnerAnswer.objects.create(
                uuid=uuid,
                link=link,
                contact=link.contact,
                kind=kind,
                ticket=ticket,
                work=work,
                said=dict(said or {}),
                urgent=urgent,
                recorded_at=now,
            )
    except IntegrityError:  # the other press was a moment faster
        return OwnerAnswer.objects.filter(uuid=uuid).first() or _standing(
            link.contact, ticket, kind
        )
    SignedLink.objects.filter(pk=link.pk, used_at=None).update(used_at=now)
    return answer


def _standing(contact, ticket, kind):
    return OwnerAnswer.objects.standing().filter(contact=contact, ticket=ticket, kind=kind).first()


def _same_address(contact):
    return Contact.objects.filter(email__iexact=contact.email)


def _half_day_of(stop):
    zone = ZoneInfo(stop.site.time_zone)
    local = stop.arrive_at.astimezone(zone)
    ends = (time(0), NOON) if local.time() < NOON else (NOON, DAY_ENDS)
    start, end = (datetime.combine(local.date(), at, zone) for at in ends)
    return start, max(end, stop.leave_at)
