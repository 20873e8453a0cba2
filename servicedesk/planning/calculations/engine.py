"""What a calculation is that can be asked for by name, and how what is given reaches it."""

import inspect
import json
import re
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, is_dataclass
from datetime import date, datetime
from types import NoneType
from typing import Any, get_args, get_origin, get_type_hints

from equipment.physics import units
from servicedesk.planning import instants

_DIGITS = r"(-?\d[\d ]*(?:\.\d+)?(?:e\d+)?)"
SPAN = re.compile(rf"(?<![\w.])(?<!list of ){_DIGITS} to {_DIGITS}(?![\w.]*-)")
UNIT = re.compile(r"\[([^\]]+)\]")
ENDINGS = {  # of a name whose description leaves its unit out
    "_m": "m",
    "_ft": "ft",
    "_in": "in",
    "_m2": "m2",
    "_m3": "m3",
    "_c": "degC",
    "_pa": "Pa",
    "_kpa": "kPa",
    "_psi": "psi",
    "_mbar": "mbar",
    "_min": "min",
    "_h": "h",
}
MARKS = (  # what the words of a source say that a figure rests on; else it is from a source
    ("common practice, no source", "common_practice"),
    ("judgement", "judgement"),
    ("our own rule", "judgement"),
)
INPUT = re.compile(r"(\w+(?:, \w+)*): (.+)")
READ = {
    date: ("a day such as 2026-11-25", date.fromisoformat),
    datetime: ("an instant such as 2026-11-25T15:00:00Z", instants.instant),
}
FIGURES = 9  # of a result; no input here is known better
WORDS = {int: "a whole number such as 3", float: "a number such as 6.5", bool: "yes or no"}

# what the libraries below raise for figures, rules and zones that make no sense
FAULTS = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, OSError)


class CalculationRefused(Exception):
    """The calculation cannot be made; the text says why and what to do.

    `said` is the same without the calculation's own name, for whoever sees its title; `about` is
    the input that it is about, as the function calls it, where it is about one.
    """

    def __init__(self, text: str, said: str = "", about: str = ""):
        super().__init__(text)
        self.said, self.about = said or text, about


@dataclass(frozen=True)
class Calculation:
    """A calculation under its name.

    `asked_as` are ways in which a list of check values may name it; what they capture is an
    input. `inputs` gives inputs other names than the function's own. `says` goes with every
    result: what nobody may read into it.
    """

    name: str
    function: Callable
    asked_as: tuple[str, ...] = ()
    inputs: dict[str, str] = field(default_factory=dict)
    says: str = ""

    def described(self) -> dict:
        """Name, purpose, inputs with unit and range, result, refusals and source."""
        paragraphs = _paragraphs(self.function)
        rest = {key: text for key, text in paragraphs if key in {"Returns", "Raises", "Source"}}
        outer = {own: name for name, own in self.inputs.items()}
        taken = inspect.signature(self.function).parameters
        inputs = {
            outer.get(name, name): text
            for names, text in paragraphs
            for name in names.split(", ")
            if name in taken
        }
        return {
            "name": self.name,
            "asked_as": list(self.asked_as),
            "does": inspect.getdoc(self.function).splitlines()[0],
            "inputs": inputs,
            "needs": [outer.get(k, k) for k, p in taken.items() if p.default is p.empty],
            "units": {name: unit for name in inputs if (unit := _unit(name, inputs[name]))},
            "ranges": {name: span for name in inputs if (span := _span(inputs[name]))},
            "result": rest.get("Returns", ""),
            "refuses": rest.get("Raises", ""),
            "source": rest.get("Source", ""),
            "mark": _mark(rest.get("Source", "")),
            "says": self.says,
        }

    def result(self, given: dict) -> Any:
        """The result for inputs by their outer names; text is read as the thing that is meant."""
        called = {self.inputs.get(key, key): key for key in given}
        given = {self.inputs.get(key, key): value for key, value in given.items()}
        hints = get_type_hints(self.function)
        taken = inspect.signature(self.function).parameters
        if unknown := [key for key in given if key not in taken]:
            raise CalculationRefused(f"{self.name} takes no {unknown[0]!r}. {_takes(self)}")
        missing = [k for k, p in taken.items() if p.default is p.empty and k not in given]
        if missing:
            outer = {own: name for name, own in self.inputs.items()}
            wants = outer.get(missing[0], missing[0])
            raise CalculationRefused(f"{self.name} needs {wants!r}. {_takes(self)}")
        values = {key: _value(called[key], key, value, hints[key]) for key, value in given.items()}
        try:
            return _plain(self.function(**values))
        except FAULTS as error:
            first = error.args[0] if error.args else None
            said = first if isinstance(first, str) else str(error) or "this cannot be read"
            raise CalculationRefused(f"{self.name}: {said}", said) from error


