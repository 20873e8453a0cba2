"""What was received of a visit, what its readings say, and what may be corrected that day."""

from uuid import uuid4

from django.contrib import messages
from django.utils.translation import gettext, ngettext

from equipment.actions.causes import NOT_FOUND
from equipment.models import Assessment, CauseConfirmed
from equipment.physics import units
from servicedesk.forms.blocks import Field
from servicedesk.models import Defect, PartUsed, SystemCheck, Visit, Work
from servicedesk.tables.readings import other_causes

CLOCK_OFF_S = 120


def visit_shown(visit: Visit, *, reading_set_rows, typed=None, faults=None) -> dict:
    """Everything that one visit says. `typed` and `faults` belong to a correction refused."""
    works = Work.objects.filter(visit=visit).select_related("task", "system", "position", "ticket")
    return {
        "visit": visit,
        "works": works.order_by("pk"),
        "checks": SystemCheck.objects.filter(visit=visit).select_related(
            "system", "start_approved_by"
        ),
        "parts": PartUsed.objects.standing().filter(visit=visit).select_related("part"),
        "defects": Defect.objects.standing().filter(visit=visit),
        "struck": _struck(visit),
        "helpers": visit.helpers.order_by("pk"),
        "verdicts": _verdicts(visit),
        "not_found": NOT_FOUND,
        "clock_off": _clock_off(visit),
        "readings": [_line(row, typed or {}, faults or {}) for row in reading_set_rows],
    }


def received_says(visit: Visit, *, new: bool) -> list[tuple[int, str]]:
    """What became of a closing, as messages: (level, sentence)."""
    if not new:
        return [(messages.SUCCESS, gettext("This closing had arrived before; it counts once."))]
    works = Work.objects.filter(visit=visit).select_related("ticket")
    waiting = sum(work.state == "review" for work in works)
    closed = sum(work.outcome == "done" for work in works) - waiting
    said = []
    if closed:
        says = ngettext("%s ticket closed.", "%s tickets closed.", closed) % closed
        said.append((messages.SUCCESS, says))
    if waiting:
        says = gettext("Somebody closed this ticket before. The office looks at both.")
        said.append((messages.WARNING, says))
    if any(work.outcome == "not_done" for work in works):
        says = gettext("Noted as not done. The office plans it again.")
        said.append((messages.SUCCESS, says))
    return said


def _struck(visit):
    """What was said first and put right since, with who did it and why."""
    parts = PartUsed.objects.filter(visit=visit, struck_at__isnull=False)
    defects = Defect.objects.filter(visit=visit, struck_at__isnull=False)
    rows = [
        (row, f"{row.quantity} {row.part}") for row in parts.select_related("part", "struck_by")
    ]
    rows += [
        (row, f"{row.get_sign_display()} {row.text}".strip())
        for row in defects.select_related("struck_by")
    ]
    return [
        {"what": what, "by": row.struck_by, "at": row.struck_at, "because": row.struck_because}
        for row, what in rows
    ]


def _clock_off(visit):
    """(minutes, whether ahead) by which the phone's clock was wrong; None where it hardly was."""
    off_s = visit.phone_clock_off_s or 0
    return (round(abs(off_s) / 60), off_s > 0) if abs(off_s) >= CLOCK_OFF_S else None


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
