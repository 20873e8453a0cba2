"""A handing over as it is read and printed: its steps, and all that is known, in words."""

from collections import Counter

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from equipment.kinds import Quantity, WinterMode
from equipment.physics import units
from servicedesk.actions.commissioning.first import first_start
from servicedesk.forms.commissioning.base import POINTS, STEPS
from servicedesk.forms.commissioning.lines import PLACES
from servicedesk.forms.commissioning.measures import BORES, plain
from servicedesk.forms.words import BUBBLES, NAMES
from servicedesk.kinds import Point
from servicedesk.templatetags import house


def steps_of(sheet, missing):
    """Each step with what is still wanted there."""
    left = Counter(gap.step for gap in missing)
    return [
        {
            "step": step,
            "title": title,
            "left": left[step],
            "words": _("%s missing") % left[step],
        }
        for step, title in STEPS.items()
    ]


def facts_of(sheet, system):
    """(heading, (name, words) ...) of everything on record; `system` is the reader's units."""
    parts = [
        (_("Site and people"), _site(sheet)),
        (_("Pond"), _ponds(sheet, system)),
        (_("Cabinet and electrics"), _electrics(sheet, system)),
        (_("Compressor, gauge, hour meter"), _units(sheet, system)),
        (_("Lines and plates"), _lines(sheet, system)),
        (_("First start and readings of the first day (provisional)"), _readings(sheet, system)),
    ]
    parts = [(heading, [(n, w) for n, w in rows if w]) for heading, rows in parts]
    return [(heading, rows) for heading, rows in parts if rows]


def answered_of(sheet):
    """(point, who answers for it and since when, note), in the order in which it was said."""
    return [(POINTS[Point(row.point)], row) for row in sheet.record.acknowledged.all()]


def _site(sheet):
    site = sheet.site
    reached = {True: _("yes"), False: _("no")}.get(site.public_access, _("not known"))
    hazards = "; ".join(
        f"{hazard.get_kind_display()}{': ' + hazard.note.rstrip('.') if hazard.note else ''}"
        for hazard in site.hazards.all()
    )
    yield _("Way in"), site.way_in
    yield _("Vehicle"), site.vehicle_note
    yield _("Hazards"), hazards
    yield _("Public reaches the water"), reached
    yield _("Authority"), site.authority
    for contact in sheet.people:
        reach = ", ".join(filter(None, [contact.roles_now, contact.phone, contact.email]))
        yield contact.name, reach
    operate = ", ".join(contact.name for contact in sheet.record.may_operate.all())
    yield _("May stop and restart it"), operate


def _ponds(sheet, system):
    for pond in sheet.ponds:
        sizes = [
            (_("area"), "area", pond.area_m2),
            (_("deepest"), "length", pond.depth_max_m),
            (_("mean"), "length", pond.depth_mean_m),
        ]
        said = [
            f"{word} {units.shown(what, value, system)}" for word, what, value in sizes if value
        ]
        yield pond.name, ", ".join(said)
        yield _("Level mark"), pond.level_mark
        yield _("Swings in a usual year"), _shown("length", pond.level_swing_m, system)


def _electrics(sheet, system):
    record = sheet.record
    yield _("Cabinet"), sheet.system.cabinet_note
    yield _("Over the highest water"), _shown("length", record.cabinet_above_water_m, system)
    yield _("Circuit"), sheet.system.supply_note
    yield _("Electrical work by"), ", ".join(filter(None, [record.electrician, record.licence]))
    if record.not_required_by:
        yield _("Electrician"), _("not required, according to %s") % record.not_required_by
    yield _("GFCI trip test passed"), house.day(record.gfci_tested_on)
    if record.locate_ticket:
        located = house.day(record.located_on)
        yield _("Utility locate"), ", ".join(filter(None, [record.locate_ticket, located]))
    if sheet.hours_per_day is not None:
        yield _("Runs"), _("%s hours a day") % plain(sheet.hours_per_day)


def _units(sheet, system):
    if sheet.compressor:
        unit = sheet.compressor.component
        serial = unit.serial or _("cannot be read, or not entered yet")
        yield _("Compressor"), f"{unit.type}, {serial}"
        yield _("Date code"), unit.date_code
    warranty = sheet.system.warranty_from
    if warranty:
        months = sheet.system.warranty_months
        yield (
            _("Warranty from"),
            house.day(warranty) + (_(", %s months") % months if months else ""),
        )
    if sheet.meter:
        start = sheet.meter.meter_start_h
        shown = _("at the start %s h") % plain(start) if start is not None else ""
        yield _("Hour meter"), ", ".join(filter(None, [sheet.meter.component.serial, shown]))
    if sheet.gauge:
        error = sheet.gauge.error_percent
        scale = _shown("pressure", sheet.gauge.full_scale, system)
        words = [sheet.gauge.label, _("to %s") % scale if scale else ""]
        words.append(_("%s %% of scale") % plain(error) if error else "")
        yield _("Pressure gauge"), ", ".join(filter(None, words))
    if sheet.relief_valve:
        opens = sheet.relief_valve.component.type.nameplate.get("set_pa")
        yield _("Relief valve opens at"), _shown("pressure", opens, system)


def _lines(sheet, system):
    for plate in sheet.plates:
        line = sheet.lines.get(plate.pk)
        yield plate.label, _line(plate, line, system) if line else plate.bearing_note
    yield _("Where the lines run"), sheet.record.lines_note
    yield _("Depth in the ground"), _shown("length", sheet.record.burial_m, system)


def _line(plate, line, system):
    unit = "in" if system == "us" else "mm"
    bore = line.bore_m and f"{plain(line.bore_m / BORES[unit])}\u00a0{unit}"
    deep, length = (_shown("length", m, system) for m in (line.depth_m, line.line_length_m))
    check = PLACES.get(line.check_valve_at)
    words = [
        deep and _("%s deep") % deep,
        length and _("line %s") % length,
        bore and _("bore %s") % bore,
        ngettext("%s membrane", "%s membranes", line.membranes) % line.membranes,
        _("valve %s %% open") % plain(line.valve_open_percent),
        check and _("check valve: %s") % str(check).lower(),
        "" if line.in_use else _("gets no air"),
        plate.bearing_note,
    ]
    return ", ".join(str(word) for word in words if word)


def _readings(sheet, system):
    started = first_start(sheet)
    if started:
        yield _("Air first on"), house.moment(started.at)
    if sheet.record.first_set:
        yield _("Read at"), house.moment(sheet.record.first_set.taken_at)
    labels = {plate.pk: plate.label for plate in sheet.plates}
    scores = dict(BUBBLES)
    for (quantity, place), reading in sheet.readings.items():
        name = NAMES.get(Quantity(quantity), _("Boil"))
        after = f", {labels[place]}" if place in labels else ""
        yield f"{name}{after}", _value(quantity, reading, scores, system)
    if sheet.record.level_read:
        level = _shown("length", sheet.record.level_m, system)
        yield _("Water against the mark"), level or _("not read")
    if sheet.system.winter_mode != WinterMode.UNDECIDED:
        yield _("In winter"), sheet.system.get_winter_mode_display()


def _value(quantity, reading, scores, system):
    if reading.value is None:
        return reading.skipped_because
    if quantity == Quantity.BUBBLES:
        return str(scores.get(f"{reading.value:.0f}", ""))
    return units.shown(quantity, reading.value, system)


def _shown(what, value, system):
    return "" if value is None else units.shown(what, value, system)
