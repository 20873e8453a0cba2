"""Models, compressors, plates and where they sit, from a register."""

from dataclasses import dataclass
from datetime import date, datetime

from equipment.kinds import ComponentState, PartRole, PositionKind, PositionUse
from equipment.models import (
    Component,
    ComponentType,
    Configuration,
    ConfigurationLine,
    Fitting,
    Part,
    PartFor,
    Position,
)
from servicedesk.actions.registers.merging import filter_in, merge
from servicedesk.actions.registers.report import Change, Report

COMPRESSOR, FILTER = "compressor 1", "filter 1"
CONFIGURATION = "as in the register"


def save_models(entries: dict, report: Report) -> dict:
    """Compressor models by (maker, model), each with its filter element."""
    known = {
        (model.maker, model.model): model
        for model in ComponentType.objects.filter(kind=PositionKind.COMPRESSOR)
    }
    wanted = {}
    for (maker, model), entry in entries["model"].items():
        fields = {"kind": PositionKind.COMPRESSOR, "maker": maker, "model": model}
        fields |= {"compressor_kind": entry["compressor_kind"]}
        fields |= {"pressure_max_pa": entry["pressure_max"]}
        wanted[maker, model] = (entry.row, fields)
    models = merge("model", ComponentType, wanted, report, known=known)
    _save_filter_parts(entries, models, report)
    return models


def _save_filter_parts(entries, models, report):
    numbers = {
        entry["filter_part"]: (entry.row, {"number": entry["filter_part"]})
        for entry in entries["model"].values()
        if entry["filter_part"]
    }
    for _, fields in numbers.values():
        fields["name"] = "Filter element"
    known = Part.objects.in_bulk(list(numbers), field_name="number")
    for number, part in known.items():
        numbers[number][1]["name"] = part.name
    parts = merge("part", Part, numbers, report, known=known)
    wanted = {
        key: (
            entry.row,
            {
                "component_type_id": models[key].pk,
                "role": PartRole.FILTER_ELEMENT,
                "part_id": parts[entry["filter_part"]].pk,
            },
        )
        for key, entry in entries["model"].items()
        if entry["filter_part"]
    }
    roles = PartFor.objects.filter(role=PartRole.FILTER_ELEMENT)
    by_type = {role.component_type_id: role for role in roles}
    known = {key: by_type[m.pk] for key, m in models.items() if m.pk in by_type}
    merge("filter of model", PartFor, wanted, report, known=known)


@dataclass
class Places:
    """The positions of the systems in the register, by system and label."""

    by_label: dict

    @classmethod
    def of(cls, systems):
        keys = [system.pk for system in systems.values()]
        found = filter_in(Position.objects.all(), "system_id", keys)
        return cls({(position.system_id, position.label): position for position in found})

    def add(self, new):
        Position.objects.bulk_create(new, batch_size=500)
        self.by_label |= {(position.system_id, position.label): position for position in new}


def save_positions(entries: dict, systems: dict, ponds: dict, report: Report) -> Places:
    """Compressor, filter and plates of every system; a plate taken out of the file is removed."""
    places = Places.of(systems)
    places.add(_missing(systems, places, COMPRESSOR, PositionKind.COMPRESSOR))
    filters = _missing(systems, places, FILTER, PositionKind.FILTER)
    for position in filters:
        position.serves = places.by_label[position.system_id, COMPRESSOR]
    places.add(filters)
    _save_plates(entries, systems, ponds, places, report)
    return places


def _missing(systems, places, label, kind):
    return [
        Position(system=system, kind=kind, label=label)
        for system in systems.values()
        if (system.pk, label) not in places.by_label
    ]


def plates_of(entries: dict) -> dict:
    """Depth by (number of the system, label); labels run on where a cabinet feeds two ponds."""
    plates, counts = {}, {}
    for (system_key, pond_key), entry in entries["diffusers"].items():
        for depth in entry["diffuser_depths"] or []:
            counts[system_key] = counts.get(system_key, 0) + 1
            plates[system_key, f"D{counts[system_key]}"] = (entry.row, pond_key, depth)
    return plates


def _save_plates(entries, systems, ponds, places, report):
    plates = plates_of(entries)
    names = {system.pk: key for key, system in systems.items()}
    known = {(names[pk], label): place for (pk, label), place in places.by_label.items()}
    rows = {}
    for (system_key, label), (row, pond_key, _) in plates.items():
        fields = {"system_id": systems[system_key].pk, "label": label}
        fields |= {"kind": PositionKind.DIFFUSER, "pond_id": ponds[pond_key].pk}
        fields["use"] = PositionUse.IN_USE
        rows[system_key, label] = (row, fields)
    merged = merge("plate", Position, rows, report, known=known)
    wanted = {(systems[key].pk, label): place for (key, label), place in merged.items()}
    places.by_label |= wanted
    told = {systems[key].pk: key for key, _ in plates}
    gone = [
        position
        for (system_id, label), position in places.by_label.items()
        if position.kind == PositionKind.DIFFUSER
        and system_id in told
        and (system_id, label) not in wanted
        and position.use != PositionUse.REMOVED
    ]
    for position in gone:
        what = f"system {told[position.system_id]}"
        report.changes.append(Change(0, what, "diffuser_depths", position.label, "removed"))
        position.use = PositionUse.REMOVED
    Position.objects.bulk_update(gone, ["use"])


