"""What a mail says of each visit, task and system, read from the live records."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from customers.kinds import HazardKind
from customers.models import Hazard, Pond
from equipment.models import Fitting, PartFor, Position
from servicedesk.models import StopTicket

NOON = 12


@dataclass
class Water:
    """The names that a reader knows a place by: its ponds first, else the site's own."""

    site: str
    ponds: list[str]

    @property
    def name(self):
        return ", ".join(self.ponds) if 0 < len(self.ponds) <= 3 else self.site

    @property
    def beside(self):
        """The site's name, where the ponds' names do not already say it."""
        return "" if self.name == self.site else self.site


@dataclass
class Row:
    """One place in a mail, with what the reader may press."""

    water: Water
    urls: dict = field(default_factory=dict)
    facts: dict = field(default_factory=dict)


def next_stops(ticket_ids, *, after: datetime) -> dict:
    """The first published stop still to come, by ticket."""
    found = {}
    planned = StopTicket.objects.filter(
        ticket__in=ticket_ids,
        stop__route__published_at__isnull=False,
        stop__arrive_at__gt=after,
    ).select_related("stop__route__technician__user", "stop__site")
    for joined in planned.order_by("stop__arrive_at", "pk"):
        found.setdefault(joined.ticket_id, joined.stop)
    return found


def waters(places) -> dict:
    """The names of places, by place: (site, system id or None, pond id or None)."""
    by_system, by_site = defaultdict(dict), defaultdict(dict)
    in_water = Position.objects.lying().filter(
        system__in={system for _site, system, _pond in places if system}
    )
    for system, pond, name in in_water.values_list("system_id", "pond_id", "pond__name"):
        by_system[system][pond] = name
    for pond in Pond.objects.filter(site__in={place[0].pk for place in places}).order_by("pk"):
        by_site[pond.site_id][pond.pk] = pond.name
    return {place: Water(place[0].name, _ponds_of(place, by_system, by_site)) for place in places}


def ponds_of_systems(systems: Collection[int]) -> dict[int, list[int]]:
    """The ponds in which something of a system lies, by system."""
    found = defaultdict(dict)
    lying = Position.objects.lying().filter(system__in=systems).order_by("pk")
    for system, pond in lying.values_list("system_id", "pond_id"):
        found[system][pond] = None
    return {system: list(ponds) for system, ponds in found.items()}


def place_of_ticket(ticket) -> tuple:
    return ticket.site, ticket.system_id, ticket.pond_id


def _ponds_of(place, by_system, by_site):
    site, system, pond = place
    at_site = by_site[site.pk]
    if pond in at_site:
        return [at_site[pond]]
    if by_system.get(system):
        return sorted(by_system[system].values())
    return list(at_site.values())


def day_words(day: date) -> str:
    """Tuesday, 1 December 2026, in the reader's language."""
    return date_format(day, "l, j F Y")


def half_day(at: datetime, zone: str) -> str:
    """The half of the day at the site, with the name of its time; never a minute."""
    local = at.astimezone(ZoneInfo(zone))
    names = {"short": f"{local:%Z}", "zone": zone.replace("_", " ")}
    if local.hour < NOON:
        return _("in the morning (before 12:00 %(short)s, %(zone)s time)") % names
    return _("in the afternoon (after 12:00 %(short)s, %(zone)s time)") % names


def prepare(sites, *, on: date) -> dict:
    """What the owner has to do before a visit, by site."""
    kinds = defaultdict(set)
    standing = Hazard.objects.filter(site__in=sites).exclude(until_on__lt=on)
    for site, kind in standing.values_list("site_id", "kind"):
        kinds[site].add(kind)
    return {site.pk: _prepare(site, kinds[site.pk]) for site in sites}


def _prepare(site, hazards):
    asked = [_("Please keep the way to the cabinet free, and see that we get through the gate.")]
    if site.owner_present:
        asked.append(_("Somebody has to be at home."))
    if HazardKind.DOG in hazards:
        asked.append(_("Please keep the dog indoors."))
    if HazardKind.LIVESTOCK in hazards:
        asked.append(_("Please keep animals off the field that we cross."))
    return asked


def parts_that_fit(tickets, *, on: date) -> dict:
    """The parts that a job needs, by ticket: those of the unit fitted there, or that it serves."""
    wanted = {
        ticket.pk: ticket.position.serves_id or ticket.position_id
        for ticket in tickets
        if ticket.position_id and ticket.task.part_roles
    }
    fitted = dict(
        Fitting.objects.on_day(on)
        .filter(position__in=wanted.values())
        .values_list("position_id", "component__type_id")
    )
    fitting_parts = defaultdict(list)
    of_types = PartFor.objects.filter(component_type__in=fitted.values()).select_related("part")
    for fits in of_types.order_by("part__number"):
        fitting_parts[fits.component_type_id].append(fits)
    return {
        ticket.pk: [
            fits.part
            for fits in fitting_parts[fitted.get(wanted[ticket.pk])]
            if fits.role in ticket.task.part_roles
        ]
        for ticket in tickets
        if ticket.pk in wanted
    }
