"""Keep what a step of a handing over says, each fact in its own record."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from django.db import transaction

from customers.models import Contact, ContactRole, Hazard, User
from equipment.actions.configurations import ConfigurationRefused, keep_line
from equipment.kinds import PositionKind, WinterMode
from equipment.models import Configuration, Fitting, Gauge, Position, Schedule
from servicedesk.actions.commissioning.fitted import fit_unit
from servicedesk.actions.commissioning.said import Said, StepRefused, keep_said, lock, save
from servicedesk.actions.commissioning.sheet import Sheet
from servicedesk.kinds import Point, Step

FIRST = "first"  # name of the configuration that a system goes into service with


@transaction.atomic
def keep_site(
    sheet: Sheet,
    *,
    installed_on: date,
    site: Mapping[str, object],
    hazard: tuple[str, str] | None,
    said: Said,
    by: User,
    now: datetime,
) -> None:
    """The way in, hazards, and the day of installation."""
    record = lock(sheet)
    save(sheet.site, site)
    if hazard is not None:
        Hazard.objects.get_or_create(site=sheet.site, kind=hazard[0], note=hazard[1])
    if installed_on != sheet.system.installed_on:
        _install_on(sheet, installed_on)
    keep_said(record, Step.SITE, said, by=by, now=now)


@transaction.atomic
def keep_people(
    sheet: Sheet,
    *,
    may_operate: Sequence[Contact],
    person: Mapping[str, str] | None,
    said: Said,
    by: User,
    now: datetime,
) -> None:
    """Who may stop and restart it; `person` is somebody who was not in the register yet."""
    record = lock(sheet)
    chosen = list(may_operate)
    if person is not None:
        chosen += _add_person(sheet, person, now)
    record.may_operate.set(chosen)
    keep_said(record, Step.PEOPLE, said, by=by, now=now)


@transaction.atomic
def keep_ponds(
    sheet: Sheet,
    *,
    ponds: Mapping[int, Mapping[str, object]],
    said: Said,
    by: User,
    now: datetime,
) -> None:
    """Area, depths and the fixed mark of each pond that the system feeds."""
    record = lock(sheet)
    own = {pond.pk: pond for pond in sheet.ponds}
    for pk, values in ponds.items():
        save(own[pk], values)
    keep_said(record, Step.POND, said, by=by, now=now)


@transaction.atomic
def keep_electrics(
    sheet: Sheet,
    *,
    system: Mapping[str, object],
    record: Mapping[str, object],
    hours_per_day: float | None,
    said: Said,
    by: User,
    now: datetime,
) -> None:
    """Cabinet, circuit, who did the electrical work, and what was found before digging."""
    kept = lock(sheet)
    save(sheet.system, system)
    save(kept, record)
    if hours_per_day is not None:
        Schedule.objects.update_or_create(
            system=sheet.system,
            from_on=_schedule_from(sheet),
            defaults={"hours_per_day": hours_per_day},
        )
    keep_said(kept, Step.ELECTRICS, said, by=by, now=now)


@transaction.atomic
def keep_line_step(
    sheet: Sheet,
    *,
    record: Mapping[str, object],
    plate: Position | None,
    place: Mapping[str, object],
    line: Mapping[str, object],
    plate_type=None,
    said: Said,
    by: User,
    now: datetime,
) -> Position | None:
    """How the lines run; and one line with its plate, unless `place` is empty."""
    kept = lock(sheet)
    save(kept, record)
    if place:
        plate = _keep_plate(sheet, plate, place)
        try:
            keep_line(_configuration(sheet, now), plate, line)
        except ConfigurationRefused as refusal:
            raise StepRefused(str(refusal)) from None
        if plate_type is not None:
            fit_unit(plate, plate_type, on=sheet.begins_on, now=now)
    keep_said(kept, Step.LINES, said, by=by, now=now)
    return plate


@transaction.atomic
def keep_papers(
    sheet: Sheet, *, winter_mode: WinterMode | None, said: Said, by: User, now: datetime
) -> None:
    """The talk, the notices, and how it spends the winter; undecided is asked in September."""
    record, points = lock(sheet), dict(said.points)
    if winter_mode is not None:
        save(sheet.system, {"winter_mode": winter_mode})
    if winter_mode == WinterMode.UNDECIDED:
        points[Point.WINTER_ASKED_LATER] = ""
    keep_said(record, Step.PAPERS, replace(said, points=points), by=by, now=now)


def _install_on(sheet, day):
    """What began with the installation begins on its new day."""
    system, before = sheet.system, sheet.system.installed_on
    save(system, {"installed_on": day})
    Fitting.objects.filter(position__system=system, from_on=before).update(from_on=day)
    for model in (Schedule, Configuration, Gauge):
        rows = model.objects.filter(system=system, from_on=before)
        if not model.objects.filter(system=system, from_on=day).exists():
            rows.update(from_on=day)


def _schedule_from(sheet):
    rows = sorted(sheet.system.schedules.all(), key=lambda row: row.from_on)
    return rows[-1].from_on if rows else sheet.system.installed_on


def _add_person(sheet, person, now):
    """A contact of each owner; the same address is nobody new."""
    customers = sorted(sheet.owners)
    if not customers:
        raise StepRefused(
            "Nobody is entered as owner of this site. Enter the owner first, by the register or "
            "under the records.",
            "name",
        )
    same = Contact.objects.filter(customer=customers[0], email__iexact=person["email"])
    if person["email"] and same.exists():
        raise StepRefused("This address is on the list already. Tick the person there.", "email")
    contact = Contact.objects.create(
        customer_id=customers[0],
        name=person["name"],
        email=person["email"],
        phone=person["phone"],
        time_zone=sheet.site.time_zone,
    )
    ContactRole.objects.create(
        contact=contact, role=person["role"], site=sheet.site, from_on=sheet.day_of(now)
    )
    return [contact] if person.get("may_operate") else []


def _keep_plate(sheet, plate, place):
    """The plate's place; a label belongs to one place of a system."""
    same = Position.objects.filter(system=sheet.system, label=place["label"])
    if plate is not None:
        same = same.exclude(pk=plate.pk)
    if same.exists():
        raise StepRefused(
            f"{place['label']} is another place of this system. Choose a label of its own.", "label"
        )
    new = plate or Position(system=sheet.system, kind=PositionKind.DIFFUSER)
    for name, value in place.items():
        setattr(new, name, value)
    new.save()
    return new


def _configuration(sheet, now):
    """The configuration that is being built up."""
    if sheet.configuration is not None:
        return sheet.configuration
    return Configuration.objects.create(
        system=sheet.system, from_on=sheet.begins_on, name=FIRST, entered_at=now
    )
