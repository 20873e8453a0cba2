"""What was received of a visit, what its readings say, and what may be corrected that day."""

from uuid import uuid4

from equipment.actions.causes import NOT_FOUND
from equipment.models import Assessment, CauseConfirmed
from equipment.physics import units
from servicedesk.forms.blocks import Field
from servicedesk.models import Defect, PartUsed, SystemCheck, Visit, Work
from servicedesk.tables.readings import other_causes


def visit_shown(visit: Visit, *, reading_set_rows, typed=None, faults=None) -> dict:
    """Everything that one visit says. `typed` and `faults` belong to a correction refused."""
    works = Work.objects.filter(visit=visit).select_related("task", "system", "position", "ticket")
    return {
        "visit": visit,
        "works": works.order_by("pk"),
        "checks": SystemCheck.objects.filter(visit=visit).select_related(
            "system", "start_approved_by"
        ),
        "parts": PartUsed.objects.filter(visit=visit).select_related("part"),
        "defects": Defect.objects.filter(visit=visit),
        "verdicts": _verdicts(visit),
        "not_found": NOT_FOUND,
        "readings": [_line(row, typed or {}, faults or {}) for row in reading_set_rows],
    }


def _verdicts(visit):
    """What the readings taken at this visit say, by system, and whether its cause is known."""
    told = Assessment.objects.filter(
        at__in=visit.reading_sets.values("taken_at"), system__reading_sets__visits=visit
    )
    newest = {row.system_id: row for row in told.select_related("system").order_by("at", "pk")}
    answered = set(
        CauseConfirmed.objects.filter(
            system__in=newest, found_at__gte=visit.arrived_at
        ).values_list("system_id", flat=True)
    )
    return [
        {
            "system": row.system,
            "said": row.basis,
            "key": uuid4(),
            "asks": bool(row.basis.get("causes")) and pk not in answered,
            "answered": pk in answered,
            "other_causes": other_causes([one["slug"] for one in row.basis.get("causes", ())]),
        }
        for pk, row in sorted(newest.items())
    ]


def _line(reading, typed, faults):
    offered = [(unit, units.unit_name(unit)) for unit in units.offered(reading.quantity)]
    mine = typed.get("reading") == str(reading.pk)
    text = typed.get("typed", "") if mine else reading.typed_value
    unit = typed.get("unit", "") if mine else reading.typed_unit
    fault = next(iter(faults.values()), None) if mine else None
    return {
        "row": reading,
        "typed": Field(f"typed-{reading.pk}", text, fault),
        "unit": Field("unit", unit, None, offered),
    }
