"""What a field calculator asks and what it gives, in the reader's own units."""

from dataclasses import dataclass, field
from enum import StrEnum

from equipment.physics import units
from equipment.physics.units import Unit


@dataclass(frozen=True)
class Measure:
    """Units in which people give one kind of figure; the first of each pair is usual there."""

    us: str
    metric: str
    offered: dict[str, Unit]

    def usual(self, system: str) -> str:
        return self.us if system == "us" else self.metric

    def converted(self, value: float, unit: str, to_unit: str) -> float:
        one, other = self.offered[unit], self.offered[to_unit]
        return (value * one.factor + one.offset - other.offset) / other.factor


def _known(what, us, metric, **more):
    known = units.UNITS[units.Dimension(what)]
    return Measure(us, metric, known | {name: Unit(factor, 0) for name, factor in more.items()})


PSI_PA = units.UNITS[units.Dimension.PRESSURE]["psi"].factor
CFM_M3_H = units.UNITS[units.Dimension.FLOW]["cfm"].factor * 0.06

PRESSURE = _known("pressure", "psi", "kPa", Pa=1.0)
AIR_PRESSURE = Measure(  # absolute
    "inHg",
    "hPa",
    {
        "inHg": Unit(3386.389, 2),
        "hPa": Unit(100, 0),
        "mmHg": Unit(101_325 / 760, 0),
        "kPa": Unit(1000, 1),
        "psi": Unit(PSI_PA, 2),
        "Pa": Unit(1, 0),
    },
)
FLOW = _known("flow", "cfm", "L/min")
TEMPERATURE = _known("temperature", "F", "C")
LENGTH = _known("length", "ft", "m")
BORE = Measure("in", "mm", {"in": Unit(0.0254, 3), "mm": Unit(0.001, 1)})
DISTANCE = _known("distance", "mi", "km", m=1.0)
AREA = _known("area", "ac", "m2")
VOLUME = _known("volume", "acre-ft", "m3")
OXYGEN = Measure("mg/L", "mg/L", {"mg/L": Unit(1, 2)})
POWER = Measure("W", "W", {"W": Unit(1, 0), "kW": Unit(1000, 2), "hp": Unit(745.69987, 2)})
DENSITY = Measure("kg/m3", "kg/m3", {"kg/m3": Unit(1, 3), "lb/ft3": Unit(16.0184634, 3)})
SLOPE = Measure(
    "psi/cfm",
    "kPa/(m3/h)",
    {"psi/cfm": Unit(PSI_PA / 1000 / CFM_M3_H, 2), "kPa/(m3/h)": Unit(1, 2)},
)
PRINTED = {
    "kg/m3": "kg/m³",
    "lb/ft3": "lb/ft³",
    "kPa/(m3/h)": "kPa/(m³/h)",
    "inH2O": "inH₂O",
    "deg": "°",
}


def unit_name(unit: str) -> str:
    return PRINTED.get(unit) or units.unit_name(unit)


class Kind(StrEnum):
    NUMBER = "number"
    WHOLE = "whole"
    TEXT = "text"
    DAY = "day"
    CHOICE = "choice"
    NUMBERS = "numbers"


@dataclass(frozen=True)
class Ask:
    """One figure that a calculator takes, under the name that the calculation gives it."""

    name: str
    label: str
    example: str | tuple[str, str] = ""  # one for all, or in US and in metric units
    measure: Measure | None = None
    unit: str = ""  # in which the calculation takes it
    kind: Kind = Kind.NUMBER
    required: bool = True
    choices: tuple[tuple[str, str], ...] = ()
    help: str | None = None  # else what the calculation says of it


@dataclass(frozen=True)
class Column:
    """One figure of each line of a table."""

    name: str
    label: str
    measure: Measure | None = None
    unit: str = ""


class Shape(StrEnum):
    """How a table goes into the calculation."""

    LISTS = "lists"  # one list for each column
    PAIRS = "pairs"  # a list of lists
    RECORDS = "records"  # a list of things with names


@dataclass(frozen=True)
class Table:
    """Figures typed line by line, as one copies them from a sheet."""

    name: str
    label: str
    columns: tuple[Column, ...]
    example: tuple[str, str]  # in US and in metric units
    shape: Shape = Shape.LISTS

    @property
    def measured(self) -> bool:
        return any(column.measure for column in self.columns)


@dataclass(frozen=True)
class Give:
    """One figure of the result. `path` leads to it: keys and places, `*` for each one."""

    label: str
    measure: Measure | None = None
    unit: str = ""
    path: str = ""
    nothing: str = ""
    words: tuple[str, str] | None = None  # for yes and no


@dataclass(frozen=True)
class Calculator:
    """A calculation as a page offers it.

    `fixed` inputs are not asked for; `each` is the word for one row where the result has many.
    """

    key: str
    name: str
    title: str
    asks: tuple[Ask | Table, ...]
    gives: tuple[Give, ...]
    fixed: dict = field(default_factory=dict)
    caution: str = ""
    note: str = ""
    each: str = ""

    def example(self, system: str) -> dict[str, str]:
        """What fills the form with figures that give a result."""
        filled = {}
        for ask in self.asks:
            typed = ask.example
            if isinstance(typed, tuple):
                typed = typed[0 if system == "us" else 1]
            if typed:
                filled[ask.name] = typed
        return filled | self.usual_units(system)

    def usual_units(self, system: str) -> dict[str, str]:
        """The reader's own unit of each figure that has one."""
        tables = [ask for ask in self.asks if isinstance(ask, Table) and ask.measured]
        figures = [ask for ask in self.asks if not isinstance(ask, Table) and ask.measure]
        chosen = {f"{ask.name}_in": ask.measure.usual(system) for ask in figures}
        return chosen | {f"{table.name}_in": system for table in tables}


@dataclass(frozen=True)
class Group:
    title: str
    calculators: tuple[Calculator, ...]
