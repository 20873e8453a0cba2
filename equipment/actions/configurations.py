"""Begin a configuration: which plates lie how deep with which valves open, from a day on."""

from collections.abc import Mapping
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.core.validators import MaxValueValidator
from django.db import transaction

from customers.models import Pond, Trail, User
from equipment.kinds import PositionKind, PositionUse
from equipment.models import (
    Baseline,
    Configuration,
    ConfigurationLine,
    Position,
    ReadingSet,
    System,
)
from equipment.physics import units

DEEPER_THAN_POND_M = 0.6
FIELDS = (
    "depth_m",
    "valve_open_percent",
    "in_use",
    "line_length_m",
    "bore_m",
    "membranes",
    "check_valve_at",
)
SAID = {  # name and dimension of what has hard limits; the limits stand in the model
    "depth_m": ("The depth", "length"),
    "line_length_m": ("The length of the line", "length"),
    "bore_m": ("The inner diameter", "bore"),
    "valve_open_percent": ("The valve's opening", "percent"),
    "membranes": ("The number of membranes", ""),
}
EDGES = {  # (unit, factor, decimals), as people read them
    "length": [("ft", 1 / 0.3048, 1), ("m", 1, 1)],
    "bore": [("in", 1 / 0.0254, 2), ("mm", 1000, 0)],
    "percent": [("%", 1, 0)],
    "": [("", 1, 0)],
}


class ConfigurationRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def begin_configuration(
    system: System,
    *,
    from_on: date,
    name: str,
    because: str,
    changes: Mapping[int, Mapping[str, object]],
    by: User,
    now: datetime,
    settles: bool = True,
) -> Configuration:
    """From a day on plates lie otherwise; lines that did not change are carried over.

    `changes` holds, by position number, the fields of its line that differ. With `settles` a
    second set of readings is asked for 7 to 30 days later, and readings of the days since then
    belong to the new configuration. The old one stays as it was, with its baseline. Raises
    ConfigurationRefused.
    """
    System.objects.select_for_update().get(pk=system.pk)
    before = configuration_on(system, from_on)
    _refuse_day(system, from_on, before, now)
    if not because.strip():
        raise ConfigurationRefused("Say what was changed, such as: plates raised for winter.")
    lines = _lines(system, before, changes)
    _refuse_lines(system, lines)
    _refuse_no_change(before, lines)
    made = Configuration.objects.create(
        system=system,
        from_on=from_on,
        name=name.strip()[:60] or "changed",
        because=because.strip()[:200],
        settles_from_on=from_on if settles else None,
        entered_at=now,
    )
    for line in lines:
        line.configuration = made
    ConfigurationLine.objects.bulk_create(lines)
    _take_over(system, before, made)
    _remember(before, made, by, now)
    return made


def _refuse_no_change(before, lines):
    if before is not None and _same(before, lines):
        raise ConfigurationRefused(
            f"Nothing differs from the configuration of {_day(before.from_on)}. Change a depth, a "
            "valve or a line, or leave it."
        )


def _remember(before, made, by, now):
    Trail.objects.create(
        at=now,
        by=by,
        did="began a configuration",
        about=f"system:{made.system_id}",
        before={"configuration": before.pk} if before else {},
        after={
            "configuration": made.pk,
            "from": f"{made.from_on:%Y-%m-%d}",
            "because": made.because,
        },
    )


@transaction.atomic
def keep_line(
    configuration: Configuration, position: Position, values: Mapping[str, object]
) -> ConfigurationLine:
    """Write one line of a configuration that is being built up. Raises ConfigurationRefused."""
    line = ConfigurationLine.objects.filter(configuration=configuration, position=position).first()
    line = line or ConfigurationLine(configuration=configuration, position=position)
    for name, value in values.items():
        setattr(line, name, value)
    _refuse_lines(configuration.system, [line])
    line.save()
    return line


def configuration_on(system: System, day: date) -> Configuration | None:
    """The configuration that holds on a day at the site."""
    rows = Configuration.objects.filter(system=system, from_on__lte=day)
    return rows.order_by("-from_on").first()


def faults_of_line(values: Mapping[str, object], pond: Pond | None) -> dict[str, str]:
    """A sentence for each field of a line that cannot be right; empty when all can."""
    faults = {}
    for name, (what, dimension) in SAID.items():
        value, (low, high) = values.get(name), _limits(name)
        if value is not None and not low - 1e-9 <= value <= high + 1e-9:
            faults[name] = f"{what} must lie between {_edges(low, high, dimension)}. Look again."
    depth = values.get("depth_m")
    deepest = pond.depth_max_m if pond else None
    if depth and deepest and "depth_m" not in faults and depth > deepest + DEEPER_THAN_POND_M:
        both = [units.shown("length", deepest, system) for system in ("us", "metric")]
        faults["depth_m"] = (
            f"{pond} is {both[0]} ({both[1]}) at its deepest. Correct this depth, or the pond's."
        )
    return faults