def save_depths(
    entries: dict, systems: dict, places: Places, report: Report, *, now: datetime, today: date
) -> None:
    """Depth of every plate since the installation; other depths in a later register begin today."""
    plates = {}
    for (system_key, label), (row, _, depth) in plates_of(entries).items():
        plates.setdefault(system_key, (row, {}))[1][label] = depth
    last = _last_told(systems)
    new, lines = [], []
    for system_key, (row, depths) in plates.items():
        system = systems[system_key]
        before = last.get(system.pk)
        if before and before.depths == depths:
            continue
        if before:
            words = [_in_words(told) for told in (before.depths, depths)]
            change = Change(row, f"system {system_key}", "diffuser_depths", *words)
            report.changes.append(change)
        told = before
        if before and before.from_on >= today:  # corrected on the day it was entered
            before.lines.all().delete()
        else:
            begins = today if before else system.installed_on
            told = Configuration(system=system, from_on=begins, name=CONFIGURATION, entered_at=now)
            new.append(told)
        lines += [
            ConfigurationLine(
                configuration=told, position=places.by_label[system.pk, label], depth_m=depth
            )
            for label, depth in depths.items()
        ]
    Configuration.objects.bulk_create(new, batch_size=500)
    ConfigurationLine.objects.bulk_create(lines, batch_size=500)


def _last_told(systems):
    """The newest configuration that a register told of, by system, with its `depths` by label."""
    told = Configuration.objects.filter(name=CONFIGURATION).order_by("from_on")
    keys = [system.pk for system in systems.values()]
    last = {one.system_id: one for one in filter_in(told, "system_id", keys)}
    by_pk = {one.pk: one for one in last.values()}
    for one in by_pk.values():
        one.depths = {}
    lines = ConfigurationLine.objects.order_by("pk")
    lines = lines.values_list("configuration_id", "position__label", "depth_m")
    for pk, label, depth in filter_in(lines, "configuration_id", by_pk):
        by_pk[pk].depths[label] = depth
    return last


def _in_words(depths):
    return ", ".join(f"{label} {depth:.2f} m" for label, depth in depths.items())


def save_compressors(
    entries: dict,
    systems: dict,
    models: dict,
    places: Places,
    report: Report,
    *,
    now: datetime,
    today: date,
) -> None:
    """The unit in every cabinet. Another serial number than before is an exchange, today."""
    current = {
        fitting.position_id: fitting
        for fitting in filter_in(
            Fitting.objects.filter(to_on=None).select_related("component__type"),
            "position__system_id",
            [system.pk for system in systems.values()],
        )
    }
    count = report.count("compressor")
    fitted, ended = [], []
    for (key,), entry in entries["compressor"].items():
        position = places.by_label[systems[key].pk, COMPRESSOR]
        model = models[entry["compressor_maker"], entry["compressor_model"]]
        held = current.get(position.pk)
        if held and _same_unit(held.component, model, entry, report, count):
            continue
        if held:
            ended.append(held)
            words = [str(held.component), f"{model} {entry['compressor_serial'] or ''}"]
            report.changes.append(Change(entry.row, f"system {key}", "compressor", *words))
            count.changed += 1
        else:
            count.new += 1
        fitted.append((entry, model, position, today if held else systems[key].installed_on))
    _end(ended, today)
    _fit(fitted, now)


def _same_unit(unit, model, entry, report, count):
    """The unit that is fitted; figures that were not known before are filled in."""
    serial = entry["compressor_serial"] or unit.serial
    if unit.type_id != model.pk or (unit.serial and serial != unit.serial):
        return False
    said = {"serial": serial, "hours_before": entry["compressor_hours"]}
    differs = {n: v for n, v in said.items() if v is not None and getattr(unit, n) != v}
    for name, value in differs.items():
        before = str(getattr(unit, name))
        report.changes.append(Change(entry.row, f"compressor {unit}", name, before, str(value)))
        setattr(unit, name, value)
    if differs:
        unit.save(update_fields=list(differs))
        count.changed += 1
    else:
        count.same += 1
    return True


def _end(fittings, today):
    units = [fitting.component for fitting in fittings]
    for fitting in fittings:
        fitting.to_on = max(today, fitting.from_on)
        fitting.component.state = ComponentState.IN_SHOP
    Fitting.objects.bulk_update(fittings, ["to_on"])
    Component.objects.bulk_update(units, ["state"])


def _fit(wanted, now):
    """Fit the units; one that is on the shelf is the same unit as before."""
    fitted_now = Fitting.objects.filter(to_on=None).values("component_id")
    serials = {entry["compressor_serial"] for entry, *_ in wanted} - {None}
    shelf = {
        (unit.type_id, unit.serial): unit
        for unit in filter_in(Component.objects.exclude(pk__in=fitted_now), "serial", serials)
    }
    fittings, new, back = [], [], []
    for entry, model, position, begins in wanted:
        unit = shelf.pop((model.pk, entry["compressor_serial"]), None)
        (back if unit else new).append(
            unit := unit
            or Component(
                type=model,
                serial=entry["compressor_serial"] or "",
                hours_before=entry["compressor_hours"] or 0,
            )
        )
        unit.state = ComponentState.IN_SERVICE
        fittings.append(Fitting(component=unit, position=position, from_on=begins, entered_at=now))
    Component.objects.bulk_create(new, batch_size=500)
    Component.objects.bulk_update(back, ["state"])
    Fitting.objects.bulk_create(fittings, batch_size=500)
