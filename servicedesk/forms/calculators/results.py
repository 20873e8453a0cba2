"""The result of a calculator, as lines that a person reads."""

import math
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext

from servicedesk.forms.calculators.asks import Calculator, unit_name
from servicedesk.templatetags.house import day

FIGURES = 4


@dataclass(frozen=True)
class Line:
    """A figure with its unit; the same in other units beside it."""

    label: str
    text: str
    others: tuple[str, ...] = ()


def figure(value: float) -> str:
    """A number to four figures, without an exponent; thousands stand apart."""
    size = abs(value)
    if size < 1e-9:
        return "0"
    digits = 0 if isinstance(value, int) else max(0, FIGURES - 1 - math.floor(math.log10(size)))
    shown = f"{value:,.{digits}f}"
    if "." in shown:
        shown = shown.rstrip("0").rstrip(".")
    return shown.replace(",", "\N{NO-BREAK SPACE}").replace("-", "\N{MINUS SIGN}")


@dataclass(frozen=True)
class Rows:
    """Figures of which a result has one for each line, point, day or window."""

    each: str
    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Line, ...]], ...]


def lines_of(result: Any, calculator: Calculator, system: str) -> list[Line]:
    """The single figures of a result, in the reader's units."""
    return [
        _line(give, _reached(result, give.path), system)
        for give in calculator.gives
        if "*" not in give.path
    ]


def rows_of(result: Any, calculator: Calculator, system: str) -> Rows | None:
    """The figures of which there are several, as the rows of a table; None for none."""
    gives = [give for give in calculator.gives if "*" in give.path]
    if not gives:
        return None
    columns = []
    for give in gives:
        whole, _star, rest = give.path.partition("*")
        parts = _reached(result, whole.rstrip("."))
        columns.append([_line(give, _reached(p, rest.lstrip(".")), system) for p in parts])
    rows = enumerate(zip(*columns, strict=True), 1)
    return Rows(str(calculator.each), tuple(str(give.label) for give in gives), tuple(rows))


def _reached(value, path):
    """The value at the end of a path of keys and places; None and plain words lead no further."""
    for step in path.split(".") if path else []:
        if value is None or isinstance(value, str):
            return value
        value = value[int(step) if step.isdigit() else step]
    return value


def _line(give, value, system):
    label = str(give.label)
    if value is None:
        return Line(label, str(give.nothing) or gettext("none"))
    if isinstance(value, bool):
        yes, no = give.words or (gettext("yes"), gettext("no"))
        return Line(label, str(yes if value else no))
    if isinstance(value, str):
        return Line(label, _day(value))
    if not give.measure:
        unit = f"\N{NO-BREAK SPACE}{give.unit}" if give.unit else ""
        return Line(label, f"{figure(value)}{unit}")
    usual = give.measure.usual(system)
    shown = {
        unit: f"{figure(give.measure.converted(value, give.unit, unit))}"
        f"\N{NO-BREAK SPACE}{unit_name(unit)}"
        for unit in give.measure.offered
        if unit != "Pa"
    }
    return Line(label, shown.pop(usual), tuple(shown.values()))


def _day(text):
    try:
        return day(date.fromisoformat(text))
    except ValueError:
        return text
