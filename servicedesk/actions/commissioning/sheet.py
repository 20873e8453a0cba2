"""All that a handing over needs to know of its system, read for many at once."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, datetime
from functools import cached_property
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery

from customers.kinds import ContactState
from customers.models import Contact, ContactRole, Ownership, Pond
from equipment.kinds import PositionKind, PositionUse, Quantity
from equipment.models import (
    Configuration,
    ConfigurationLine,
    Fitting,
    Gauge,
    Position,
    Reading,
    StateChange,
)
from servicedesk.kinds import PhotoKind, Point
from servicedesk.models import Acknowledged, Commissioning
from servicedesk.planning.commissioning import WATER_PA_M

SHOWN_ALONE = ["system__site__hazards", "doubts_confirmed__by"]


class Sheet:
    """One handing over with its system, as `sheets_of` has read them."""

    def __init__(
        self, record: Commissioning, owners: set[int], people: list[Contact], *, read_on: date
    ):
        self.record, self.system, self.site = record, record.system, record.system.site
        self.read_on = read_on
        self.owners, self.people = owners, people  # customers, and the contacts of theirs

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.site.time_zone)

    def day_of(self, at: datetime) -> date:
        return at.astimezone(self.zone).date()

    @cached_property
    def places(self) -> dict[str, list[Position]]:
        found = defaultdict(list)
        for position in self.system.positions.all():
            found[position.kind].append(position)
        return found

    @cached_property
    def plates(self) -> list[Position]:
        return self.places[PositionKind.DIFFUSER]

    @cached_property
    def plates_in_use(self) -> list[Position]:
        """Plates that get air: those whose line is in use, or has not been entered yet."""
        return [p for p in self.plates if p.pk not in self.lines or self.lines[p.pk].in_use]

    @cached_property
    def ponds(self) -> list[Pond]:
        return list({plate.pond_id: plate.pond for plate in self.plates if plate.pond}.values())

    def fitting_at(self, kind: str) -> Fitting | None:
        """What sits now at the first place of a kind."""
        return next((f for place in self.places[kind] for f in place.fitted_now), None)

    @cached_property
    def compressor(self) -> Fitting | None:
        return self.fitting_at(PositionKind.COMPRESSOR)

    @cached_property
    def meter(self) -> Fitting | None:
        return self.fitting_at(PositionKind.METER)

    @cached_property
    def relief_valve(self) -> Fitting | None:
        return self.fitting_at(PositionKind.RELIEF_VALVE)

    @cached_property
    def configuration(self) -> Configuration | None:
        rows = sorted(self.system.configurations.all(), key=lambda row: row.from_on)
        return rows[-1] if rows else None

    @cached_property
    def lines(self) -> dict[int, ConfigurationLine]:
        """The lines of the configuration in force, by plate."""
        rows = self.configuration.lines.all() if self.configuration else ()
        return {line.position_id: line for line in rows}

    @property
    def is_new(self) -> bool:
        """Whether it has never been in service; else it was moved here."""
        return self.system.commissioned_on is None

    @property
    def begins_on(self) -> date:
        """The day from which on what is entered here stands there."""
        if self.is_new or self.configuration is None:
            return self.system.installed_on
        return self.configuration.from_on

    @property
    def deepest_m(self) -> float | None:
        lines = (self.lines.get(plate.pk) for plate in self.plates_in_use)
        return max((line.depth_m for line in lines if line and line.depth_m), default=None)

    @property
    def working_pa(self) -> float | None:
        """About what the gauge will show: what was read, else the water over the deepest plate."""
        read = self.readings.get((Quantity.PRESSURE, None))
        if read and read.value:
            return read.value
        return self.deepest_m * WATER_PA_M if self.deepest_m else None

    @cached_property
    def gauge(self) -> Gauge | None:
        rows = [g for g in self.system.gauges.all() if g.quantity == Quantity.PRESSURE]
        return next((gauge for gauge in rows if gauge.to_on is None), None)

    @cached_property
    def hours_per_day(self) -> float | None:
        rows = sorted(self.system.schedules.all(), key=lambda row: row.from_on)
        return rows[-1].hours_per_day if rows else None

    @cached_property
    def points(self) -> dict[str, Acknowledged]:
        return {row.point: row for row in self.record.acknowledged.all()}

    def answered(self, *points: Point) -> bool:
        return all(point in self.points for point in points)

    @cached_property
    def photo_kinds(self) -> set[str]:
        return {photo.kind for photo in self.record.photos.all()}

    def shows(self, kind: PhotoKind) -> bool:
        return kind in self.photo_kinds

    @cached_property
    def readings(self) -> dict[tuple[str, int | None], Reading]:
        """What stands of the first set, by quantity and position."""
        rows = self.record.first_set.readings.all() if self.record.first_set else ()
        corrected = {row.corrects_id for row in rows}
        return {(row.quantity, row.position_id): row for row in rows if row.pk not in corrected}

    @cached_property
    def states(self) -> list[StateChange]:
        """What stands of the states, newest first."""
        rows = self.system.state_changes.all()
        struck = {row.corrects_id for row in rows}
        standing = [row for row in rows if row.pk not in struck and not row.withdrawn]
        return sorted(standing, key=lambda row: (row.at, row.state), reverse=True)

    @property
    def state(self) -> str | None:
        return self.states[0].state if self.states else None

    @property
    def freezes(self) -> bool:
        """Whether ice is to be reckoned with: yes, unless its region is known to have none."""
        return self.site.region is None or self.site.region.has_winter


def sheet_of(system_id: int, *, on: date) -> Sheet | None:
    """The newest handing over of a system; None where there was none under this program."""
    rows = Commissioning.objects.filter(system=system_id).order_by("-begun_at", "-pk")
    return next(iter(sheets_of(rows[:1], on=on)), None)


def sheets_of(records: QuerySet, *, on: date, to_count: bool = False) -> list[Sheet]:
    """Handings over with all that they need, in a constant number of questions.

    to_count: leave out what their pages show and nothing that is missing hangs on.
    """
    found = list(_read(records, [] if to_count else SHOWN_ALONE))
    owned = _owned([record.system.site_id for record in found], on)
    people = _people(set().union(*owned.values()) if owned else set(), None if to_count else on)
    sheets = []
    for record in found:
        owners = owned.get(record.system.site_id, set())
        near = [contact for pk in sorted(owners) for contact in people.get(pk, ())]
        sheets.append(Sheet(record, owners, near, read_on=on))
    return sheets


def _read(records, also):
    standing = Fitting.objects.filter(to_on=None).select_related("component__type")
    places = Position.objects.exclude(use=PositionUse.REMOVED).select_related("pond")
    places = places.order_by("label", "pk").prefetch_related(
        Prefetch("fittings", standing, to_attr="fitted_now")
    )
    level = Reading.objects.standing().filter(
        quantity=Quantity.LEVEL,
        set__pond__positions__system=OuterRef("system"),
        set__taken_at=OuterRef("first_set__taken_at"),
    )
    value = Subquery(level.order_by("pk").values("value")[:1])
    related = ["system__site__region", "begun_by", "in_service_by", "moved_from", "first_set"]
    records = records.annotate(level_read=Exists(level), level_m=value).select_related(*related)
    return records.prefetch_related(
        Prefetch("system__positions", places),
        "system__configurations__lines",
        "system__gauges",
        "system__schedules",
        "system__state_changes",
        "first_set__readings",
        Prefetch("acknowledged", Acknowledged.objects.select_related("by").order_by("at", "pk")),
        "photos",
        "may_operate",
        *also,
    )


def _owned(site_ids: Iterable[int], on: date) -> dict[int, set[int]]:
    """The customers who have each site, or a pond of it."""
    rows = Ownership.objects.on_day(on).filter(Q(site__in=site_ids) | Q(pond__site__in=site_ids))
    found = defaultdict(set)
    for site, pond_site, customer in rows.values_list("site_id", "pond__site_id", "customer_id"):
        found[site or pond_site].add(customer)
    return found


def _people(customers: Collection[int], on: date | None) -> dict[int, list[Contact]]:
    """The contacts of each customer who may be written to; on a day, with `roles_now` in words."""
    contacts = Contact.objects.filter(customer__in=customers, state=ContactState.ACTIVE)
    contacts, found = contacts.order_by("name", "pk"), defaultdict(list)
    if on is None:
        for contact in contacts:
            found[contact.customer_id].append(contact)
        return found
    held = ContactRole.objects.filter(from_on__lte=on).filter(Q(to_on=None) | Q(to_on__gt=on))
    for contact in contacts.prefetch_related(
        Prefetch("roles", held.order_by("pk"), to_attr="held")
    ):
        contact.roles_now = ", ".join(role.get_role_display() for role in contact.held)
        found[contact.customer_id].append(contact)
    return found
