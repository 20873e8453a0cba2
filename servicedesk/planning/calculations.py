"""Every calculation that can be asked for by name, with what it takes, gives and rests on."""

import inspect
import re
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, is_dataclass
from datetime import date, datetime
from types import NoneType
from typing import Any, get_args, get_type_hints

from equipment.physics import units
from servicedesk.planning import calendar, instants, invitations, recurrence, travel
from servicedesk.planning.due import counting
from servicedesk.planning.seasons import Climate, Window, season_windows

INPUT = re.compile(r"(\w+(?:, \w+)*): (.+)")
READ = {
    date: ("a day such as 2026-11-25", date.fromisoformat),
    datetime: ("an instant such as 2026-11-25T15:00:00Z", instants.instant),
}

# what the libraries below raise for figures, rules and zones that make no sense
FAULTS = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, OSError)


class CalculationRefused(Exception):
    """The calculation cannot be made; the text says why and what to do."""


@dataclass(frozen=True)
class Calculation:
    """A calculation under its name.

    `asked_as` are ways in which a list of check values may name it; what they capture is an
    input. `inputs` gives inputs other names than the function's own.
    """

    name: str
    function: Callable
    asked_as: tuple[str, ...] = ()
    inputs: dict[str, str] = field(default_factory=dict)

    def described(self) -> dict:
        """Name, purpose, inputs with unit and range, result, refusals and source."""
        paragraphs = _paragraphs(self.function)
        rest = {key: text for key, text in paragraphs if key in {"Returns", "Raises", "Source"}}
        outer = {own: name for name, own in self.inputs.items()}
        taken = inspect.signature(self.function).parameters
        return {
            "name": self.name,
            "does": inspect.getdoc(self.function).splitlines()[0],
            "inputs": {
                outer.get(name, name): text
                for names, text in paragraphs
                for name in names.split(", ")
                if name in taken
            },
            "result": rest.get("Returns", ""),
            "refuses": rest.get("Raises", ""),
            "source": rest.get("Source", ""),
        }


def found(name: str) -> tuple[Calculation, dict]:
    """The calculation of a name, and the inputs that the name itself holds.

    name: its own name, or the quantity of a check value.
    Returns the calculation and those inputs.
    Raises CalculationRefused when there is none.
    Source: our own rule.
    """
    wanted = name.strip()
    for calculation in CALCULATIONS:
        if slug(wanted) == calculation.name:
            return calculation, {}
    for calculation in CALCULATIONS:
        for pattern in calculation.asked_as:
            for text in (wanted, wanted.replace("_", " ").replace("-", " ")):
                if match := re.fullmatch(pattern, text, re.IGNORECASE):
                    return calculation, match.groupdict()
    raise CalculationRefused(
        f"There is no calculation {name!r}. Ask for the list by giving no name."
    )


def calculated(name: str, inputs: dict) -> Any:
    """The result of a calculation, as plain lists, numbers and text.

    name: its own name, or the quantity of a check value.
    inputs: by their names; text is read as the number, day or instant that is meant.
    Returns the result, ready for JSON.
    Raises CalculationRefused, with a sentence, for a name, an input or a value that is not known.
    Source: our own rule.
    """
    calculation, held = found(name)
    given = {calculation.inputs.get(key, key): value for key, value in {**held, **inputs}.items()}
    hints = get_type_hints(calculation.function)
    taken = inspect.signature(calculation.function).parameters
    if unknown := [key for key in given if key not in taken]:
        raise CalculationRefused(
            f"{calculation.name} takes no {unknown[0]!r}. {_takes(calculation)}"
        )
    missing = [k for k, p in taken.items() if p.default is p.empty and k not in given]
    if missing:
        raise CalculationRefused(f"{calculation.name} needs {missing[0]!r}. {_takes(calculation)}")
    values = {key: _value(key, value, hints[key]) for key, value in given.items()}
    try:
        return _plain(calculation.function(**values))
    except FAULTS as error:
        first = error.args[0] if error.args else None
        said = first if isinstance(first, str) else str(error) or "this cannot be read"
        raise CalculationRefused(f"{calculation.name}: {said}") from error


