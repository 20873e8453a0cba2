"""The stops of a technician's day, and one stop with all that he needs to know there."""

from collections import defaultdict
from datetime import date, timedelta

from django.db.models import Count, Exists, OuterRef, Q, Subquery

from customers.kinds import ContactState
from customers.models import Contact, Hazard, Ownership, SiteSecret
from equipment.models import Position, Reading
from servicedesk.models import (
    Caution,
    Defect,
    DueItem,
    OwnerAnswer,
    Route,
    Stop,
    Ticket,
    Visit,
    Work,
)
from servicedesk.planning.standing import standing
from servicedesk.tables.load import Load, load_of

SOON = timedelta(days=21)


def standing_of(ticket: Ticket | None, item: DueItem | None, today: date):
    """How a ticket, or a due day without one, stands today."""
    if item is None:
        due_on = ticket.due_when_opened_on
        return standing(today, opens_on=None, due_on=due_on, closes_on=None)
    return standing(
        today,
        opens_on=item.opens_on,
        due_on=item.due_on,
        closes_on=item.closes_on,
        paused=item.paused,
    )


def key_of(thing):
    """What a ticket and a due item of the same occasion have in common."""
    return thing.place_key, thing.task_id, thing.occasion


def stops_shown(route: Route, today: date) -> tuple[list[Stop], Load]:
    """The stops of a route in order, each with ponds, jobs and whether it is done; and the load."""
    tried = _visit_of(visit__stop__route=route)
    stops = list(Stop.objects.filter(route=route).select_related("site").order_by("number"))
    tickets = list(
        Ticket.objects.filter(stops__in=stops)
        .select_related("task", "pond", "system", "position")
        .annotate(visit_uuid=tried)
        .order_by("pk")
    )
    due = {
        key_of(item): item
        for item in DueItem.objects.filter(place_key__in={t.place_key for t in tickets})
    }
    waters = ponds_of(tickets)
    visited = set(Visit.objects.filter(stop__in=stops).values_list("stop", flat=True))
    for stop in stops:
        mine = [ticket for ticket in tickets if ticket.site_id == stop.site_id]
        stop.ponds = waters[stop.site_id]
        stop.jobs = [_job(ticket, due.get(key_of(ticket)), today) for ticket in mine]
        stop.done = stop.pk in visited and all(job["over"] for job in stop.jobs)
    return stops, load_of([ticket for ticket in tickets if not ticket.closed_at], route.day)


def _visit_of(**where):
    """The last visit at which somebody closed a ticket, or said why it could not be done."""
    works = Work.objects.filter(ticket=OuterRef("pk"), **where).order_by("-pk")
    return Subquery(works.values("visit__uuid")[:1])


def _job(ticket, item, today):
    over = bool(ticket.closed_at or ticket.visit_uuid)
    return {"ticket": ticket, "standing": standing_of(ticket, item, today), "over": over}


def ponds_of(tickets) -> dict[int, list]:
    """The waters that tickets are about, by site: their own, else those of their systems."""
    named = defaultdict(dict)
    for ticket in tickets:
        if ticket.pond:
            named[ticket.site_id][ticket.pond] = None
    systems = {ticket.system_id: ticket.site_id for ticket in tickets if ticket.system_id}
    lying = Position.objects.lying().filter(system__in=systems)
    for position in lying.select_related("pond").order_by("pond__name"):
        named[systems[position.system_id]][position.pond] = None
    return defaultdict(list, {site: list(ponds) for site, ponds in named.items()})


def stops_placed(today: date):
    """Published stops that know their place on the route, the next one, and whether a code is kept.

    `has_secrets` says that there are some; who may see them is for servicedesk/access.py.
    """
    same = Stop.objects.filter(route=OuterRef("route")).order_by("number")
    counted = same.order_by().values("route").annotate(many=Count("pk")).values("many")
    still = Q(until_on=None) | Q(until_on__gte=today)
    return (
        Stop.objects.filter(route__published_at__isnull=False)
        .select_related("site", "route__technician__user")
        .annotate(
            place=Subquery(counted.filter(number__lte=OuterRef("number"))),
            places=Subquery(counted),
            next_uuid=Subquery(same.filter(number__gt=OuterRef("number")).values("uuid")[:1]),
            has_secrets=Exists(SiteSecret.objects.filter(still, site=OuterRef("site"))),
        )
    )


def stop_shown(stop: Stop, *, today: date) -> dict:
    """Everything that the page of one stop says."""
    tried = _visit_of(visit__stop=stop)
    tickets = list(
        Ticket.objects.filter(stops=stop)
        .select_related("task", "pond", "system", "position")
        .annotate(visit_uuid=tried)
        .order_by("pk")
    )
    items = {key_of(item): item for item in _due_at(stop.site)}
    taken = {key_of(ticket) for ticket in tickets}
    soon = [item for key, item in items.items() if key not in taken and _is_soon(item, today)]
    return {
        "stop": stop,
        "ponds": ponds_of(tickets)[stop.site_id],
        "jobs": [_job(ticket, items.get(key_of(ticket)), today) for ticket in tickets],
        "load": load_of(tickets, today),
        "claims": [item for item in items.values() if item.verify],
        "soon": [(item, standing_of(None, item, today)) for item in soon],
        "today": today,
    } | _known_of(stop.site, tickets, today)


def _known_of(site, tickets, today):
    """The way in, dangers, people, and what was seen and measured before."""
    still = Q(until_on=None) | Q(until_on__gte=today)
    owners = Ownership.objects.on_day(today).filter(Q(site=site) | Q(pond__site=site))
    systems = {ticket.system_id for ticket in tickets if ticket.system_id}
    return {
        "hazards": Hazard.objects.filter(still, site=site).order_by("pk"),
        "cautions": Caution.objects.filter(
            slug__in={slug for ticket in tickets for slug in ticket.task.cautions}
        ),
        "contacts": Contact.objects.filter(
            customer__in=owners.values("customer"), state=ContactState.ACTIVE
        )
        .exclude(phone="")
        .order_by("pk"),
        "defects": Defect.objects.filter(site=site, mended_at=None).select_related("system"),
        "answers": OwnerAnswer.objects.filter(
            ticket__in=[ticket.pk for ticket in tickets], undone_at=None, handled_at=None
        ).select_related("contact"),
        "readings": _last_readings(systems),
    }


def _due_at(site):
    return (
        DueItem.objects.filter(site=site)
        .select_related("task", "system", "position", "pond")
        .order_by("due_on", "pk")
    )


def _is_soon(item, today):
    return item.due_on is not None and not item.paused and item.due_on <= today + SOON


def _last_readings(systems):
    """The newest standing reading of each quantity, system by system."""
    rows = (
        Reading.objects.standing()
        .filter(set__system__in=systems, value__isnull=False, doubtful=False)
        .select_related("set__system", "position")
        .order_by("set__system__name", "quantity", "set__taken_at", "pk")
    )
    return list({(row.set.system_id, row.quantity, row.position_id): row for row in rows}.values())
