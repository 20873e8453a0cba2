"""The result of a calculator, as lines that a person reads."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from servicedesk.forms.calculators.asks import Give, unit_name
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


def lines_of(result: Any, gives: Sequence[Give], system: str) -> list[Line]:
    lines = []
    for give in gives:
        steps = give.path.split(".") if give.path else []
        for place, value in _reached(result, steps):
            label = f"{give.label} {place}" if place else str(give.label)
            lines.append(_line(label, give, value, system))
    return lines


def _reached(value, steps, place=""):
    """The values at the end of a path, with the number of each where there are several."""
    if not steps:
        yield place, value
    elif steps[0] == "*":
        for number, part in enumerate(value, 1):
            yield from _reached(part, steps[1:], str(number))
    elif value is None:
        yield place, None
    elif isinstance(value, str):  # a word where figures might have stood
        yield place, value
    else:
        key = int(steps[0]) if steps[0].isdigit() else steps[0]
        yield from _reached(value[key], steps[1:], place)


def _line(label, give, value, system):
    if value is None:
        return Line(label, str(give.nothing) or _("none"))
    if isinstance(value, bool):
        yes, no = give.words or (_("yes"), _("no"))
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
