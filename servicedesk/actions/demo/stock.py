"""What lies in the demo's vans and on its shelf, what is on order, and who must be home."""

import uuid
from datetime import date, datetime, time, timedelta

from customers.models import Site
from equipment.models import Part, PartFor
from servicedesk.actions import stock, way_in
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.week import LEFT_FOR_THE_WEEK, eve_of
from servicedesk.actions.needs import needs_of
from servicedesk.models import Technician, Ticket

IN_A_VAN, ON_THE_SHELF, AT_LEAST = 8, 24, 2
VAN_HOLDS = 40  # filter elements
NAMES = uuid.UUID("5a0c7c1e-6d5c-4b6a-9a39-0f6f6a3b1d52")  # from which the demo's presses are named


def stock_vans(crew: Crew, *, today: date, now: datetime) -> None:
    """Counted last evening; one part is nowhere, one comes on Wednesday, one should be here."""
    vans = list(Technician.objects.select_related("user").order_by("pk"))
    Technician.objects.update(van_units=VAN_HOLDS)
    parts = list(Part.objects.filter(pk__in=PartFor.objects.values("part")).order_by("number"))
    missing = _first_needed(vans[0], today)
    for holder, pieces in [(None, ON_THE_SHELF), *((van, IN_A_VAN) for van in vans)]:
        nowhere = [missing] if holder in (None, vans[0]) else []
        stock.count_stock(
            holder,
            {part: 0 if part in nowhere else pieces for part in parts},
            key=uuid.uuid5(NAMES, holder.user.username if holder else "shelf"),
            by=holder.user if holder else crew.office,
            at=eve_of(today),
            now=eve_of(today),
        )
        stock.set_least(holder, dict.fromkeys(parts, AT_LEAST))
    _order(crew, today)
    _getting_in(crew, now)


def _first_needed(van: Technician, today: date) -> Part | None:
    """A part that his next day takes."""
    tickets = Ticket.objects.open().filter(
        stops__route__technician=van, stops__route__day__gte=today
    )
    tickets = list(tickets.select_related("task", "position").order_by("stops__route__day", "pk"))
    found = (need.part for needs in needs_of(tickets, today).values() for need in needs)
    return next((part for part in found if part), None)


def _waiting() -> list[Ticket]:
    """Open filter changes without a day, one a site, away from the sites that are told by name."""
    tickets = Ticket.objects.open().filter(stops=None, task__slug="filter_change")
    tickets = tickets.exclude(site__key__in=LEFT_FOR_THE_WEEK).select_related("task", "position")
    found: dict[int, Ticket] = {}
    for ticket in tickets.order_by("due_when_opened_on", "pk"):
        found.setdefault(ticket.site_id, ticket)
    return list(found.values())


def _order(crew: Crew, today: date) -> None:
    monday = today + timedelta(days=7 - today.weekday())
    ordered_on = today - timedelta(days=8)
    tickets = _waiting()[:1]
    for ticket, needs in needs_of(tickets, today).items():
        for need in needs[:1]:
            if need.part:
                stock.order_part(
                    need.part,
                    need.quantity,
                    uuid=uuid.uuid5(NAMES, "for a ticket"),
                    ordered_on=ordered_on,
                    expected_on=monday + timedelta(days=2),
                    ticket=ticket,
                    note="The maker sends it by parcel.",
                    by=crew.office,
                )
    valve = Part.objects.create(number="RV-3", name="Relief valve")
    stock.order_part(
        valve,
        4,
        uuid=uuid.uuid5(NAMES, "for the shelf"),
        ordered_on=ordered_on,
        expected_on=today - timedelta(days=1),
        by=crew.office,
    )


def _getting_in(crew: Crew, now: datetime) -> None:
    """One owner is home on two mornings; one has to be asked, and his power is a neighbour's."""
    said = [
        ({}, [(2, time(8), time(13)), (4, time(8), time(13))]),
        ({"power_from": "Neighbour, Ada Reed", "power_phone": "+1 202 555 0171"}, []),
    ]
    for ticket, (more, hours) in zip(_waiting()[1:3], said, strict=False):
        site = Site.objects.get(pk=ticket.site_id)
        start = {name: getattr(site, name) for name in way_in.FIELDS}
        way_in.save_way_in(
            site, start | {"owner_present": True} | more, hours, by=crew.office, now=now
        )