def slug(text: str) -> str:
    """A name in small letters and digits, joined by underscores.

    text: any words.
    Returns the name.
    Source: our own rule.
    """
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


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


def _span(text):
    """The lowest and highest value that a description names first, if it names any."""
    found = SPAN.search(text)
    return [float(edge.replace(" ", "")) for edge in found.groups()] if found else None


def _unit(name, text):
    said = UNIT.search(text)
    return said[1] if said else ENDINGS.get(f"_{name.lower().rpartition('_')[2]}")


def _mark(source):
    said = source.lower()
    return next((mark for words, mark in MARKS if words in said), "sourced")


def _takes(calculation):
    names = list(calculation.described()["inputs"])
    return f"It takes {', '.join(names)}." if names else "It takes nothing."


def _value(called, name, value, kind):
    """What was given, as the type that the calculation takes; `called` is how it was asked."""
    kinds = [part for part in get_args(kind) or (kind,) if part is not NoneType]
    unknown = value is None or (value == "unknown" and str not in kinds)
    if unknown and len(kinds) < len(get_args(kind)):
        return None
    wanted = kind if get_origin(kind) in (list, dict, tuple) else kinds[0]
    try:
        return _read(value, wanted)
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError) as error:
        said = f"{value!r} cannot be read; write {_words(wanted)}."
        raise CalculationRefused(f"{called}: {said}", said, name) from error


def _words(kind):
    if kind in READ:
        return READ[kind][0]
    if get_origin(kind) is list and get_args(kind)[0] in (int, float):
        return "numbers such as 0, 0.5, 1"
    return WORDS.get(kind, "text" if kind is str else "JSON")


def _read(value, kind):
    if kind in READ:
        return READ[kind][1](value)
    if kind is bool:
        return {"true": True, "yes": True, "false": False, "no": False}[str(value).lower()]
    if kind is str and not isinstance(value, str):
        raise TypeError("not text")
    if kind in (int, float):
        return kind(_number(value, whole=kind is int))
    return value if kind is str else _many(value, kind)


def _number(value, *, whole=False):
    if isinstance(value, bool):
        raise TypeError("true or false is no number")
    try:
        number = float(value)
    except ValueError:
        number = units.typed_number(value)  # 6,5 is six and a half
    if not abs(number) < float("inf"):
        raise ValueError("not a finite number")
    if whole and number != int(number):
        raise ValueError("not a whole number")
    return value if whole and isinstance(value, int) else number


def _many(value, kind):
    """A list or an object; typed text is read as JSON, or as parts between spaces or commas."""
    numbers = get_origin(kind) is list and get_args(kind)[0] in (int, float)
    if isinstance(value, str):
        if kind == list[str] and not value.strip().startswith("["):
            value = [part for part in re.split(r"[,;\s]+", value) if part]
        elif not numbers or value.strip().startswith("["):
            value = json.loads(value)
        else:
            parted = re.split(r"[;\s]+", value.strip())
            value = value.split(",") if len(parted) == 1 else [p.rstrip(",") for p in parted if p]
    if numbers:
        return [part if isinstance(part, bool) else _number(part) for part in value]
    return value


def _plain(value):
    if is_dataclass(value):
        return _plain(asdict(value))
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, float):
        return float(f"{value:.{FIGURES}g}")
    return value.isoformat() if isinstance(value, date) else value
