"""What the link of a mail is about, as things stand now."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Exists, F, OuterRef
from django.utils.translation import gettext as _

from customers.kinds import MailTopic
from customers.models import Ownership, Pond, SignedLink, Site
from equipment.models import Position, System
from servicedesk.actions.reminders.rhythms import Ask, ask_of
from servicedesk.emails import rows
from servicedesk.kinds import AnswerKind
from servicedesk.models import (
    NoticeDelivery,
    OwnerAnswer,
    RecallUnit,
    Reminder,
    Restart,
    Stop,
    Ticket,
)
from servicedesk.models import ServiceReport as Report
from servicedesk.models import Visit as Visited
from servicedesk.planning.calendar import site_date, week_name


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
    report: Report | None = None  # on a visit, for this reader
    writing: bool = False  # that report is not written yet
    asked: Ask | None = None  # what an owner looks after in a rhythm of his own
    topic: str = ""
    winters: list[System] = field(default_factory=list)  # whose winter is asked about
    notice: NoticeDelivery | None = None  # about thin ice, for this reader
    start: Restart | None = None  # after a stop, with the days of its ramp


def matter_of(link: SignedLink, *, now: datetime) -> Matter:
    """What a link is about. Raises NotTheirs after a sale, AnswerRefused where it is gone."""
    kind, _colon, value = link.about.partition(":")
    if kind == "topic":
        return Matter(topic=value)
    if kind == "week":
        return Matter(visits=_visits_of_week(link.contact, value, now=now))
    if kind == "winters":
        return _of_winters(link.contact, int(value), now)
    found = {
        "ticket": _of_ticket,
        "site": _of_site,
        "system": _of_system,
        "recall": _of_recall,
        "own": _of_own,
        "visit": _of_report,
        "winter": _of_winter,
        "notice": _of_notice,
        "restart": _of_restart,
    }[kind](value, now)
    _refuse_others(link.contact, found, now)
    if kind == "visit":
        found.report = _report_for(link.contact, value)
        found.writing = found.report is None
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


def _of_report(pk, now):
    visited = Visited.objects.select_related("site").filter(pk=pk).first()
    if visited is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (visited.site, None, None)
    return Matter(visited.site, None, rows.waters([place])[place])


def _report_for(contact, visit):
    """The version that stands, in the reader's own language and units where there is one."""
    standing = Report.objects.current().filter(visit=visit, customer=contact.customer_id)
    standing = list(standing.order_by("pk"))
    wanted = (contact.language, contact.units)
    standing.sort(key=lambda one: (one.language, one.units) != wanted)
    return standing[0] if standing else None


def _of_system(pk, now):
    system = System.objects.select_related("site").filter(pk=pk).first()
    if system is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (system.site, system.pk, None)
    return Matter(system.site, system, rows.waters([place])[place])


def _of_restart(pk, now):
    found = Restart.objects.select_related("system__site").filter(pk=pk).first()
    if found is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (found.system.site, found.system_id, None)
    return Matter(found.system.site, found.system, rows.waters([place])[place], start=found)


def _of_recall(pk, now):
    unit = RecallUnit.objects.select_related("site", "system", "ticket__task").filter(pk=pk).first()
    if unit is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (unit.site, unit.system_id, None)
    return Matter(unit.site, unit.system, rows.waters([place])[place], unit.ticket)


def _of_own(pk, now):
    line = Reminder.objects.filter(pk=pk).first()
    ask = line and ask_of(line)
    if ask is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (ask.site, ask.system_id, None)
    matter = Matter(ask.site, ask.system, rows.waters([place])[place])
    matter.asked = ask
    return matter


def _of_winter(pk, now):
    line = Reminder.objects.filter(pk=pk).first()
    system = line and System.objects.select_related("site").filter(pk=line.facts["system"]).first()
    if system is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    place = (system.site, system.pk, None)
    return Matter(system.site, system, rows.waters([place])[place], winters=[system])


def _of_winters(contact, year, now):
    """Every system that this person was asked about for a winter, as far as it is still his."""
    lines = Reminder.objects.filter(contact=contact, topic=MailTopic.WINTER_PLAN)
    asked = {line.facts["system"] for line in lines if line.facts["year"] == year}
    systems = System.objects.filter(pk__in=asked, site__in=_sites_of(contact, on=now.date()))
    systems = list(systems.select_related("site").distinct().order_by("name", "pk"))
    if not systems:
        raise NotTheirs
    places = rows.waters([(system.site, system.pk, None) for system in systems])
    ponds = dict.fromkeys(name for water in places.values() for name in water.ponds)
    water = rows.Water(contact.customer.name, list(ponds))
    return Matter(systems[0].site, None, water, winters=systems)


def _of_notice(pk, now):
    delivery = (
        NoticeDelivery.objects.select_related("notice__pond__site", "text", "contact")
        .filter(pk=pk)
        .first()
    )
    if delivery is None:
        raise AnswerRefused(_("This is no longer on our list. Please call us."))
    if delivery.ended_at or delivery.notice.ended_at:
        raise NotTheirs
    pond = delivery.notice.pond
    place = (pond.site, None, pond.pk)
    return Matter(pond.site, None, rows.waters([place])[place], notice=delivery)


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
    pond = matter.notice.notice.pond_id if matter.notice else pond
    lies_in = Position.objects.lying().filter(system=matter.system).values("pond")
    if owned.filter(pond__in=lies_in, customer=contact.customer_id).exists():
        return  # a pond sold apart from its site
    owner = owned.filter(pond=pond).first() if pond else None
    owner = owner or owned.filter(site=matter.site).first()
    if owner and owner.customer_id != contact.customer_id:
        raise NotTheirs
