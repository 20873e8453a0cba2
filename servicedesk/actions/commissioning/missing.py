"""What is missing before a system may go into service, in plain words, step by step."""

from collections.abc import Iterator
from dataclasses import dataclass

from equipment.kinds import Quantity, SystemState, WinterMode
from servicedesk.actions.commissioning.sheet import Sheet
from servicedesk.kinds import PhotoKind, Point, Step


@dataclass(frozen=True)
class Missing:
    step: Step
    words: str


def missing_of(sheet: Sheet) -> list[Missing]:
    """Everything that is still wanted, in the order of the steps."""
    return [Missing(step, words) for step, wants in WANTS.items() for words in wants(sheet)]


def missing_before_start(sheet: Sheet) -> list[str]:
    """What has to be known before air, and with it electricity, is switched on at the water."""
    return [*_electrics_proven(sheet), *_fitted(sheet)]


def _site(sheet) -> Iterator[str]:
    if not sheet.site.way_in.strip():
        yield "the way in"
    if not sheet.answered(Point.HAZARDS_LOOKED_FOR):
        yield "that somebody looked for hazards"


def _people(sheet) -> Iterator[str]:
    if not sheet.owners:
        yield "the owner of the site"
    elif not any(contact.phone or contact.email for contact in sheet.people):
        yield "a person with a phone number or a mail address"
    if not sheet.record.may_operate.all():
        yield "who may stop and restart it"
    if any(c.email for c in sheet.people) and not sheet.answered(Point.MAIL_READ_BACK):
        yield "that the mail address was read back"


def _ponds(sheet) -> Iterator[str]:
    if not sheet.ponds:
        yield "the pond"
    for pond in sheet.ponds:
        if not pond.area_m2:
            yield f"the area of {pond}"
        if not pond.depth_max_m:
            yield f"the greatest depth of {pond}"
        if not pond.level_mark.strip():
            yield f"the fixed mark for the water of {pond}"
    if not sheet.shows(PhotoKind.LEVEL_MARK):
        yield "a photo of the level mark"


def _electrics(sheet) -> Iterator[str]:
    if not sheet.system.cabinet_note.strip():
        yield "the cabinet and what it stands on"
    if not sheet.system.supply_note.strip():
        yield "the circuit"
    if sheet.hours_per_day is None:
        yield "the hours a day that it is to run"
    yield from _electrics_proven(sheet)
    if not _digging_answered(sheet):
        yield "the utility locate ticket with its day, or that nothing was dug"
    if not sheet.shows(PhotoKind.CABINET_OPEN):
        yield "a photo of the open cabinet"


def _electrics_proven(sheet) -> Iterator[str]:
    record = sheet.record
    licensed = record.electrician.strip() and record.licence.strip()
    if not (licensed or record.not_required_by.strip()):
        yield "the electrician with licence or permit, or the authority that requires none"
    if record.gfci_tested_on is None or not sheet.answered(Point.GFCI_TESTED):
        yield "the day of the passed GFCI trip test, and who answers for it"
    if record.cabinet_above_water_m is None or not sheet.answered(Point.CABINET_ABOVE_WATER):
        yield "the cabinet's height over the highest water known, and who answers for it"


def _digging_answered(sheet):
    located = sheet.record.locate_ticket.strip() and sheet.record.located_on
    return sheet.answered(Point.NOTHING_DUG) or (
        located and sheet.answered(Point.UTILITIES_LOCATED)
    )


def _fitted(sheet) -> Iterator[str]:
    if sheet.compressor is None:
        yield "the compressor"


def _compressor(sheet) -> Iterator[str]:
    yield from _fitted(sheet)
    serial = sheet.compressor.component.serial if sheet.compressor else "-"
    if not serial and not sheet.answered(Point.SERIAL_UNREADABLE):
        yield "the compressor's serial number, or that it cannot be read"
    if sheet.system.warranty_from is None:
        yield "the start of the warranty"
    counted = sheet.meter is not None and sheet.meter.meter_start_h is not None
    if not (counted or sheet.answered(Point.NO_HOUR_METER)):
        yield "what the hour meter shows at the start, or that there is none"
    if sheet.gauge is None or not (sheet.gauge.full_scale and sheet.gauge.error_percent):
        yield "the pressure gauge with the end of its scale and its error"
    if not sheet.shows(PhotoKind.NAMEPLATE):
        yield "a photo of the nameplate"
    if not sheet.shows(PhotoKind.GAUGE):
        yield "a photo of the gauge"


LINE_WORDS = {
    "depth_m": "the depth",
    "line_length_m": "the length of its line",
    "bore_m": "the bore of its line",
    "check_valve_at": "where its check valve sits",
}


def _lines(sheet) -> Iterator[str]:
    if not sheet.plates:
        yield "a plate with its line"
    for plate in sheet.plates_in_use:
        if wanted := _wanted_of(plate, sheet.lines.get(plate.pk)):
            yield f"of {plate}: {', '.join(wanted)}"
    if not sheet.record.lines_note.strip():
        yield "where the lines run"
    if not sheet.answered(Point.NEVER_ALONE):
        yield "that nobody was alone on the water"
    if not sheet.answered(Point.JACKETS_WORN):
        yield "that life jackets were worn"
    if not (sheet.shows(PhotoKind.TRENCH) or sheet.answered(Point.NOTHING_DUG)):
        yield "a photo of the trench before backfill"


def _wanted_of(plate, line):
    wanted = [w for name, w in LINE_WORDS.items() if not getattr(line, name, None)]
    if not plate.bearing_note.strip() and plate.lat is None:
        wanted.append("where it lies, from two marks on shore")
    return wanted


def _start(sheet) -> Iterator[str]:
    if not any(row.state == SystemState.COMMISSIONING for row in started(sheet)):
        yield "the first start"
    if not sheet.answered(Point.RAMP_PLAN_GIVEN):
        yield "that the plan for running in was handed over, and to whom"


def _readings(sheet) -> Iterator[str]:
    pressure = sheet.readings.get((Quantity.PRESSURE, None))
    if pressure is None or pressure.value is None:
        yield "the readings of the first day, with the pressure"
    else:
        for plate in sheet.plates_in_use:
            if (Quantity.BUBBLES, plate.pk) not in sheet.readings:
                yield f"the boil of {plate} in the first readings"
        if not sheet.record.level_read:
            yield "the water against its mark on that day"
    if not sheet.shows(PhotoKind.BOIL):
        yield "a photo of the boil"


def _papers(sheet) -> Iterator[str]:
    if not sheet.answered(Point.TALK_GIVEN):
        yield "the safety talk with the owner"
    if not sheet.freezes:
        return
    if not sheet.answered(Point.THIN_ICE_GIVEN):
        yield "the notice about thin ice"
    decided = sheet.system.winter_mode != WinterMode.UNDECIDED
    if not (decided or sheet.answered(Point.WINTER_ASKED_LATER)):
        yield "how it spends the winter, or that this is asked in September"


def started(sheet: Sheet):
    """The states since this handing over began."""
    return [row for row in sheet.states if row.entered_at >= sheet.record.begun_at]


WANTS = {
    Step.SITE: _site,
    Step.PEOPLE: _people,
    Step.POND: _ponds,
    Step.ELECTRICS: _electrics,
    Step.COMPRESSOR: _compressor,
    Step.LINES: _lines,
    Step.START: _start,
    Step.READINGS: _readings,
    Step.PAPERS: _papers,
}
