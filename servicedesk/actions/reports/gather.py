"""Everything that the report on one visit rests on, in a number of queries that does not grow."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Q

from customers.models import Customer, Firm, Ownership, Pond
from equipment.models import Position, Reading, ReadingSet, System
from servicedesk.kinds import WorkState
from servicedesk.models import Caution, Defect, DueItem, PartUsed, Photo, SystemCheck, Visit, Work


@dataclass
class Gathered:
    """One visit as its owner may know it; what lies in waters of somebody else is left out."""

    visit: Visit
    firm: Firm
    customer: Customer | None
    ponds: dict[int, str]  # of the site and this customer, by number
    ponds_of: dict[int, list[str]]  # of a system
    checks: list[SystemCheck] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
    parts: list[PartUsed] = field(default_factory=list)
    defects: list[Defect] = field(default_factory=list)
    photos: list[Photo] = field(default_factory=list)
    sets: list[ReadingSet] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)  # those that stand, of this visit
    before: dict = field(default_factory=dict)  # last reading before: (system, pond, quantity, ..)
    due: list[DueItem] = field(default_factory=list)
    cautions: dict[str, str] = field(default_factory=dict)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.visit.site.time_zone)

    @property
    def ends_at(self) -> datetime:
        """By when everything of this visit had been read."""
        ends = [self.visit.left_at or self.visit.arrived_at, self.visit.arrived_at]
        return max([*ends, *(one.taken_at for one in self.sets)])

    @property
    def systems(self) -> list[System]:
        """The systems that were looked at, read or worked on, by name."""
        found = {one.system_id: one.system for one in [*self.checks, *self.sets, *self.works]}
        found.pop(None, None)
        return sorted(found.values(), key=lambda system: (system.name, system.pk))


def gather(visit: Visit) -> Gathered:
    """All that a report on a visit may tell the customer whose place it was that day."""
    on = visit.arrived_at.astimezone(ZoneInfo(visit.site.time_zone)).date()
    customer, ponds, ponds_of, hidden = _owned(visit.site_id, on)
    found = Gathered(visit, Firm.objects.get(), customer, ponds, ponds_of)
    _keep_rows(found, hidden)
    found.readings = list(
        Reading.objects.standing()
        .filter(set__in=found.sets, doubtful=False)
        .select_related("set", "position")
        .order_by("pk")
    )
    found.before = _before(found)
    keys = {(work.place_key, work.task_id) for work in found.works}
    items = DueItem.objects.filter(
        place_key__in={key for key, _task in keys}, due_on__isnull=False, paused=False
    ).select_related("task", "system", "position")
    found.due = [i for i in items.order_by("due_on", "pk") if (i.place_key, i.task_id) in keys]
    found.cautions = dict(Caution.objects.filter(slug="ice").values_list("slug", "text"))
    return found


def _owned(site, on):
    """(customer, his ponds, pond names of each system, what belongs to somebody else)."""
    ponds = dict(Pond.objects.filter(site=site).order_by("pk").values_list("pk", "name"))
    owned = Ownership.objects.on_day(on).filter(Q(site=site) | Q(pond__in=ponds))
    owned = list(owned.select_related("customer").order_by("from_on", "pk"))
    customer = next((one.customer for one in reversed(owned) if one.site_id), None)
    of_ponds = {one.customer for one in owned if one.pond_id}
    if customer is None and len(of_ponds) == 1:
        customer = of_ponds.pop()
    theirs = {one.pond_id for one in owned if one.pond_id and one.customer != customer}
    lying = Position.objects.lying().filter(system__site=site, pond__isnull=False).order_by("pk")
    waters = defaultdict(dict)
    for system, pond in lying.values_list("system_id", "pond_id"):
        waters[system][pond] = ponds.get(pond, "")
    hidden = {system for system, of in waters.items() if of and set(of) <= theirs}
    mine = {pk: name for pk, name in ponds.items() if pk not in theirs}
    names = {pk: [mine[p] for p in of if mine.get(p)] for pk, of in waters.items()}
    return customer, mine, names, (hidden, theirs)


def _keep_rows(found, hidden):
    """Rows of the visit, less those of other owners; where there are such, photos and parts that
    name no work are left out too, since nobody can tell whose they are."""
    visit, (systems, ponds) = found.visit, hidden

    def theirs(row):
        return row.system_id in systems or getattr(row, "pond_id", None) in ponds

    checks = SystemCheck.objects.filter(visit=visit).select_related("system").order_by("pk")
    found.checks = [row for row in checks if not theirs(row)]
    works = Work.objects.filter(visit=visit, state=WorkState.ACCEPTED)
    works = works.select_related("task", "system", "position", "pond").order_by("pk")
    found.works = [row for row in works if not theirs(row)]
    defects = Defect.objects.standing().filter(visit=visit).select_related("system", "position")
    found.defects = [row for row in defects.order_by("-urgent", "pk") if not theirs(row)]
    sets = visit.reading_sets.select_related("system", "pond").order_by("taken_at", "pk")
    found.sets = [row for row in sets if not theirs(row)]
    mine = {work.pk for work in found.works}
    used = PartUsed.objects.standing().filter(Q(visit=visit) | Q(work__visit=visit))
    parts = used.select_related("part")
    photos = Photo.objects.filter(Q(visit=visit) | Q(work__visit=visit))
    loose = not systems and not ponds
    found.parts = [row for row in parts.order_by("pk") if _shown(row, mine, loose)]
    found.photos = [row for row in photos.order_by("taken_at", "pk") if _shown(row, mine, loose)]


def _shown(row, mine, loose):
    return row.work_id in mine if row.work_id else loose


def _before(found):
    """The last reading of the same kind before this visit, by (system, pond, quantity, place)."""
    systems = {one.system_id for one in found.sets if one.system_id}
    ponds = {one.pond_id for one in found.sets if one.pond_id}
    rows = (
        Reading.objects.standing()
        .filter(Q(set__system__in=systems) | Q(set__pond__in=ponds))
        .filter(
            set__taken_at__lt=found.visit.arrived_at,
            quantity__in={reading.quantity for reading in found.readings},
            value__isnull=False,
            doubtful=False,
        )
        .exclude(set__in=found.sets)
        .order_by("set__taken_at", "set_id", "pk")
        .values_list(
            "set__system_id", "set__pond_id", "quantity", "position_id", "value", "set__taken_at"
        )
    )
    return {row[:4]: row[4:] for row in rows}
