"""Believable readings: what gauges would show by physics, each with its own error."""

import math
from dataclasses import dataclass, field
from datetime import date
from random import Random

from equipment.kinds import Moment, Quantity, Sign
from equipment.models import Position
from equipment.physics import units
from equipment.physics.network import OperatingPoint
from servicedesk.actions.demo import plumbing
from servicedesk.actions.demo.systems import Built

GAUGE_ERROR_PA = 350
FLOW_ERROR = 0.02
METER_SHARE = 0.985  # power cuts and tests stop a compressor now and then
LEFT_AGAIN_PA = 260  # a new filter gives a little more air, and so a little more pressure
HAS_FLOW_METER = 0.3
LINE_BY_LINE = 0.2  # share of the visits on which each line is read by itself
BOILS = ((0.9, "3"), (0.6, "2"), (0.08, "1"), (-1.0, "0"))  # score by a boil's share of the air


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
    seen: dict[Sign, bool] = field(default_factory=dict)
    level_m: float | None = None

    def of(self, moment) -> list[Value]:
        return self.found if moment == Moment.AS_FOUND else self.left


def measure(draw: Random, built: Built, day: date) -> Measured:
    """Readings of a running system on a day."""
    own = Random(f"{built.system.key} {day}")  # beside `draw`, on which the rest of the firm hangs
    runs = runs_on(built, day)
    outside = outside_c(day) + draw.gauss(0, 4)
    rise = draw.uniform(6, 12)
    current = _current(built, day, runs.manifold_pa)
    pressure = runs.manifold_pa + draw.gauss(0, GAUGE_ERROR_PA)
    found = [
        _value(Quantity.PRESSURE, pressure, "psi", 1),
        Value(Quantity.CURRENT, f"{current + draw.gauss(0, 0.06):.1f}", "A"),
        Value(Quantity.VOLTAGE, f"{draw.gauss(117, 1.6):.0f}", "V"),
        _value(Quantity.CABINET_AIR, outside + rise + 2.5, "F", 0),
        _value(Quantity.OUTSIDE_AIR, outside, "F", 0),
        *_bubbles(built, runs, day),
        *_flow(own, built, runs),
        *_line_by_line(own, built, runs),
    ]
    if "meter" in built.positions:
        hours = built.running_days(day) * built.hours_per_day * METER_SHARE
        found.append(Value(Quantity.RUN_HOURS, f"{hours:.0f}", "h", built.positions["meter"]))
    after = runs.manifold_pa + LEFT_AGAIN_PA + draw.gauss(0, GAUGE_ERROR_PA)
    left = [
        _value(Quantity.PRESSURE, after, "psi", 1),
        Value(Quantity.CURRENT, f"{current + draw.gauss(0, 0.05):.1f}", "A"),
    ]
    level = plumbing.level_m(built.place.town.region, day, built.told_until)
    return Measured(found, left, _seen(built, day), level)


def runs_on(built: Built, day: date) -> OperatingPoint:
    """Where compressor and lines meet on a day, with whatever ails this system."""
    own = Random(built.system.key)  # what is particular to this system stays so
    years = (day - built.system.installed_on).days / 365
    ails = built.ailment
    grown = ails.grown(day, built.told_until)
    flood = plumbing.flooded(built.place.town.region, day, built.told_until)
    return plumbing.runs_at(
        built.plumbing,
        plumbing.curve_of(built.model),
        built.depths_on(day),
        own=own.uniform(0.9, 1.15),
        fouled_pa=round(plumbing.FOULING_PA_A_YEAR * years, -2)
        + (plumbing.FOULED_PA * grown if ails.kind == "fouled" else 0),
        leak_share=plumbing.LEAK_SHARE * grown if ails.kind == "leaking" else 0,
        worn=plumbing.WORN * grown if ails.kind == "worn" else 0,
        rise_m=plumbing.FLOOD_M if flood else 0,
    )


def _seen(built, day):
    """What a technician notes beside his readings where something is wrong."""
    grown = built.ailment.grown(day, built.told_until)
    if built.ailment.kind == "leaking" and grown:
        return {Sign.N_HISS: True, Sign.RELIEF_OPEN: False, Sign.FILTER_LOADED: False}
    if built.ailment.kind == "worn" and grown > 0.7:
        return {Sign.DUST_BLACK: True, Sign.N_KNOCK: False}
    return {}


def outside_c(day: date) -> float:
    """Mean air temperature of a day in a continental climate; invented, as the region is."""
    return 7.5 - 17 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 20) / 365)


def _current(built, day, pressure):
    most = units.to_stored("pressure", built.model.pressure_max_psi, "psi")
    full = built.model.current_a * (0.62 + 0.33 * min(1, pressure / most))
    worn = built.ailment.kind == "worn"  # a worn machine moves less air and draws less
    return full * (1 - 0.35 * built.ailment.grown(day, built.told_until)) if worn else full


def _bubbles(built, runs, day):
    """A boil by eye: by its share of the air that it has when all is well."""
    well = plumbing.runs_at(
        built.plumbing, plumbing.curve_of(built.model), built.depths_on(day), own=1.0
    )
    scores = []
    for plate, state, normal in zip(built.plates, runs.lines, well.lines, strict=True):
        share = state.flow_l_min_local / max(normal.flow_l_min_local, 0.1)
        score = next(score for least, score in BOILS if share > least)
        scores.append(Value(Quantity.BUBBLES, score, "", plate))
    return scores


def _flow(own, built, runs):
    if Random(f"flow meter of {built.system.key}").random() > HAS_FLOW_METER:
        return []
    flow = runs.delivered_l_min_local - runs.leak_l_min_local
    return [_value(Quantity.FLOW, flow * own.gauss(1, FLOW_ERROR), "cfm", 2)]


def _line_by_line(own, built, runs):
    """Each line's pressure at its own share of the air, the rest of it bled."""
    if len(built.plates) < 2 or own.random() > LINE_BY_LINE:
        return []
    return [
        _value(Quantity.LINE_PRESSURE, _of_line(state) + own.gauss(0, 250), "psi", 1, plate)
        for plate, state in zip(built.plates, runs.lines, strict=True)
        if state.flow_l_min_local > 0
    ]


def _of_line(state):
    terms = (state.water_pa, state.line_pa, state.membrane_pa, state.check_valve_pa)
    return sum(terms) + state.valve_pa


def _value(quantity, stored, unit, decimals, position=None):
    typed = f"{units.from_stored(quantity, stored, unit):.{decimals}f}"
    return Value(quantity, typed, unit, position)
