"""The units of a system that is handed over: compressor, hour meter, relief valve, gauge."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction

from customers.models import User
from equipment.actions.fitting import FittingRefused, fit
from equipment.actions.gauges import GaugeRefused, record_gauge
from equipment.kinds import PositionKind, Quantity
from equipment.models import Component, ComponentType, Fitting, Gauge, Position
from equipment.physics import units
from servicedesk.actions.commissioning.said import Said, StepRefused, keep_said, lock, save
from servicedesk.actions.commissioning.sheet import Sheet
from servicedesk.kinds import Step

COMPRESSOR, METER, RELIEF_VALVE = "compressor 1", "meter 1", "relief valve 1"
ANY_METER = {"kind": PositionKind.METER, "maker": "any maker", "model": "hour meter"}


@transaction.atomic
def keep_compressor(
    sheet: Sheet,
    *,
    kind: ComponentType | None,
    serial: str,
    unit: Mapping[str, object],
    system: Mapping[str, object],
    meter: tuple[str, float | None] | None,
    gauge: Mapping[str, object] | None,
    relief_pa: float | None,
    said: Said,
    by: User,
    now: datetime,
) -> None:
    """The compressor by its number, with its warranty, hour meter, gauge and relief valve."""
    record = lock(sheet)
    save(sheet.system, system)
    if kind is not None:
        place = _place(sheet, PositionKind.COMPRESSOR, COMPRESSOR)
        kind = kind if kind.pk else _in_register(kind)
        fit_unit(place, kind, on=sheet.begins_on, now=now, serial=serial, fields=unit)
    if meter is not None:
        _keep_meter(sheet, serial=meter[0], start_h=meter[1], now=now)
    if gauge is not None:
        _keep_gauge(sheet, gauge, by=by, now=now)
    if relief_pa is not None:
        _keep_relief_valve(sheet, set_pa=relief_pa, now=now)
    keep_said(record, Step.COMPRESSOR, said, by=by, now=now)


@transaction.atomic
def fit_unit(
    place: Position,
    kind: ComponentType,
    *,
    on: date,
    now: datetime,
    serial: str = "",
    fields: Mapping[str, object] | None = None,
    meter_start_h: float | None = None,
) -> Fitting:
    """Let a unit of a model sit at a place from a day on, or correct the one entered for it.

    A unit on the shelf with the same number is that unit, with its wear and its warranty.
    Raises StepRefused.
    """
    current = Fitting.objects.filter(position=place, to_on=None).select_related("component").first()
    shelf = _on_shelf(kind, serial)
    if current is not None and _is_other(current.component, shelf):
        if Fitting.objects.filter(component=current.component).count() > 1:
            raise StepRefused(
                f"{current.component} sat elsewhere before and stays what it is. Take it out "
                "first, then enter the other unit."
            )
        unused = current.component
        current.delete()
        unused.delete()
        current = None
    if current is None:
        unit = shelf or Component.objects.create(type=kind, serial=serial)
        try:
            current = fit(unit, place, on=on, entered_at=now)
        except FittingRefused as refusal:
            raise StepRefused(str(refusal)) from None
    _correct(current, kind, serial, fields or {}, meter_start_h)
    return current


def sits_elsewhere(kind: ComponentType, serial: str, place: Position | None) -> Fitting | None:
    """Where a unit of this model and number is fitted already, if not at this place."""
    if not serial:
        return None
    rows = Fitting.objects.filter(
        component__type=kind, component__serial__iexact=serial, to_on=None
    ).select_related("component__type", "position__system")
    return rows.exclude(position=place).first()


def _keep_meter(sheet: Sheet, *, serial: str, start_h: float | None, now: datetime) -> None:
    """The hour meter with what it showed at the start."""
    kind, _ = ComponentType.objects.get_or_create(**ANY_METER)
    fitted = sheet.meter
    fit_unit(
        _place(sheet, PositionKind.METER, METER),
        fitted.component.type if fitted else kind,
        on=sheet.begins_on,
        now=now,
        serial=serial,
        meter_start_h=start_h,
    )


def _keep_relief_valve(sheet: Sheet, *, set_pa: float, now: datetime) -> None:
    """A relief valve by the pressure at which it opens."""
    shown = units.shown("pressure", set_pa, "us").replace("\u00a0", " ")
    kind, _ = ComponentType.objects.get_or_create(
        kind=PositionKind.RELIEF_VALVE,
        maker="any maker",
        model=f"relief valve {shown}",
        defaults={"nameplate": {"set_pa": set_pa}},
    )
    fit_unit(
        _place(sheet, PositionKind.RELIEF_VALVE, RELIEF_VALVE), kind, on=sheet.begins_on, now=now
    )


def _keep_gauge(sheet: Sheet, values: Mapping[str, object], *, by: User, now: datetime) -> None:
    """The pressure gauge; one entered for this handing over is corrected in place."""
    if sheet.gauge is not None:
        Gauge.objects.filter(pk=sheet.gauge.pk).update(**values)
        return
    try:
        record_gauge(
            sheet.system,
            quantity=Quantity.PRESSURE,
            from_on=min(sheet.begins_on, sheet.day_of(now)),
            by=by,
            now=now,
            **values,
        )
    except GaugeRefused as refusal:
        raise StepRefused(str(refusal)) from None


def _in_register(kind):
    """A model that was typed: the one of that name, or a new one."""
    known = ComponentType.objects.filter(kind=kind.kind, maker=kind.maker, model=kind.model)
    if found := known.first():
        return found
    kind.save()
    return kind


def _on_shelf(kind, serial):
    """A unit of this model and number that sits nowhere."""
    if not serial:
        return None
    fitted = Fitting.objects.filter(to_on=None).values("component")
    same = Component.objects.filter(type=kind, serial__iexact=serial).exclude(pk__in=fitted)
    return same.order_by("pk").first()


def _is_other(unit, shelf):
    return shelf is not None and shelf.pk != unit.pk


def _correct(fitting, kind, serial, fields, meter_start_h):
    unit = fitting.component
    wanted = {"type_id": kind.pk, "serial": serial, **fields}
    changed = {name: value for name, value in wanted.items() if getattr(unit, name) != value}
    for name, value in changed.items():
        setattr(unit, name, value)
    if changed:
        unit.save(update_fields=[name.removesuffix("_id") for name in changed])
    if meter_start_h is not None and fitting.meter_start_h != meter_start_h:
        fitting.meter_start_h = meter_start_h
        fitting.save(update_fields=["meter_start_h"])


def _place(sheet, kind, label):
    if sheet.places[kind]:
        return sheet.places[kind][0]
    compressor = next(iter(sheet.places[PositionKind.COMPRESSOR]), None)
    return Position.objects.create(system=sheet.system, kind=kind, label=label, serves=compressor)
