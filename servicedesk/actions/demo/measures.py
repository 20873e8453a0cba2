"""Believable readings: what a gauge would show in the water of that day, with its own error."""

import math
from dataclasses import dataclass
from datetime import date
from random import Random

from equipment.kinds import Moment, Quantity
from equipment.models import Position
from equipment.physics import units
from servicedesk.actions.demo.systems import Built

WATER_PA_PER_M = 9790  # hydrostatic, fresh water
MEMBRANE_PA = (2500, 6000)  # a new membrane and check valve, common practice, no source
FOULING_PA_PER_YEAR = 900
LINE_PA = (700, 4200)
GAUGE_ERROR_PA = 450
METER_SHARE = 0.985  # power cuts and tests stop a compressor now and then
DRIFTING, LEAKING = 0.08, 0.04  # shares of systems with a lasting departure
DRIFT_DAYS = 200
DRIFT_PA = 7600
LEAK_PA = -4300
LEFT_AGAIN_PA = 260  # a new filter gives a little more air, and so a little more pressure


@dataclass(frozen=True)
class Value:
    """One reading as typed, and as stored."""

    quantity: Quantity
    typed: str
    unit: str
    position: Position | None = None

    @property
    def stored(self) -> float:
        return units.to_stored(self.quantity, float(self.typed), self.unit)


@dataclass(frozen=True)
class Measured:
    """What was read before anything was touched, and before leaving."""

    found: list[Value]
    left: list[Value]

    def of(self, moment) -> list[Value]:
        return self.found if moment == Moment.AS_FOUND else self.left


def measure(draw: Random, built: Built, day: date) -> Measured:
    """Readings of a running system on a day."""
    pressure = pressure_pa(built, day)
    outside = outside_c(day) + draw.gauss(0, 4)
    rise = draw.uniform(6, 12)
    current = _current(built, pressure)
    found = [
        _value(Quantity.PRESSURE, pressure + draw.gauss(0, GAUGE_ERROR_PA), "psi", 1),
        Value(Quantity.CURRENT, f"{current + draw.gauss(0, 0.06):.1f}", "A"),
        Value(Quantity.VOLTAGE, f"{draw.gauss(117, 1.6):.0f}", "V"),
        _value(Quantity.CABINET_AIR, outside + rise + 2.5, "F", 0),
        _value(Quantity.OUTSIDE_AIR, outside, "F", 0),
        *_bubbles(draw, built, day),
    ]
    if "meter" in built.positions:
        hours = built.running_days(day) * built.hours_per_day * METER_SHARE
        found.append(Value(Quantity.RUN_HOURS, f"{hours:.0f}", "h", built.positions["meter"]))
    after = pressure + LEFT_AGAIN_PA + draw.gauss(0, GAUGE_ERROR_PA)
    left = [
        _value(Quantity.PRESSURE, after, "psi", 1),
        Value(Quantity.CURRENT, f"{current + draw.gauss(0, 0.05):.1f}", "A"),
    ]
    return Measured(found, left)


def pressure_pa(built: Built, day: date) -> float:
    """Gauge pressure at the manifold: water over the deepest plate, line, membrane, and drift."""
    own = Random(built.system.key)  # what is particular to this system stays so
    age = (day - built.system.installed_on).days / 365
    line, membrane = own.uniform(*LINE_PA), own.uniform(*MEMBRANE_PA)
    expected = WATER_PA_PER_M * built.depth_on(day) + line + membrane
    return expected + FOULING_PA_PER_YEAR * (age % 3) + departure_pa(built, day)


def departure_pa(built: Built, day: date) -> float:
    """What a few systems have drifted: plates that foul, and lines that leak."""
    if built.cabinet.story:
        return 0
    kind = Random(f"departure {built.system.key}").random()
    grown = max(0, DRIFT_DAYS - (built.told_until - day).days) / DRIFT_DAYS
    if kind < DRIFTING:
        return DRIFT_PA * grown
    return LEAK_PA * grown if kind < DRIFTING + LEAKING else 0


def outside_c(day: date) -> float:
    """Mean air temperature of a day in a continental climate; invented, as the region is."""
    return 7.5 - 17 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 20) / 365)


def _current(built, pressure):
    most = units.to_stored("pressure", built.model.pressure_max_psi, "psi")
    return built.model.current_a * (0.62 + 0.33 * min(1, pressure / most))


def _bubbles(draw, built, day):
    weak = departure_pa(built, day) < 0
    return [
        Value(
            Quantity.BUBBLES,
            "2" if weak and draw.random() < 0.5 else draw.choice("3333334"),
            "",
            plate,
        )
        for plate in built.plates
    ]


def _value(quantity, stored, unit, decimals):
    return Value(quantity, f"{units.from_stored(quantity, stored, unit):.{decimals}f}", unit)