def slug(text: str) -> str:
    """A name in small letters and digits, joined by underscores.

    text: any words.
    Returns the name.
    Source: our own rule.
    """
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


def windows_of_season(
    season: str,
    latitude: float,
    first_year: int,
    last_year: int,
    ice_on: str = "",
    ice_on_earliest: str = "",
    ice_out: str = "",
    layering: str = "",
    mixing: str = "",
    has_winter: bool = True,
) -> tuple[Window, ...]:
    """The season windows of a site.

    season: winter, spring or summer.
    latitude: degrees, -90 to 90, negative in the south.
    first_year, last_year: calendar years in which a window may open.
    ice_on, ice_on_earliest, ice_out, layering, mixing: the region's usual days as month-day
        text such as 12-05; empty where nobody knows.
    has_winter: whether ponds freeze over there.
    Returns each window with its first day, its last day and the reason.
    Raises ValueError for an unknown season, or text that is no month and day.
    Source: common practice, no source; the windows before ice are a judgement.
    """
    if not -90 <= latitude <= 90:
        raise ValueError("latitude must lie between -90 and 90 degrees")
    if not first_year <= last_year <= first_year + 100:
        raise ValueError("last_year must lie within a hundred years after first_year")
    days = (ice_on, ice_on_earliest, ice_out, layering, mixing)
    climate = Climate(latitude, has_winter, *days)
    return season_windows(season, climate, range(first_year, last_year + 1))


def distance_km(
    latitude: float, longitude: float, to_latitude: float, to_longitude: float
) -> float:
    """The straight distance between two places.

    latitude, longitude: degrees, -90 to 90 and -180 to 180.
    to_latitude, to_longitude: the other end, the same.
    Returns kilometres.
    Raises ValueError outside those ranges.
    Source: haversine formula; radius 6371.0088 km, mean radius of the IUGG (1980 values).
    """
    return float(travel.great_circle_km(latitude, longitude, to_latitude, to_longitude))


def converted(value: float, unit: str, to_unit: str, quantity: str) -> float:
    """A reading in another unit.

    value: the number, in `unit`.
    unit, to_unit: such as psi and kPa.
    quantity: what it measures, such as pressure, flow or water_temperature.
    Returns the number in `to_unit`.
    Raises ValueError when a unit does not measure the quantity.
    Source: NIST SP 811 (2008), appendix B.
    """
    return units.from_stored(quantity, units.to_stored(quantity, value, unit), to_unit)


