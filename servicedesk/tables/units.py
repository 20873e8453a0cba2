"""One serial unit as its service history, and what an exchange moved."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Prefetch, Q

from customers.models import Trail
from equipment.kinds import PositionKind
from equipment.models import Component, Fitting, Position
from servicedesk.actions.units import EXCHANGE, UnitHours, unit_hours
from servicedesk.kinds import PlaceKind
from servicedesk.models import PartUsed, RecallUnit, Work
from servicedesk.planning.calendar import site_date
from servicedesk.planning.warranty import warranty_until
from servicedesk.tables.systems import ponds_of_systems

MOST_WORKS = 400


@dataclass
class Shown:
    """A unit with what is known of it; hours are told of compressors alone."""

    unit: Component
    hours: UnitHours | None
    until: date | None
    covered: bool | None  # None where nobody knows

    @property
    def standing(self):
        return {True: "ok", False: "rest", None: "rest"}[self.covered]


@dataclass
class Seat:
    fitting: Fitting
    hours: float | None
    why: dict  # of the exchange that put it there
    out: dict  # of the one that took it out


def shown_unit(unit: Component, *, now: datetime, today: date) -> Shown:
    counted = unit.type.kind == PositionKind.COMPRESSOR
    until = warranty_until(unit.warranty_from, unit.warranty_months)
    return Shown(
        unit,
        unit_hours(unit, now=now) if counted else None,
        until,
        None if until is None else unit.warranty_from <= today < until,
    )


def exchanges_at(positions) -> dict[tuple[int, int], list[Trail]]:
    """The records of exchanges, by position and the unit put in or taken out, newest first."""
    keys = {f"{PlaceKind.POSITION}:{pk}": pk for pk in positions}
    rows = Trail.objects.filter(did=EXCHANGE, about__in=keys).select_related("by")
    found = {}
    for row in rows.order_by("-at", "-pk"):
        for way in (row.before.get("unit"), row.after.get("unit")):
            if way:
                found.setdefault((keys[row.about], way), []).append(row)
    return found


def seats_of(unit: Component, hours: UnitHours | None) -> list[Seat]:
    """Where it has sat, newest first, each with its hours and the reasons."""
    fittings = list(
        Fitting.objects.filter(component=unit)
        .select_related("position__system__site", "position__pond")
        .order_by("-from_on", "-pk")
    )
    records = exchanges_at({row.position_id for row in fittings})
    seats = []
    for row in fittings:
        of_place = records.get((row.position_id, unit.pk), ())
        seats.append(
            Seat(
                row,
                hours.by_seat.get((row.position_id, row.from_on)) if hours else None,
                _said(of_place, "after", unit.pk, row.from_on),
                _said(of_place, "before", unit.pk, row.to_on),
            )
        )
    return seats


def exchange_of(fitting: Fitting) -> Trail | None:
    """The record of the exchange by which a unit came to its place."""
    records = exchanges_at([fitting.position_id]).get(
        (fitting.position_id, fitting.component_id), ()
    )
    on = fitting.from_on.isoformat()
    return next(
        (r for r in records if (r.after["unit"], r.after["on"]) == (fitting.component_id, on)), None
    )


def fitted_at(position: Position) -> Fitting | None:
    rows = Fitting.objects.filter(position=position, to_on=None)
    return rows.select_related("component__type").first()


def _said(records, side, unit, on):
    """What was written down as it came, or as it went, on a day."""
    for row in records:
        if getattr(row, side).get("unit") == unit and on and row.after["on"] == on.isoformat():
            return row.after | {"by": row.by}
    return {}


def works_on(unit: Component, seats: list[Seat]) -> list[Work]:
    """Work on the unit itself, at its place, and at the filters that served it, newest first."""
    where = Q(component=unit)
    for seat in seats:
        place = seat.fitting.position_id
        where |= Q(position=place) | Q(position__serves=place)
    standing_parts = PartUsed.objects.standing().select_related("part")
    rows = (
        Work.objects.filter(where)
        .select_related("task", "position", "user", "contact", "site")
        .prefetch_related(Prefetch("parts_used", standing_parts))
        .order_by("-done_at", "-pk")[:MOST_WORKS]
    )
    return [row for row in rows if row.component_id == unit.pk or _while_there(row, seats)]


def _while_there(work, seats):
    on = site_date(work.done_at, work.site.time_zone)
    for seat in seats:
        row = seat.fitting
        if work.position_id != row.position_id and work.position.serves_id != row.position_id:
            continue
        if row.from_on <= on and (row.to_on is None or on < row.to_on):
            return True
    return False


def recalls_of(unit: Component) -> list[RecallUnit]:
    rows = RecallUnit.objects.filter(component=unit).select_related("campaign", "ticket")
    return list(rows.order_by("-listed_at", "-pk"))


def placed(pk: int, systems):
    """A position with its system, whose `in_water` names its ponds; None where there is none."""
    rows = Position.objects.filter(pk=pk, system__in=systems)
    rows = rows.select_related("system__site", "pond", "serves")
    position = rows.first()
    if position:
        from_ = systems.filter(pk=position.system_id).prefetch_related(ponds_of_systems())
        position.ponds = [place.pond for place in from_.get().in_water]
    return position


def moved_days(record: Trail) -> list[dict]:
    """Due days before and after an exchange, one row for each task and place."""
    before = {(task, place): on for task, place, on in record.before.get("due", ())}
    after = {(task, place): on for task, place, on in record.after.get("due", ())}
    rows = []
    for task, place in sorted({*before, *after}):
        was, is_ = (_day(side.get((task, place))) for side in (before, after))
        rows.append({"task": task, "place": place, "was": was, "now": is_, "same": was == is_})
    return rows


def _day(text):
    return date.fromisoformat(text) if text else None
