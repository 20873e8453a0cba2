"""Take a system to another pond: what wears goes along, what belongs to the pond begins anew."""

from datetime import datetime

from django.db import transaction
from django.db.models import Q

from customers.models import Pond, User
from equipment.actions.fitting import move
from equipment.kinds import PositionKind, PositionUse, SystemState, WinterMode
from equipment.models import Configuration, Fitting, Position, System
from servicedesk.actions.commissioning.begin import BeginRefused, begin_commissioning
from servicedesk.actions.commissioning.said import save
from servicedesk.actions.commissioning.steps import FIRST
from servicedesk.actions.due import lock_sites, refresh_sites
from servicedesk.actions.states import StateRefused, record_state
from servicedesk.actions.tickets import DERIVED_OCCASIONS, open_tickets_at
from servicedesk.kinds import PlaceKind
from servicedesk.models import Commissioning, Defect, DueItem, Ticket
from servicedesk.planning.calendar import site_date

LONGEST_LABEL = 40


@transaction.atomic
def move_system(
    system: System,
    pond: Pond,
    *,
    at: datetime,
    new_membranes: bool,
    by: User,
    now: datetime,
) -> Commissioning:
    """From `at` a cabinet stands at another pond and waits for its handing over there.

    The cabinet keeps its number, its units, their wear and warranty, and the work that was done
    on it. Plates, depths, baselines and the plan for the winter begin anew; the old pond keeps
    its plates, works and readings on record. Raises BeginRefused.
    """
    old_site = system.site
    lock_sites(sorted({old_site.pk, pond.site_id}))
    plates = _lying_plates(system)
    _refuse(system, pond, plates, at, now)
    left = ", ".join(dict.fromkeys(str(plate.pond) for plate in plates)) or str(old_site)
    try:
        record_state(
            system,
            at=at,
            state=SystemState.INSTALLED,
            by=by,
            reason=f"Moved from {left} to {pond}.",
            now=now,
            derive=False,
        )
    except StateRefused as refusal:
        raise BeginRefused(str(refusal)) from None
    save(system, {"site": pond.site, "winter_mode": WinterMode.UNDECIDED})
    on = site_date(at, pond.site.time_zone)
    Configuration.objects.create(
        system=system, from_on=on, name=FIRST, because=f"moved from {left}"[:200], entered_at=now
    )
    for plate in plates:
        _lay_anew(plate, pond, on, new_membranes, now)
    _take_along(system, pond)
    other = old_site if old_site.pk != pond.site_id else None
    record = begin_commissioning(
        system, because=f"moved from {left}", by=by, now=now, moved_from=other
    )
    sites = sorted({old_site.pk, pond.site_id})
    refresh_sites(sites, now=now)
    open_tickets_at(sites, now=now)
    return record


def _lying_plates(system):
    plates = Position.objects.lying().filter(system=system, kind=PositionKind.DIFFUSER)
    return list(plates.select_related("pond").order_by("label", "pk"))


def _refuse(system, pond, plates, at, now):
    if Commissioning.objects.open().filter(system=system).exists():
        raise BeginRefused(
            f"{system} is being handed over where it stands. Complete that record first."
        )
    if {plate.pond_id for plate in plates} == {pond.pk}:
        raise BeginRefused(
            f"{system} feeds {pond} already. Where only plates were moved, begin a configuration."
        )
    on = site_date(at, pond.site.time_zone)
    later = Configuration.objects.filter(system=system, from_on__gte=on).order_by("from_on").first()
    if later is not None:
        raise BeginRefused(
            f"A configuration of {system} begins on {later.from_on:%Y-%m-%d}, not before the day "
            "of the move. Check the day."
        )


def _lay_anew(plate, pond, on, new_membranes, now):
    """A place of the same name in the new pond; the old one stays on record under its pond."""
    label = plate.label
    plate.label = _free(plate.system, f"{label}, {plate.pond}")
    plate.use = PositionUse.REMOVED
    plate.save(update_fields=["label", "use"])
    place = Position.objects.create(
        system=plate.system,
        kind=plate.kind,
        label=label,
        pond=pond,
        from_on=on if new_membranes else plate.from_on,
    )
    for fitting in Fitting.objects.filter(position=plate, to_on=None).select_related("component"):
        move(fitting.component, place, on=on, entered_at=now)


def _free(system, label):
    """A label that no place of the system has yet."""
    taken = set(Position.objects.filter(system=system).values_list("label", flat=True))
    number, tried = 1, label[:LONGEST_LABEL]
    while tried in taken:
        number += 1
        end = f" ({number})"
        tried = label[: LONGEST_LABEL - len(end)] + end
    return tried


def _take_along(system, pond):
    """What is to be mended goes with the cabinet; what falls due is computed anew."""
    DueItem.objects.filter(system=system).delete()
    derived = Q(occasion="")
    for kind in filter(None, DERIVED_OCCASIONS):
        derived |= Q(occasion__startswith=f"{kind}:")
    cabinet = Ticket.objects.open().filter(system=system).exclude(derived)
    cabinet.exclude(place_key__startswith=f"{PlaceKind.POND}:").update(site=pond.site)
    Defect.objects.filter(system=system, mended_at=None).update(site=pond.site)
