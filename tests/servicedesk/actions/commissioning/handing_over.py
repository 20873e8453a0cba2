"""A system that is planned, and everything that its handing over asks for, step by step."""

import io
from datetime import UTC, date, datetime, timedelta

from PIL import Image

from customers.kinds import ContactRoleKind
from equipment.actions.readings import Typed
from equipment.kinds import CompressorKind, Quantity, WinterMode
from servicedesk.actions.commissioning.begin import plan_system
from servicedesk.actions.commissioning.first import keep_first_readings, keep_start
from servicedesk.actions.commissioning.fitted import keep_compressor
from servicedesk.actions.commissioning.pictures import keep_photo
from servicedesk.actions.commissioning.said import Said
from servicedesk.actions.commissioning.sheet import sheet_of
from servicedesk.actions.commissioning.steps import (
    keep_electrics,
    keep_line_step,
    keep_papers,
    keep_people,
    keep_ponds,
    keep_site,
)
from servicedesk.kinds import PhotoKind, Point
from tests import make

NOW = datetime(2026, 6, 1, 19, tzinfo=UTC)  # 14:00 at the site
INSTALLED_ON = date(2026, 5, 28)
PLANNED_AT = NOW - timedelta(days=20)
STARTED_AT = NOW - timedelta(hours=3)
READ_AT = NOW - timedelta(hours=1)
PSI_PA = 6894.757


def planned(*, by=None, at=PLANNED_AT, **fields):
    """A system in the books: a site with its owner, a pond, a piston compressor."""
    owner = make.customer(name="Ines Halvorsen")
    make.contact(customer=owner, role=ContactRoleKind.OWNER, phone="+1 202 555 0117")
    site = make.site(owner=owner, name="Mill Lane")
    pond = make.pond(site=site, name="Mill Pond")
    start = {"key": "A-0190", "name": "Mill Pond", "installed_on": INSTALLED_ON}
    start["compressor"] = make.compressor_type(
        compressor_kind=CompressorKind.PISTON,
        free_air_l_min=110,
        pressure_max_pa=20 * PSI_PA,
        current_a=4,
    )
    return plan_system(site, pond, by=by or make.manager(), now=at, **start | fields)


def read(system):
    return sheet_of(system.pk, on=NOW.date())


def picture():
    made = io.BytesIO()
    Image.linear_gradient("L").resize((64, 48)).convert("RGB").save(made, "JPEG")
    return made


def show(system, kind, *, by):
    file = picture()
    return keep_photo(read(system), kind, file, len(file.getvalue()), by=by, now=NOW)


def site(system, **known):
    values = {"way_in": "North gate, then along the dam."}
    said = Said({Point.HAZARDS_LOOKED_FOR: ""})
    keep_site(read(system), installed_on=INSTALLED_ON, site=values, hazard=None, said=said, **known)


def people(system, **known):
    sheet = read(system)
    said = Said({Point.MAIL_READ_BACK: ""})
    keep_people(sheet, may_operate=sheet.people, person=None, said=said, **known)


def pond(system, **known):
    sheet = read(system)
    values = {"area_m2": 4000.0, "depth_max_m": 4.0, "depth_mean_m": 2.1}
    values["level_mark"] = "Bolt in the outlet's concrete"
    keep_ponds(sheet, ponds={sheet.ponds[0].pk: values}, said=Said(), **known)
    show(system, PhotoKind.LEVEL_MARK, by=known["by"])


def electrics(system, **known):
    keep_electrics(
        read(system),
        system={"cabinet_note": "Steel on a slab", "supply_note": "115 V, own circuit, 15 A"},
        record={
            "electrician": "Oona Feld",
            "licence": "EL-20417",
            "gfci_tested_on": date(2026, 6, 1),
            "cabinet_above_water_m": 1.1,
            "locate_ticket": "26-118204",
            "located_on": date(2026, 5, 25),
        },
        hours_per_day=24,
        said=Said(
            {Point.GFCI_TESTED: "", Point.CABINET_ABOVE_WATER: "", Point.UTILITIES_LOCATED: ""}
        ),
        **known,
    )
    show(system, PhotoKind.CABINET_OPEN, by=known["by"])


def compressor(system, **known):
    sheet = read(system)
    keep_compressor(
        sheet,
        kind=sheet.compressor.component.type,
        serial="P4471",
        unit={"date_code": "26W11", "warranty_from": INSTALLED_ON, "warranty_months": 24},
        system={"warranty_from": INSTALLED_ON, "warranty_months": 24},
        meter=("H9001", 3.0),
        gauge={"label": "Cabinet gauge", "full_scale": 15 * PSI_PA, "error_percent": 2.5},
        relief_pa=12 * PSI_PA,
        said=Said(),
        **known,
    )
    show(system, PhotoKind.NAMEPLATE, by=known["by"])
    show(system, PhotoKind.GAUGE, by=known["by"])


LINE = {
    "depth_m": 3.4,
    "line_length_m": 60.0,
    "bore_m": 0.0159,
    "valve_open_percent": 100.0,
    "membranes": 2,
    "check_valve_at": "diffuser",
    "in_use": True,
}


def lines(system, **known):
    sheet = read(system)
    plate = sheet.plates[0]
    place = {
        "label": "D1",
        "pond": plate.pond,
        "bearing_note": "40 ft at 210 degrees from the willow, 90 ft from the dock post",
    }
    keep_line_step(
        sheet,
        record={"lines_note": "Along the north bank, one splice at the dock.", "burial_m": 0.4},
        plate=plate,
        place=place,
        line=LINE,
        said=Said({Point.NEVER_ALONE: "", Point.JACKETS_WORN: ""}),
        **known,
    )
    show(system, PhotoKind.TRENCH, by=known["by"])


def start(system, **known):
    points = {Point.RESTART_CAUTION: "", Point.RAMP_PLAN_GIVEN: "Ines Halvorsen"}
    keep_start(read(system), started_at=STARTED_AT, said=Said(points), **known)


def readings(system, **known):
    sheet = read(system)
    plate = sheet.plates[0]
    entries = [
        Typed(Quantity.PRESSURE, "5.9", "psi"),
        Typed(Quantity.CURRENT, "3.4", "A"),
        Typed(Quantity.RUN_HOURS, "5", "h", sheet.meter.position),
        Typed(Quantity.BUBBLES, "3", "", plate),
    ]
    levels = {plate.pond: [Typed(Quantity.LEVEL, "-0.2", "ft")]}
    keep_first_readings(
        sheet, taken_at=READ_AT, entries=entries, of_ponds=levels, said=Said(), **known
    )
    show(system, PhotoKind.BOIL, by=known["by"])


def papers(system, **known):
    points = {Point.TALK_GIVEN: "Ines Halvorsen", Point.THIN_ICE_GIVEN: "on paper, signed"}
    keep_papers(read(system), winter_mode=WinterMode.RUN_DEEP, said=Said(points), **known)


STEPS = [site, people, pond, electrics, compressor, lines, start, readings, papers]


def complete(system, *, by=None, leaving_out=()):
    """Every step, but those left out; who did it."""
    by = by or make.user()
    for step in STEPS:
        if step not in leaving_out:
            step(system, by=by, now=NOW)
    return by
