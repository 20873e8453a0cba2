"""What a day's van must carry: parts by model, and the kit of its tasks."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from django.db.models import Q

from equipment.kinds import PositionKind, PositionUse
from equipment.models import Fitting, PartFor


@dataclass(frozen=True)
class Load:
    """`parts` are (quantity, words), `by_ticket` says which of them belong to which ticket."""

    parts: list[tuple[int, str]]
    kit: list[str]
    by_ticket: dict[int, list[str]]


def load_of(tickets, day) -> Load:
    """Parts and kit of some tickets with task and position fetched. Two queries."""
    models = _models(tickets, day)
    roles = {role for ticket in tickets for role in ticket.task.part_roles}
    types = {kind for found in models.values() for kind in found}
    fits = {
        (row.component_type_id, row.role): row
        for row in PartFor.objects.filter(component_type__in=types, role__in=roles).select_related(
            "part", "component_type"
        )
    }
    counts, by_ticket = Counter(), defaultdict(list)
    for ticket in tickets:
        for role in ticket.task.part_roles:
            quantity, words = _line(role, models[ticket.pk], fits)
            counts[words] += quantity
            by_ticket[ticket.pk].append(f"{quantity} {words}")
    kit = dict.fromkeys(item for ticket in tickets for item in ticket.task.kit)
    return Load([(count, words) for words, count in sorted(counts.items())], [*kit], by_ticket)


def _line(role, models, fits):
    for model in models:
        if row := fits.get((model.pk, role)):
            model, part = str(row.component_type), str(row.part)
            return row.quantity, part if model in part else f"{part} ({model})"
    words = str(role).replace("_", " ")
    model = f" for {models[0]}" if models else ""
    return 1, f"{words}{model}, part not in the register"


def _models(tickets, day):
    """Models by ticket: of what sits at its position, then of the compressor it serves."""
    alone = {t.system_id for t in tickets if t.system_id and not t.position_id}
    named = {pk for ticket in tickets for pk in _positions(ticket)}
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
        ticket.pk: [at_position[pk] for pk in _positions(ticket) if pk in at_position]
        or ([] if ticket.position_id else in_system[ticket.system_id])
        for ticket in tickets
    }


def _positions(ticket):
    if not ticket.position_id:
        return []
    return [pk for pk in (ticket.position_id, ticket.position.serves_id) if pk]
