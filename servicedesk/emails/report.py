"""What was found, done and left at visits, in the reader's words and units."""

from collections import defaultdict

from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from equipment.kinds import Moment, Quantity
from equipment.models import Reading
from equipment.physics import units as quantities
from servicedesk.emails import rows
from servicedesk.kinds import DefectSign, LeftOffReason, Outcome, WorkState
from servicedesk.models import Defect, DueItem, SystemCheck, Visit, Work
from servicedesk.planning.calendar import site_date

SIGNS = {
    DefectSign.WEAK_BOIL: gettext_lazy("fewer bubbles than usual"),
    DefectSign.NO_BOIL: gettext_lazy("no bubbles"),
    DefectSign.NOISE: gettext_lazy("an unusual noise"),
    DefectSign.HEAT: gettext_lazy("more heat than usual"),
    DefectSign.LEAK: gettext_lazy("an air leak"),
    DefectSign.WATER_IN_HOUSING: gettext_lazy("water in the housing"),
    DefectSign.TRIPPING_OUTLET: gettext_lazy("an outlet that trips"),
    DefectSign.SMELL: gettext_lazy("an unusual smell"),
    DefectSign.DAMAGED: gettext_lazy("something damaged"),
    DefectSign.FISH_GASPING: gettext_lazy("fish gasping at the surface"),
    DefectSign.SECOND_OPENING: gettext_lazy("a second opening in the ice"),
    DefectSign.OTHER: gettext_lazy("something to look at"),
}
LEFT_OFF = {
    LeftOffReason.FOUND_OFF: gettext_lazy("it was off when we came, and starting needs a decision"),
    LeftOffReason.FAILED: gettext_lazy("it has failed"),
    LeftOffReason.ELECTRICAL: gettext_lazy("of its electrics"),
    LeftOffReason.PART_AWAITED: gettext_lazy("a part has to come first"),
    LeftOffReason.OWNER_WISH: gettext_lazy("you wished it so"),
    LeftOffReason.WINTER: gettext_lazy("it is shut down for the winter"),
    LeftOffReason.OTHER: gettext_lazy("of a reason that we will tell you by phone"),
}
FOUND = {
    "clean": gettext_lazy("clean"),
    "light": gettext_lazy("a little dirty"),
    "loaded": gettext_lazy("full of dirt"),
    "wet": gettext_lazy("wet"),
    "oily": gettext_lazy("oily"),
    "damaged": gettext_lazy("damaged"),
    "insects": gettext_lazy("full of insects"),
    "missing": gettext_lazy("missing"),
}
NAMES = {
    Quantity.PRESSURE: gettext_lazy("Pressure"),
    Quantity.LINE_PRESSURE: gettext_lazy("Pressure of a line"),
    Quantity.FLOW: gettext_lazy("Air flow"),
    Quantity.CURRENT: gettext_lazy("Current"),
    Quantity.BUBBLES: gettext_lazy("Bubbles, from 0 to 4"),
    Quantity.RUN_HOURS: gettext_lazy("Hour meter"),
}


def of_visits(visits: list[Visit], *, units: str) -> dict:
    """What to tell of each visit, by its id; the same number of queries for one and for fifty."""
    ids = [visit.pk for visit in visits]
    works, checks, defects = (
        _by_visit(found)
        for found in (
            Work.objects.filter(visit__in=ids, state=WorkState.ACCEPTED).select_related("task"),
            SystemCheck.objects.filter(visit__in=ids).select_related("system"),
            Defect.objects.filter(visit__in=ids, mended_at=None),
        )
    )
    readings = _readings(ids)
    next_due = _next_due([work for of_visit in works.values() for work in of_visit])
    return {
        visit.pk: {
            "day": rows.day_words(site_date(visit.arrived_at, visit.site.time_zone)),
            "who": visit.technician.get_full_name() or str(visit.technician),
            "done": [_done(work) for work in works[visit.pk] if work.outcome == Outcome.DONE],
            "systems": [_left(check) for check in checks[visit.pk]],
            "readings": [_reading(reading, units) for reading in readings[visit.pk]],
            "defects": [_defect(defect) for defect in defects[visit.pk]],
            "next": [next_due[key] for work in works[visit.pk] if (key := _key(work)) in next_due],
        }
        for visit in visits
    }


def _by_visit(found):
    grouped = defaultdict(list)
    for one in found.order_by("pk"):
        grouped[one.visit_id].append(one)
    return grouped


def _readings(visit_ids):
    left = Reading.objects.standing().filter(
        set__visits__in=visit_ids,
        set__moment=Moment.AS_LEFT,
        value__isnull=False,
        doubtful=False,
        quantity__in=NAMES,
    )
    left = left.select_related("position").annotate(of_visit=F("set__visits"))
    grouped = defaultdict(list)
    for reading in left.order_by("pk"):
        grouped[reading.of_visit].append(reading)
    return grouped


def _key(work):
    return work.place_key, work.task_id


def _next_due(works):
    items = DueItem.objects.filter(
        place_key__in={work.place_key for work in works}, due_on__isnull=False, paused=False
    ).select_related("task")
    return {
        (item.place_key, item.task_id): _("%(job)s: about %(day)s")
        % {"job": item.task.owner_name, "day": rows.day_words(item.due_on)}
        for item in items
    }


def _done(work):
    found = FOUND.get(work.found.get("condition") or work.found.get("filter"))
    names = {"job": work.task.owner_name, "found": found}
    return _("%(job)s (found %(found)s)") % names if found else work.task.owner_name


def _left(check):
    name = {"system": check.system.name}
    if check.left_running:
        return _("%(system)s was running when we left.") % name
    reason = LEFT_OFF.get(check.left_off_reason, LEFT_OFF[LeftOffReason.OTHER])
    return _("%(system)s stands still, because %(reason)s.") % (name | {"reason": reason})


def _reading(reading, units):
    where = f" ({reading.position})" if reading.position_id else ""
    value = quantities.shown(reading.quantity, reading.value, units)
    return f"{NAMES[reading.quantity]}{where}: {value}"


def _defect(defect):
    return str(SIGNS.get(defect.sign, SIGNS[DefectSign.OTHER]))
