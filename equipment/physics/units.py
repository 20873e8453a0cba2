"""One unit per quantity inside, whatever people type outside.

Stored: Pa, L/min, degC, m, m2, m3, A, V, h, mg/L. Factors are exact by definition: international
foot, inch, mile and pound, standard gravity, and the conventional inch of water.
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from equipment.kinds import Quantity


class Dimension(StrEnum):
    PRESSURE = "pressure"  # Pa, gauge
    FLOW = "flow"  # L/min
    TEMPERATURE = "temperature"  # degC
    TEMPERATURE_RISE = "temperature_rise"  # degC, a difference
    LENGTH = "length"  # m
    THICKNESS = "thickness"  # m, of ice
    DISTANCE = "distance"  # m, on the road
    AREA = "area"  # m2
    VOLUME = "volume"  # m3
    CURRENT = "current"  # A
    VOLTAGE = "voltage"  # V
    HOURS = "hours"  # h
    OXYGEN = "oxygen"  # mg/L
    SCORE = "score"  # 0 to 4


DIMENSION_OF = {
    Quantity.PRESSURE: Dimension.PRESSURE,
    Quantity.LINE_PRESSURE: Dimension.PRESSURE,
    Quantity.FLOW: Dimension.FLOW,
    Quantity.CURRENT: Dimension.CURRENT,
    Quantity.VOLTAGE: Dimension.VOLTAGE,
    Quantity.CABINET_AIR: Dimension.TEMPERATURE,
    Quantity.OUTSIDE_AIR: Dimension.TEMPERATURE,
    Quantity.HEAD_TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.RUN_HOURS: Dimension.HOURS,
    Quantity.BUBBLES: Dimension.SCORE,
    Quantity.WATER_TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.OXYGEN: Dimension.OXYGEN,
    Quantity.LEVEL: Dimension.LENGTH,
    Quantity.SECCHI: Dimension.LENGTH,
    Quantity.ICE: Dimension.THICKNESS,
    Quantity.OPEN_WATER: Dimension.LENGTH,
}


@dataclass(frozen=True)
class Unit:
    """A unit as typed: stored value = typed value times `factor` plus `offset`."""

    factor: float
    decimals: int
    offset: float = 0.0


_FOOT_M = 0.3048
_INCH_M = 0.0254
_PSI_PA = 0.45359237 * 9.80665 / _INCH_M**2
_CFM_L_MIN = _FOOT_M**3 * 1000
_FAHRENHEIT = Unit(1 / 1.8, 0, -32 / 1.8)
_LENGTHS = {
    "m": Unit(1, 2),
    "ft": Unit(_FOOT_M, 1),
    "in": Unit(_INCH_M, 1),
    "cm": Unit(0.01, 0),
}
UNITS = {
    Dimension.PRESSURE: {
        "psi": Unit(_PSI_PA, 1),
        "kPa": Unit(1000, 1),
        "mbar": Unit(100, 0),
        "bar": Unit(100_000, 3),
        "inH2O": Unit(249.08891, 0),
    },
    Dimension.FLOW: {
        "cfm": Unit(_CFM_L_MIN, 1),
        "L/min": Unit(1, 0),
        "m3/h": Unit(1000 / 60, 1),
    },
    Dimension.TEMPERATURE: {"F": _FAHRENHEIT, "C": Unit(1, 1)},
    Dimension.TEMPERATURE_RISE: {"F": Unit(1 / 1.8, 0), "C": Unit(1, 0)},
    Dimension.LENGTH: _LENGTHS,
    Dimension.THICKNESS: {"in": _LENGTHS["in"], "cm": _LENGTHS["cm"]},
    Dimension.DISTANCE: {"mi": Unit(1609.344, 1), "km": Unit(1000, 1)},
    Dimension.AREA: {
        "ac": Unit(43_560 * _FOOT_M**2, 2),
        "ha": Unit(10_000, 2),
        "m2": Unit(1, 0),
        "ft2": Unit(_FOOT_M**2, 0),
    },
    Dimension.VOLUME: {
        "acre-ft": Unit(43_560 * _FOOT_M**3, 2),
        "m3": Unit(1, 0),
        "US gal": Unit(231 * _INCH_M**3, 0),
    },
    Dimension.CURRENT: {"A": Unit(1, 1)},
    Dimension.VOLTAGE: {"V": Unit(1, 0)},
    Dimension.HOURS: {"h": Unit(1, 0)},
    # One milligram in a litre of fresh water is one part in a million: common practice.
    Dimension.OXYGEN: {"mg/L": Unit(1, 1), "ppm": Unit(1, 1)},
    Dimension.SCORE: {"": Unit(1, 0)},
}
SHOWN_IN = {
    "us": {
        Dimension.PRESSURE: "psi",
        Dimension.FLOW: "cfm",
        Dimension.TEMPERATURE: "F",
        Dimension.TEMPERATURE_RISE: "F",
        Dimension.LENGTH: "ft",
        Dimension.THICKNESS: "in",
        Dimension.DISTANCE: "mi",
        Dimension.AREA: "ac",
        Dimension.VOLUME: "acre-ft",
    },
    "metric": {
        Dimension.PRESSURE: "kPa",
        Dimension.FLOW: "L/min",
        Dimension.TEMPERATURE: "C",
        Dimension.TEMPERATURE_RISE: "C",
        Dimension.LENGTH: "m",
        Dimension.THICKNESS: "cm",
        Dimension.DISTANCE: "km",
        Dimension.AREA: "ha",
        Dimension.VOLUME: "m3",
    },
}
_PRINTED = {"F": "°F", "C": "°C", "m2": "m²", "m3": "m³", "ft2": "ft²", "m3/h": "m³/h"}


def dimension(what: str) -> Dimension:
    """The dimension of a reading's quantity, or the dimension itself.

    what: a word of `Quantity` or of `Dimension`.
    Returns the dimension.
    Raises ValueError when it is neither.
    Source: our own rule.
    """
    if what in list(Quantity):
        return DIMENSION_OF[Quantity(what)]
    return Dimension(what)


def offered(what: str) -> list[str]:
    """The units a person may choose for a quantity.

    what: a word of `Quantity` or of `Dimension`.
    Returns unit names, the most usual first.
    Source: our own rule.
    """
    return list(UNITS[dimension(what)])


def readers_unit(what: str, system: str) -> str:
    """The unit in which a reader sees a quantity.

    what: a word of `Quantity` or of `Dimension`.
    system: `us` or `metric`.
    Returns the unit's name.
    Source: our own rule.
    """
    kind = dimension(what)
    return SHOWN_IN[system].get(kind) or next(iter(UNITS[kind]))


def to_stored(what: str, value: float, unit: str) -> float:
    """A typed value in the one unit that is stored.

    what: a word of `Quantity` or of `Dimension`.
    value: the number as typed, in `unit`.
    unit: a name of `offered(what)`.
    Returns the value in Pa, L/min, degC, m, m2, m3, A, V, h, mg/L or a score.
    Raises ValueError when the unit does not measure this quantity.
    Source: NIST SP 811 (2008), appendix B.
    """
    known = _unit(what, unit)
    return value * known.factor + known.offset


def from_stored(what: str, value: float, unit: str) -> float:
    """A stored value in a unit that people read.

    what: a word of `Quantity` or of `Dimension`.
    value: in the stored unit of that quantity.
    unit: a name of `offered(what)`.
    Returns the value in `unit`.
    Raises ValueError when the unit does not measure this quantity.
    Source: NIST SP 811 (2008), appendix B.
    """
    known = _unit(what, unit)
    return (value - known.offset) / known.factor


def typed_number(text: str) -> float:
    """The number that a person wrote, with a point or a comma before the decimals.

    text: what was typed, such as `6.5`, `6,5`, `1 250`, `12,345.5` or `12.345,5`.
    Returns the number.
    Raises ValueError when it is no number, or could be read in two ways (`1,250`, `6 4`).
    Source: our own rule; groups of three figures as in NIST SP 811, section 10.5.3.
    """
    plain = " ".join(text.replace("\N{MINUS SIGN}", "-").split()).replace("'", " ")
    marks = [mark for mark in plain if mark in ".,"]
    if len(set(marks)) == 2:  # the last of the two stands before the decimals
        point = marks[-1]
        plain = plain.replace("," if point == "." else ".", " ").replace(point, ".")
    elif len(marks) > 1:  # 1,234,567
        plain = plain.replace(marks[0], " ")
    elif marks == [","]:
        if re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", plain):
            raise ValueError(f"{text!r} can be read in two ways. Write it without a comma.")
        plain = plain.replace(",", ".")
    if not re.fullmatch(r"[-+]? ?(?=\.?\d)(\d+|\d{1,3}( \d{3})+)?(\.\d*)?", plain, re.ASCII):
        raise ValueError(f"{text!r} is not a number. Write digits only, such as 6.5.")
    return float(plain.replace(" ", ""))


def printed(value: float, unit: str, what: str) -> str:
    """A value with its unit, as it stands on a page.

    value: in `unit`.
    unit: a name of `offered(what)`.
    what: a word of `Quantity` or of `Dimension`.
    Returns text such as `6.5 psi`; a no-break space stands before the unit.
    Raises ValueError when the unit does not measure this quantity.
    Source: our own rule; space before the unit as in NIST SP 811, section 7.2.
    """
    number = f"{value:.{_unit(what, unit).decimals}f}"
    if float(number) == 0:
        number = number.removeprefix("-")
    return f"{number}\u00a0{_PRINTED.get(unit, unit)}".rstrip("\u00a0")


def shown(what: str, value: float, system: str) -> str:
    """A stored value in the units of its reader.

    what: a word of `Quantity` or of `Dimension`.
    value: in the stored unit of that quantity.
    system: `us` or `metric`.
    Returns text such as `6.5 psi` or `44.8 kPa`.
    Source: our own rule.
    """
    unit = readers_unit(what, system)
    return printed(from_stored(what, value, unit), unit, what)


def unit_name(unit: str) -> str:
    """A unit as it is written on a page.

    unit: a name of `offered(...)`.
    Returns text such as `°F` or `m³/h`.
    Source: our own rule.
    """
    return _PRINTED.get(unit, unit)


def _unit(what: str, unit: str) -> Unit:
    known = UNITS[dimension(what)]
    if unit not in known:
        names = ", ".join(name for name in known if name) or "no unit"
        raise ValueError(f"{unit or 'no unit'} does not measure {what}. Choose one of: {names}.")
    return known[unit]
