"""Exchange serial units in the field, and tell how long each has run."""

from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from customers.models import Trail, User
from equipment.actions import fitting
from equipment.actions.fitting import FittingRefused
from equipment.kinds import RUNNING, ComponentState, PositionKind
from equipment.models import Component, ComponentType, Fitting, Position
from servicedesk.actions.due import lock_sites, refresh_sites
from servicedesk.actions.facts import facts_of
from servicedesk.actions.rules import done_on_unit
from servicedesk.actions.tickets import open_tickets_at
from servicedesk.kinds import PlaceKind, Skill
from servicedesk.models import DueItem, Task
from servicedesk.planning.calendar import site_date
from servicedesk.planning.warranty import Warranty

EXCHANGE = "exchange unit"


@dataclass(frozen=True)
class UnitHours:
    """Hours that a serial unit ran, as far as meters and timers tell."""

    since_new_h: float
    since_overhaul_h: float
    overhauled_on: date | None
    by_seat: dict[tuple[int, date], float] = field(default_factory=dict)  # position, first day


@transaction.atomic
def exchange(
    position: Position,
    *,
    fitted: Component,
    on: date,
    by: User,
    reason: str,
    now: datetime,
    removed_to: ComponentState = ComponentState.IN_SHOP,
    meter_end_h: float | None = None,
    meter_start_h: float | None = None,
    warranty: Warranty | None = None,
    under_warranty: bool = False,
) -> Fitting:
    """Take out what sits at a position, put another unit in, and let due days follow.

    A unit that still sits elsewhere is taken out there on the same day. For meters the last
    figure of the old one and the first of the new one are kept. `warranty` is that of the unit
    put in, from now on; `under_warranty` says that the maker gave it for the old one. The
    record tells which due days moved. Raises FittingRefused.
    """
    site_id = position.system.site_id
    lock_sites([site_id])
    if not reason.strip():
        raise FittingRefused("Give the reason: it stands in the record of this exchange.")
    sits = Fitting.objects.select_related("component", "position__system")
    here = sits.filter(position=position, to_on=None).first()
    there = sits.filter(component=fitted, to_on=None).first()
    if here and here.component_id == fitted.pk:
        raise FittingRefused(f"{fitted} sits here already. Choose the other unit.")
    due_before = _due_at(position)
    if here:
        fitting.remove(here.component, on=on, state=removed_to, meter_end_h=meter_end_h)
    if there:
        fitting.remove(fitted, on=on, state=ComponentState.IN_SERVICE)
    new = fitting.fit(fitted, position, on=on, entered_at=now, meter_start_h=meter_start_h)
    if warranty is not None:
        Component.objects.filter(pk=fitted.pk).update(
            warranty_from=warranty.from_on, warranty_months=warranty.months
        )
    sites = {site_id, *({there.position.system.site_id} if there else ())}
    refresh_sites(sites, now=now)
    open_tickets_at(sites, now=now)
    _remember(position, here, new, due_before, reason, under_warranty, by, now)
    return new


def _remember(position, here, new, due_before, reason, under_warranty, by, now):
    said = {
        "on": new.from_on.isoformat(),
        "reason": reason[:250],
        "under_warranty": under_warranty,
    }
    Trail.objects.create(
        at=now,
        by=by,
        did=EXCHANGE,
        about=f"{PlaceKind.POSITION}:{position.pk}",
        before={"unit": here.component_id if here else None, "due": due_before},
        after={"unit": new.component_id, "due": _due_at(position), **said},
    )


def _due_at(position):
    """Due days at a position and at those that serve it: [task, position, day or None]."""
    near = Q(position=position) | Q(position__serves=position)
    rows = DueItem.objects.filter(near, occasion="").select_related("task", "position")
    rows = rows.order_by("task__name", "position__label", "pk")
    days = [(row, row.due_on.isoformat() if row.due_on else None) for row in rows]
    return [[row.task.name, row.position.label, on] for row, on in days]


def enter_unit(
    *,
    type: ComponentType,
    serial: str = "",
    hours_before: float = 0.0,
    lent: bool = False,
    by: User,
    now: datetime,
) -> Component:
    """A unit that comes into the register; an empty serial number is one that nobody can read."""
    state = ComponentState.LOANER if lent else ComponentState.SPARE
    unit = Component.objects.create(
        type=type, serial=serial.strip(), hours_before=hours_before, state=state
    )
    Trail.objects.create(
        at=now,
        by=by,
        did="enter unit",
        about=f"{PlaceKind.UNIT}:{unit.pk}",
        after={"type": type.pk, "serial": unit.serial, "hours_before": hours_before},
    )
    return unit


def unit_hours(unit: Component, *, now: datetime) -> UnitHours:
    """How long a unit has run since new, and since it was last rebuilt; compressors alone wear."""
    rows = Fitting.objects.filter(component=unit).order_by("-from_on", "-pk")
    last = rows.select_related("position__system__site").first()
    if last is None or unit.type.kind != PositionKind.COMPRESSOR:
        return UnitHours(unit.hours_before, unit.hours_before, None)
    sites = set(rows.values_list("position__system__site", flat=True))
    gathered = facts_of(sites, now=now)
    seats = next(facts.systems[0] for facts in gathered if facts.systems).seats_of(unit.pk)
    line = seats[-1].facts.unit_timeline(unit.pk, RUNNING)
    today = site_date(now, last.position.system.site.time_zone)
    ran = line.hours_run(today)
    rebuilt_on = _rebuilt_on(unit, seats, gathered[0].done)
    since = ran - line.hours_run(rebuilt_on) if rebuilt_on else unit.hours_before + ran
    by_seat = {
        (seat.position_id, seat.from_on): line.hours_run(min(seat.to_on or today, today))
        - line.hours_run(seat.from_on)
        for seat in seats
    }
    return UnitHours(unit.hours_before + ran, since, rebuilt_on, by_seat)


def _rebuilt_on(unit, seats, done):
    """The day of the last rebuild, in the shop or where the unit sat then."""
    slugs = list(Task.objects.filter(skill=Skill.REBUILD).values_list("slug", flat=True))
    return max((work.on for work in done_on_unit(unit.pk, slugs, seats, done)), default=None)
