"""One system of the demo firm is being handed over; its record says what is still missing."""

from datetime import date, datetime, timedelta

from customers.kinds import HazardKind
from customers.models import Pond, Site
from equipment.kinds import PositionKind
from equipment.models import ComponentType, System
from equipment.physics import units
from servicedesk.actions.commissioning.begin import next_key, plan_system
from servicedesk.actions.commissioning.first import keep_start
from servicedesk.actions.commissioning.fitted import keep_compressor
from servicedesk.actions.commissioning.said import Said
from servicedesk.actions.commissioning.sheet import Sheet, sheet_of
from servicedesk.actions.commissioning.steps import (
    keep_electrics,
    keep_line_step,
    keep_people,
    keep_ponds,
    keep_site,
)
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.places import ACRE_M2, FOOT_M
from servicedesk.actions.demo.systems import at
from servicedesk.kinds import Point

SITE = "Kingfisher Farm"
POND = "Sedge Pond"
PLANNED_DAYS_AGO, INSTALLED_DAYS_AGO, STARTED_DAYS_AGO = 16, 3, 1
DEPTHS_FT = [11, 9]
INCH_M = 0.0254


def hand_over(crew: Crew, *, today: date, now: datetime) -> System:
    """Sedge Pond: planned, built and started, but without readings, photos and papers."""
    planned_at = at(today - timedelta(days=PLANNED_DAYS_AGO), 10)
    installed_on = today - timedelta(days=INSTALLED_DAYS_AGO)
    site = Site.objects.get(name=SITE)
    pond = Pond.objects.create(key=f"P-{site.key[2:]}-9", site=site, name=POND, fish="bass")
    kinds = ComponentType.objects.filter(kind=PositionKind.COMPRESSOR).order_by("pk")
    system = plan_system(
        site,
        pond,
        key=next_key(),
        name=POND,
        installed_on=installed_on,
        compressor=kinds.first(),
        by=crew.office,
        now=planned_at,
    )
    built_at = at(installed_on, 15)
    who = {"by": crew.technicians[1], "now": built_at}

    def sheet() -> Sheet:
        return sheet_of(system.pk, on=installed_on)

    _site_people_pond(sheet, pond, installed_on, who)
    _cabinet(sheet, installed_on, who)
    _plates(sheet, pond, who)
    points = {Point.RESTART_CAUTION: "", Point.RAMP_PLAN_GIVEN: "the farm's foreman"}
    started_at = at(today - timedelta(days=STARTED_DAYS_AGO), 10)
    keep_start(sheet(), started_at=started_at, said=Said(points), by=crew.technicians[1], now=now)
    return system


def _site_people_pond(sheet, pond, installed_on, who):
    keep_site(
        sheet(),
        installed_on=installed_on,
        site={
            "way_in": "Farm track past the barn, second gate on the left.",
            "public_access": False,
        },
        hazard=(HazardKind.LIVESTOCK, "Cattle by the gate."),
        said=Said({Point.HAZARDS_LOOKED_FOR: ""}),
        **who,
    )
    keep_people(
        sheet(),
        may_operate=sheet().people,
        person=None,
        said=Said({Point.MAIL_READ_BACK: ""}),
        **who,
    )
    values = {"area_m2": round(1.1 * ACRE_M2), "depth_max_m": 12 * FOOT_M}
    values |= {"depth_mean_m": 6 * FOOT_M, "level_mark": "Notch in the outlet's concrete"}
    keep_ponds(sheet(), ponds={pond.pk: values}, said=Said(), **who)


def _cabinet(sheet, installed_on, who):
    keep_electrics(
        sheet(),
        system={
            "cabinet_note": "Steel cabinet on a concrete slab",
            "supply_note": "115 V, own circuit of 15 A, switched off at the barn",
        },
        record={
            "electrician": "Oona Feld",
            "licence": "permit 26-0417",
            "gfci_tested_on": installed_on,
            "cabinet_above_water_m": 3.5 * FOOT_M,
            "locate_ticket": "26-118204",
            "located_on": installed_on - timedelta(days=4),
        },
        hours_per_day=24,
        said=Said(
            {Point.GFCI_TESTED: "", Point.CABINET_ABOVE_WATER: "", Point.UTILITIES_LOCATED: ""}
        ),
        **who,
    )
    warranty = {"warranty_from": installed_on, "warranty_months": 24}
    keep_compressor(
        sheet(),
        kind=sheet().compressor.component.type,
        serial="K5120",
        unit={"date_code": "26W40", **warranty},
        system=warranty,
        meter=("H5120", 1.0),
        gauge={
            "label": "Cabinet gauge, 0 to 15 psi",
            "full_scale": units.to_stored("pressure", 15, "psi"),
            "error_percent": 2.5,
        },
        relief_pa=units.to_stored("pressure", 12, "psi"),
        said=Said(),
        **who,
    )


def _plates(sheet, pond, who):
    for number, depth_ft in enumerate(DEPTHS_FT, start=1):
        there = sheet().plates
        keep_line_step(
            sheet(),
            record={
                "lines_note": "Along the fence to the bank, then straight out. No splices.",
                "burial_m": 1.5 * FOOT_M,
            },
            plate=there[number - 1] if len(there) >= number else None,
            place={
                "label": f"D{number}",
                "pond": pond,
                "bearing_note": f"{40 * number} ft off the bank, in line with barn and oak",
            },
            line={
                "depth_m": depth_ft * FOOT_M,
                "line_length_m": (90 + 40 * number) * FOOT_M,
                "bore_m": 0.5 * INCH_M,
                "membranes": 1,
                "valve_open_percent": 100.0 if number == 1 else 70.0,
                "check_valve_at": "diffuser",
            },
            said=Said({Point.NEVER_ALONE: "", Point.JACKETS_WORN: ""}),
            **who,
        )
