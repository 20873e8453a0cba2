"""What owners answer by the links in their mails: each recorded once, each to be taken back."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.db.models import Exists, F, OuterRef
from django.utils.translation import gettext as _

from customers.actions import resume_mail, stop_mail
from customers.models import Contact, Ownership, Pond, SignedLink, Site
from equipment.models import Part, System
from servicedesk.actions.defects import record_defect, take_back_defect
from servicedesk.actions.due import lock_sites
from servicedesk.actions.work import record_work, refuse_work
from servicedesk.emails import rows
from servicedesk.kinds import AnswerKind, DoneBy, OfficeTaskKind
from servicedesk.models import (
    OfficeTask,
    OwnerAnswer,
    RecallUnit,
    Stop,
    Ticket,
)
from servicedesk.planning.calendar import site_date, week_name

UNDO_FOR = timedelta(hours=24)
NOON, DAY_ENDS = time(12), time(18)
AS_PRESSED = frozenset({AnswerKind.CONFIRM, AnswerKind.DID_IT_MYSELF})


class AnswerRefused(Exception):
    """Nothing was recorded; the text says why and what to do."""


class NotTheirs(Exception):
    """The place is not this customer's any more."""


@dataclass
class Visit:
    """A stop that an owner may answer about, with the open tickets that are his."""

    stop: Stop
    tickets: list[Ticket]
    water: rows.Water
    half: str
    confirmed: bool = False

    @property
    def first(self):
        return self.tickets[0]


@dataclass
class Matter:
    """What a link is about, as things stand now."""

    site: Site | None = None
    system: System | None = None
    water: rows.Water | None = None
    ticket: Ticket | None = None
    visits: list[Visit] = field(default_factory=list)
    own_tasks: list[Ticket] = field(default_factory=list)
    topic: str = ""


def matter_of(link: SignedLink, *, now: datetime) -> Matter:
    """What a link is about. Raises NotTheirs after a sale, AnswerRefused where it is gone."""
    kind, _colon, value = link.about.partition(":")
    if kind == "topic":
        return Matter(topic=value)
    if kind == "week":
        return Matter(visits=_visits_of_week(link.contact, value, now=now))
    found = {
        "ticket": _of_ticket,
        "site": _of_site,
        "system": _of_system,
        "recall": _of_recall,
    }[kind](value, now)
    _refuse_others(link.contact, found, now)
    return found


def _of_ticket(pk, now):
    ticket = Ticket.objects.select_related("task", "site", "system").filter(pk=pk).first()
    if ticket is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = rows.place_of_ticket(ticket)
    matter = Matter(ticket.site, ticket.system, rows.waters([place])[place], ticket)
    stop = rows.next_stops([ticket.pk], after=now).get(ticket.pk)
    if stop and ticket.closed_at is None:
        matter.visits = _visits([stop])
        matter.own_tasks = [t for t in matter.visits[0].tickets if t.task.by_owner]
    elif ticket.closed_at is None and ticket.task.by_owner:
        matter.own_tasks = [ticket]
    return matter


def _of_site(pk, now):
    site = Site.objects.filter(pk=pk).first()
    if site is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (site, None, None)
    return Matter(site, None, rows.waters([place])[place])


def _of_system(pk, now):
    system = System.objects.select_related("site").filter(pk=pk).first()
    if system is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (system.site, system.pk, None)
    return Matter(system.site, system, rows.waters([place])[place])


def _of_recall(pk, now):
    unit = RecallUnit.objects.select_related("site", "system", "ticket__task").filter(pk=pk).first()
    if unit is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (unit.site, unit.system_id, None)
    return Matter(unit.site, unit.system, rows.waters([place])[place], unit.ticket)


def _visits_of_week(contact, week, *, now):
    """All published stops to come in a week at places of the contact's customer."""
    sites = _sites_of(contact, on=now.date())
    stops = Stop.objects.filter(
        site__in=sites, route__published_at__isnull=False, arrive_at__gt=now
    )
    stops = stops.select_related("route__technician__user", "site").order_by("arrive_at", "pk")
    return _visits([stop for stop in stops if week_name(stop.route.day) == week])


