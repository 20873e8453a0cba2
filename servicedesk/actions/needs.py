"""Which parts some work takes, by the models that sit at its places."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from equipment.kinds import PositionKind, PositionUse
from equipment.models import Fitting, Part, PartFor
from servicedesk.models import DueItem, Ticket
from servicedesk.planning.stock import van_room

Wanting = Ticket | DueItem


@dataclass(frozen=True)
class Need:
    """So many pieces for one piece of work; no part where the register names none for it."""

    quantity: int
    words: str
    part: Part | None = None


def needs_of(wanting: Collection[Wanting], day: date) -> dict[Wanting, list[Need]]:
    """Parts by ticket or due day, with task and position fetched. Two queries."""
    models = _models(wanting, day)
    roles = {role for one in wanting for role in one.task.part_roles}
    types = {kind for found in models.values() for kind in found}
    fits = {
        (row.component_type_id, row.role): row
        for row in PartFor.objects.filter(component_type__in=types, role__in=roles).select_related(
            "part", "component_type"
        )
    }
    return {
        one: [_need(role, models[one], fits) for role in one.task.part_roles] for one in wanting
    }


def units_of(one: Wanting, needs: Iterable[Need]) -> int:
    """Room that the work takes in the van, in filter elements."""
    return van_room(
        [(need.quantity, need.part.van_units) for need in needs if need.part], one.task.kit
    )


def _need(role, models, fits) -> Need:
    for model in models:
        if row := fits.get((model.pk, role)):
            model, part = str(row.component_type), str(row.part)
            words = part if model in part else f"{part} ({model})"
            return Need(row.quantity, words, row.part)
    words = str(role).replace("_", " ")
    model = f" for {models[0]}" if models else ""
    return Need(1, f"{words}{model}, part not in the register")


def _models(wanting, day):
    """Models by work: of what sits at its position, then of the compressor it serves."""
    alone = {one.system_id for one in wanting if one.system_id and not one.position_id}
    named = {pk for one in wanting for pk in _positions(one)}
    compressors = Q(
        position__system__in=alone,
        position__kind=PositionKind.COMPRESSOR,
        position__use=PositionUse.IN_USE,
    )
    at_position, in_system = {}, defaultdict(list)
    for fitting in (
        Fitting.objects.on_day(day)
        .filter(Q(position__in=named) | compressors)
        .select_related("component__type", "position")
        .order_by("position")
    ):
        at_position[fitting.position_id] = fitting.component.type
        if fitting.position.kind == PositionKind.COMPRESSOR:
            in_system[fitting.position.system_id].append(fitting.component.type)
    return {
        one: [at_position[pk] for pk in _positions(one) if pk in at_position]
        or ([] if one.position_id else in_system[one.system_id])
        for one in wanting
    }


def _positions(one):
    if not one.position_id:
        return []
    return [pk for pk in (one.position_id, one.position.serves_id) if pk]
