"""Plan a system, and begin to hand one over."""

from datetime import date, datetime

from django.db import transaction

from customers.models import Pond, Site, Trail, User
from equipment.actions.fitting import fit
from equipment.kinds import GONE, NOT_IN_SERVICE, PositionKind, SystemState
from equipment.models import Component, ComponentType, Position, Schedule, System
from servicedesk.actions.due import lock_sites
from servicedesk.actions.states import record_state, state_at
from servicedesk.models import Commissioning

COMPRESSOR, FILTER, PLATE = "compressor 1", "filter 1", "D1"


class BeginRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def plan_system(
    site: Site,
    pond: Pond,
    *,
    key: str,
    name: str,
    installed_on: date,
    compressor: ComponentType | None,
    by: User,
    now: datetime,
) -> System:
    """Enter a system that is to be built, with its places, and open its handing over.

    `installed_on` may lie ahead. Raises BeginRefused.
    """
    if pond.site_id != site.pk:
        raise BeginRefused(f"{pond} lies at another site. Choose a pond of {site}.")
    if System.objects.filter(key=key).exists():
        raise BeginRefused(f"There is a system with the number {key} already. Choose another.")
    system = System.objects.create(
        key=key, site=site, name=name.strip() or pond.name, installed_on=installed_on
    )
    Schedule.objects.create(system=system, from_on=installed_on)
    _make_places(system, pond)
    if compressor is not None:
        place = Position.objects.get(system=system, label=COMPRESSOR)
        unit = Component.objects.create(type=compressor)
        fit(unit, place, on=installed_on, entered_at=now)
    record_state(
        system, at=now, state=SystemState.PLANNED, by=by, reason="Entered by hand.", now=now
    )
    begin_commissioning(system, because="new system", by=by, now=now)
    return system


@transaction.atomic
def begin_commissioning(
    system: System, *, because: str, by: User, now: datetime, moved_from: Site | None = None
) -> Commissioning:
    """Open a handing over; from now on the system goes into service through it alone.

    Raises BeginRefused for a system that is in service, or gone.
    """
    lock_sites([system.site_id])
    if record := Commissioning.objects.open().filter(system=system).first():
        return record
    state = state_at(system, now)
    waiting = NOT_IN_SERVICE | {SystemState.COMMISSIONING}
    if state is not None and (state.state not in waiting or state.state in GONE):
        raise BeginRefused(
            f"{system} is in service, or gone. A record is begun before the first start, or after "
            "a move; a change of plates begins a configuration instead."
        )
    if not Position.objects.filter(system=system, kind=PositionKind.COMPRESSOR).exists():
        _make_places(system, None)
    record = Commissioning.objects.create(
        system=system, begun_at=now, begun_by=by, because=because[:200], moved_from=moved_from
    )
    Trail.objects.create(
        at=now,
        by=by,
        did="began a commissioning",
        about=f"system:{system.pk}",
        after={"commissioning": record.pk, "because": because[:200]},
    )
    return record


def next_key() -> str:
    """A number for the next system, one up from the newest that ends in digits."""
    for key in System.objects.order_by("-pk").values_list("key", flat=True)[:20]:
        digits = key[len(key.rstrip("0123456789")) :]
        if digits:
            start = key.removesuffix(digits)
            tried = int(digits) + 1
            while System.objects.filter(key=f"{start}{tried:0{len(digits)}}").exists():
                tried += 1
            return f"{start}{tried:0{len(digits)}}"
    return ""


def _make_places(system, pond):
    compressor = Position.objects.create(
        system=system, kind=PositionKind.COMPRESSOR, label=COMPRESSOR
    )
    Position.objects.create(
        system=system, kind=PositionKind.FILTER, label=FILTER, serves=compressor
    )
    if pond is not None:
        Position.objects.create(system=system, kind=PositionKind.DIFFUSER, label=PLATE, pond=pond)