def _visits(stops):
    """Stops with their open tickets; as many queries for one as for fifty."""
    tickets = (
        Ticket.objects.open()
        .filter(stops__in=stops)
        .annotate(
            stop_pk=F("stops__pk"),
            confirmed=Exists(
                OwnerAnswer.objects.standing().filter(
                    ticket=OuterRef("pk"), kind=AnswerKind.CONFIRM
                )
            ),
        )
        .select_related("task", "site", "position")
        .order_by("pk")
    )
    by_stop = defaultdict(list)
    for ticket in tickets:
        by_stop[ticket.stop_pk].append(ticket)
    places = rows.waters([rows.place_of_ticket(ticket) for ticket in tickets])
    return [_visit(stop, by_stop[stop.pk], places) for stop in stops if by_stop[stop.pk]]


def _visit(stop, tickets, places):
    of_stop = [places[rows.place_of_ticket(ticket)] for ticket in tickets]
    ponds = dict.fromkeys(name for water in of_stop for name in water.ponds)
    return Visit(
        stop,
        tickets,
        rows.Water(stop.site.name, list(ponds)),
        rows.half_day(stop.arrive_at, stop.site.time_zone),
        any(ticket.confirmed for ticket in tickets),
    )


def _sites_of(contact, *, on):
    owned = Ownership.objects.on_day(on).filter(customer=contact.customer)
    ponds = Pond.objects.filter(ownerships__in=owned)
    return Site.objects.filter(ownerships__in=owned) | Site.objects.filter(ponds__in=ponds)


def _refuse_others(contact, matter, now):
    today = site_date(now, matter.site.time_zone)
    owned = Ownership.objects.on_day(today)
    pond = matter.ticket.pond_id if matter.ticket else None
    lies_in = Pond.objects.filter(positions__system=matter.system)
    if owned.filter(pond__in=lies_in, customer=contact.customer_id).exists():
        return  # a pond sold apart from its site
    owner = owned.filter(pond=pond).first() if pond else None
    owner = owner or owned.filter(site=matter.site).first()
    if owner and owner.customer_id != contact.customer_id:
        raise NotTheirs


@transaction.atomic
def confirm_visit(link: SignedLink, visit: Visit, *, uuid: UUID, now: datetime) -> OwnerAnswer:
    """The day suits: the half day is promised, so that the next planning keeps it."""
    start, end = _half_day_of(visit.stop)
    answer = _answer(
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
    return _answer(link, AnswerKind.ANOTHER_DAY, uuid, now, ticket=matter.ticket, said=said)


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
    return _answer(link, AnswerKind.DID_IT_MYSELF, uuid, now, ticket=ticket, work=work, said=said)


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
    said = {"sign": sign.replace("_", " "), "place": matter.water.name, "words": text}
    return _answer(
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
    return _answer(link, AnswerKind.STOP_REMINDERS, uuid, now, said=said)


def say(
    link: SignedLink, kind: str, matter: Matter, said: Mapping, *, uuid: UUID, now: datetime
) -> OwnerAnswer:
    """An answer that only has to reach a person: call me, I turned it off on purpose."""
    said = {"place": matter.water.name} | dict(said)
    return _answer(link, kind, uuid, now, ticket=matter.ticket, said=said, urgent=True)


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
    if answer.kind == AnswerKind.CONFIRM:
        _forget_promise(answer)
    elif answer.kind == AnswerKind.DID_IT_MYSELF and answer.work_id:
        refuse_work(answer.work, now=now, reason="taken back by the owner")
    elif answer.kind == AnswerKind.STOP_REMINDERS:
        for contact in _same_address(answer.contact):
            resume_mail(contact, answer.said["topic"].replace(" ", "_"), at=now)
    elif answer.kind == AnswerKind.PROBLEM:
        _problem_taken_back(answer, now)


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


def _answer(link, kind, uuid, now, *, said=None, ticket=None, work=None, urgent=False):
    """One row for one press: the same UUID, or the same standing answer, is the same press."""
    known = OwnerAnswer.objects.filter(uuid=uuid).first()
    if known is None and kind in AS_PRESSED:
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