def _limits(name):
    """Lowest and highest value that the record takes."""
    low, high = 0, float("inf")
    for validator in ConfigurationLine._meta.get_field(name).validators:
        if isinstance(validator, MaxValueValidator):
            high = min(high, validator.limit_value)
        elif hasattr(validator, "limit_value"):
            low = max(low, validator.limit_value)
    return low, high


def _edges(low, high, dimension):
    spelt = [
        f"{low * factor:.{decimals}f} and {high * factor:.{decimals}f} {unit}".strip()
        for unit, factor, decimals in EDGES[dimension]
    ]
    return spelt[0] if len(spelt) == 1 else f"{spelt[0]} ({spelt[1]})"


def _lines(system, before, changes):
    """Unsaved lines: those of before with what is changed, then new ones."""
    unknown = set().union(*(set(values) for values in changes.values())) - set(FIELDS)
    if unknown:
        raise ValueError(f"a line has no {', '.join(sorted(unknown))}")
    own = Position.objects.filter(system=system, kind=PositionKind.DIFFUSER)
    positions = own.exclude(use=PositionUse.REMOVED).select_related("pond").in_bulk()
    if strangers := set(changes) - set(positions):
        raise ConfigurationRefused(
            f"Place {min(strangers)} is no plate in use of {system}. Load the page again."
        )
    kept = ConfigurationLine.objects.filter(configuration=before, position__in=positions)
    old = {line.position_id: line for line in kept} if before else {}
    lines = []
    for pk, position in sorted(positions.items(), key=lambda pair: pair[1].label):
        if pk in old or pk in changes:
            values = {f: getattr(old[pk], f) for f in FIELDS} if pk in old else {}
            values |= changes.get(pk, {})
            lines.append(ConfigurationLine(position=position, **values))
    return lines


def _refuse_day(system, from_on, before, now):
    if from_on > now.astimezone(ZoneInfo(system.site.time_zone)).date():
        raise ConfigurationRefused("This day lies ahead. Enter the change once it is made.")
    if from_on < system.installed_on:
        raise ConfigurationRefused(
            f"{system} was installed on {_day(system.installed_on)}; nothing can be changed "
            "before. Check the day."
        )
    if before is not None and before.from_on == from_on:
        raise ConfigurationRefused(
            f"A configuration begins on {_day(from_on)} already. Two of one day cannot be told "
            "apart: choose the day after, or have the first one corrected."
        )


def _refuse_lines(system, lines):
    for line in lines:
        values = {name: getattr(line, name) for name in FIELDS}
        if faults := faults_of_line(values, line.position.pond):
            raise ConfigurationRefused(f"{line.position}: {' '.join(faults.values())}")
        if line.position.system_id != system.pk:
            raise ConfigurationRefused(f"{line.position} belongs to another system.")
    if lines and lines[0].configuration_id is None and not any(line.in_use for line in lines):
        raise ConfigurationRefused(
            "No line is in use: air would have nowhere to go. Leave one in use, or record the "
            "state of the system instead."
        )


def _same(before, lines):
    rows = ConfigurationLine.objects.filter(configuration=before)
    old = {row.position_id: [getattr(row, name) for name in FIELDS] for row in rows}
    return old == {row.position_id: [getattr(row, name) for name in FIELDS] for row in lines}


def _take_over(system, before, made):
    """Readings of its days belong to it, also those that came in before the change was told."""
    zone = ZoneInfo(system.site.time_zone)
    sets = ReadingSet.objects.filter(
        system=system, taken_at__gte=datetime.combine(made.from_on, time(), zone)
    )
    later = Configuration.objects.filter(system=system, from_on__gt=made.from_on)
    if following := later.order_by("from_on").first():
        sets = sets.filter(taken_at__lt=datetime.combine(following.from_on, time(), zone))
    resting = Baseline.objects.filter(configuration=before, from_set__in=sets)
    if before is not None and resting.exists():
        raise ConfigurationRefused(
            f"The baseline of the configuration of {_day(before.from_on)} was taken after this "
            "day. One of the two days is wrong: check when the plates were moved."
        )
    sets.update(configuration=made)


def _day(day):
    return f"{day.day} {day:%B %Y}"
