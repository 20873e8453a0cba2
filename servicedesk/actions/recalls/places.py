"""Where the units of a recall stand: fitted, on loan, in the shop, in stock, moved or sold."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q

from customers.models import Ownership
from equipment.kinds import ComponentState, SystemState
from equipment.models import Component, Fitting, System
from servicedesk.emails import rows
from servicedesk.kinds import RecallStood
from servicedesk.planning.calendar import site_date

IN_HOUSE = {
    ComponentState.LOANER: RecallStood.LOANER,
    ComponentState.SPARE: RecallStood.SPARE,
    ComponentState.IN_SHOP: RecallStood.SHOP,
    ComponentState.SCRAPPED: RecallStood.SCRAPPED,
}


@dataclass(frozen=True)
class Whereabouts:
    """Where one unit is now, or was last; `served` is off where another firm looks after it."""

    stood: RecallStood
    fitting: Fitting | None = None
    served: bool = True


def whereabouts(units: Collection[Component], *, now: datetime) -> dict[int, Whereabouts]:
    """Where each unit stands, by its id; the same number of queries for one and for thousands."""
    by_unit = defaultdict(list)
    fittings = Fitting.objects.filter(component__in=units).select_related(
        "position__system__site__region"
    )
    for fitting in fittings.order_by("from_on", "pk"):
        by_unit[fitting.component_id].append(fitting)
    systems = {f.position.system_id for of_unit in by_unit.values() for f in of_unit}
    states = System.objects.filter(pk__in=systems).with_state(now)
    handed_over = set(states.filter(state_now=SystemState.TRANSFERRED).values_list("pk", flat=True))
    owners = Owners(systems)
    found = {}
    for unit in units:
        of_unit = by_unit[unit.pk]
        fitted = next((fitting for fitting in of_unit if fitting.to_on is None), None)
        if fitted is None:
            found[unit.pk] = Whereabouts(_unfitted(unit, of_unit))
        else:
            stood = _fitted(unit, fitted, of_unit, owners, now)
            served = fitted.position.system_id not in handed_over
            found[unit.pk] = Whereabouts(stood, fitted, served)
    return found


class Owners:
    """Who had the waters of some systems on a day; a pond sold apart goes before its site."""

    def __init__(self, systems):
        self.ponds = rows.ponds_of_systems(systems)
        sites = System.objects.filter(pk__in=systems).values("site")
        ponds = {pond for of_system in self.ponds.values() for pond in of_system}
        self.rows = defaultdict(list)
        owned = Ownership.objects.filter(Q(site__in=sites) | Q(pond__in=ponds))
        for row in owned.order_by("from_on", "pk"):
            self.rows["site" if row.site_id else "pond", row.site_id or row.pond_id].append(row)

    def on(self, system: System, day: date) -> set[int]:
        site = self._one("site", system.site_id, day)
        ponds = self.ponds.get(system.pk) or [None]
        return {self._one("pond", pond, day) or site for pond in ponds} - {None}

    def _one(self, kind, pk, day):
        for row in self.rows.get((kind, pk), ()):
            if row.from_on <= day and (row.to_on is None or row.to_on > day):
                return row.customer_id
        return None


def _unfitted(unit, of_unit):
    if unit.state in IN_HOUSE:
        return IN_HOUSE[ComponentState(unit.state)]
    return RecallStood.TAKEN_OFF if of_unit else RecallStood.STOCK


def _fitted(unit, fitted, of_unit, owners, now):
    system = fitted.position.system
    today = site_date(now, system.site.time_zone)
    had = owners.on(system, fitted.from_on)
    if unit.state == ComponentState.LOANER:
        return RecallStood.LOANER
    if had and owners.on(system, today) - had:
        return RecallStood.SOLD
    return RecallStood.MOVED if len(of_unit) > 1 else RecallStood.INSTALLED