CALCULATIONS = (
    Calculation(
        "add_months", calendar.add_months, (r"adding calendar months.*",), {"date": "anchor"}
    ),
    Calculation("series_day", counting.series_day),
    Calculation("week_date", calendar.week_date, (r"iso 8601 week date",), {"date": "day"}),
    Calculation("week_name", calendar.week_name, (), {"date": "day"}),
    Calculation("week_monday", calendar.week_monday, (), {"week": "name"}),
    Calculation(
        "long_years",
        calendar.long_years,
        (r"iso 8601 years with week 53,? (?P<first_year>\d{4})\W(?P<last_year>\d{4})",),
    ),
    Calculation("occurrences", recurrence.occurrences, (r"recurrence:? number of occurrences.*",)),
    Calculation("recurrence", recurrence.recurrence, (r"recurrence\b.*",)),
    Calculation("alarm_trigger", recurrence.alarm_trigger, (r"alarm trigger text:? (?P<when>.*)",)),
    Calculation(
        "alarm_repeat",
        recurrence.alarm_repeat,
        (r"repeat of an alarm:? (?P<times>\d+) more times (?P<minutes>\d+) minutes apart",),
    ),
    Calculation("folded_octets", invitations.folded_octets, (r"content line fold",)),
    Calculation("escaped_text", invitations.escaped_text, (r"text escaping",)),
    Calculation(
        "sequence_after",
        invitations.sequence_after,
        (
            r"rescheduled visit:? (?P<changed>[a-z]+) changes.*",
            r"cancelled visit:? sequence after method (?P<method>\w+)",
        ),
    ),
    Calculation(
        "properties_of_new_sequence",
        invitations.properties_of_new_sequence,
        (r"properties whose change by the organizer must raise sequence",),
    ),
    Calculation(
        "calendar_part_type",
        invitations.calendar_part_type,
        (r"mail part of an invitation:? content.type",),
    ),
    Calculation("method_agrees", invitations.method_agrees, (r"method parameter must equal.*",)),
    Calculation(
        "encodings_beyond_ascii",
        invitations.encodings_beyond_ascii,
        (r"transfer encoding when text is not ascii",),
    ),
    Calculation(
        "alternative_type",
        invitations.alternative_type,
        (r"a plain.text alternative goes with the calendar part",),
    ),
    Calculation("minimal_invitation", invitations.minimal_invitation, (r"minimal invitation.*",)),
    Calculation(
        "unsubscribe_headers", invitations.unsubscribe_headers, (r"one.click unsubscribe headers",)
    ),
    Calculation(
        "unsubscribe_body", invitations.unsubscribe_body, (r"one.click unsubscribe request body",)
    ),
    Calculation(
        "unsubscribe_addresses",
        invitations.unsubscribe_addresses,
        (r"addresses in a list.unsubscribe header",),
    ),
    Calculation("is_one_click", invitations.is_one_click, (r"one.click needs an https address",)),
    Calculation(
        "instant",
        instants.instant,
        (r"rfc 3339 timestamp to utc", r"rfc 3339 leap second text"),
    ),
    Calculation("local_time", instants.local_time, (r"utc instant in local time.*",)),
    Calculation("utc_of_local", instants.utc_of_local, (r"ambiguous local time.*",)),
    Calculation(
        "offset_h",
        instants.offset_h,
        (r"utc offset of a local time", r"zone whose .* clock change ended.*"),
    ),
    Calculation("local_time_exists", instants.local_time_exists, (r"does this local time exist",)),
    Calculation("hours_between", instants.hours_between, (r"local .* reminder on .*gap in hours",)),
    Calculation("due_by_running_days", counting.due_by_running_days),
    Calculation("due_by_run_hours", counting.due_by_run_hours),
    Calculation("meter_hours", counting.meter_hours),
    Calculation("pull_forward_days", counting.pull_forward_days),
    Calculation("season_windows", windows_of_season),
    Calculation("distance_km", distance_km),
    Calculation("converted", converted),
)


def _paragraphs(function):
    """The entries of a docstring, as (names, text); a longer line goes on indented."""
    entries: list[list[str]] = []
    for line in inspect.getdoc(function).splitlines()[1:]:
        head = INPUT.fullmatch(line)
        words = line.split(" ", 1)
        if head:
            entries.append([head[1], head[2]])
        elif words[0] in {"Returns", "Raises"}:
            entries.append([words[0], words[-1]])
        elif entries and line.strip():
            entries[-1][1] += f" {line.strip()}"
    return [(names, text) for names, text in entries]


def _takes(calculation):
    names = list(calculation.described()["inputs"])
    return f"It takes {', '.join(names)}." if names else "It takes nothing."


def _value(name, value, kind):
    """What was given, as the type that the calculation takes."""
    kinds = [part for part in get_args(kind) or (kind,) if part is not NoneType]
    if value is None and len(kinds) < len(get_args(kind)):
        return None
    wanted = kinds[0] if not hasattr(kind, "__origin__") else kind
    try:
        return _read(value, wanted)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        words = READ.get(wanted, (getattr(wanted, "__name__", str(wanted)), None))[0]
        raise CalculationRefused(f"{name}: {value!r} cannot be read; write {words}.") from error


def _read(value, kind):
    if kind in READ:
        return READ[kind][1](value)
    if kind is bool:
        return {"true": True, "yes": True, "false": False, "no": False}[str(value).lower()]
    if kind is int and float(value) != int(float(value)):
        raise ValueError("not a whole number")
    if kind in (int, float) and isinstance(value, bool):
        raise TypeError("true or false is no number")
    if kind is float and not abs(float(value)) < float("inf"):
        raise ValueError("not a finite number")
    if kind is str and not isinstance(value, str):
        raise TypeError("not text")
    return kind(value) if kind in (int, float, str) else value


def _plain(value):
    if is_dataclass(value):
        return _plain(asdict(value))
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return value.isoformat() if isinstance(value, date) else value
