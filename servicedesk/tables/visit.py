"""What was received of a visit, to look through and to correct on the same day."""

from equipment.physics import units
from servicedesk.forms.blocks import Field
from servicedesk.models import Defect, PartUsed, SystemCheck, Visit, Work


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
        "readings": [_line(row, typed or {}, faults or {}) for row in reading_set_rows],
    }


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
