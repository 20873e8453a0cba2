"""Every calculation that can be asked for by name, with what it takes, gives and rests on."""

import re
from difflib import get_close_matches
from typing import Any

from servicedesk.planning.calculations import (
    air_rows,
    airline_rows,
    calendar_rows,
    diffuser_rows,
    geodesy_rows,
    ice_rows,
    lake_rows,
    network_rows,
    restart_rows,
    statistics_rows,
    unit_rows,
    water_rows,
    weather_rows,
    winter_rows,
)
from servicedesk.planning.calculations.engine import Calculation, CalculationRefused, slug

__all__ = ["CALCULATIONS", "Calculation", "CalculationRefused", "calculated", "found", "slug"]

CALCULATIONS = (
    *calendar_rows.CALCULATIONS,
    *geodesy_rows.CALCULATIONS,
    *unit_rows.CALCULATIONS,
    *water_rows.CALCULATIONS,
    *lake_rows.CALCULATIONS,
    *ice_rows.CALCULATIONS,
    *weather_rows.CALCULATIONS,
    *air_rows.CALCULATIONS,
    *airline_rows.CALCULATIONS,
    *diffuser_rows.CALCULATIONS,
    *network_rows.CALCULATIONS,
    *restart_rows.CALCULATIONS,
    *statistics_rows.CALCULATIONS,
    *winter_rows.CALCULATIONS,
)


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
                    return calculation, _held(match)
    near = _near(slug(wanted))
    meant = f"Did you mean {' or '.join(near)}? " if near else ""
    raise CalculationRefused(
        f"There is no calculation {name!r}. {meant}Ask for the list by giving no name."
    )


def _near(word):
    """At most three names that hold the word, or that are spelled much like it."""
    names = [calculation.name for calculation in CALCULATIONS]
    held = [name for name in names if len(word) > 2 and word in name]
    return (held or get_close_matches(word, names))[:3]


def calculated(name: str, inputs: dict) -> Any:
    """The result of a calculation, as plain lists, numbers and text.

    name: its own name, or the quantity of a check value.
    inputs: by their names; text is read as the number, day or instant that is meant.
    Returns the result, ready for JSON.
    Raises CalculationRefused, with a sentence, for a name, an input or a value that is not known.
    Source: our own rule.
    """
    calculation, held = found(name)
    return calculation.result({**held, **inputs})


def _held(match):
    """The inputs that a name holds; a name in small letters has lost its points: 0_1 is 0.1."""
    return {
        key: re.sub(r"^(\d+) (\d+)$", r"\1.\2", text)
        for key, text in match.groupdict().items()
        if text is not None
    }
