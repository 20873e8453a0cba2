"""The reading that physics expects of a configuration on a day, with the share of each term."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from equipment.condition.history import Rig, Tolerances
from equipment.kinds import Quantity
from equipment.physics.air import compression_power_w
from equipment.physics.compressor import Curve, typical_efficiency
from equipment.physics.network import LineState, OperatingPoint, operating_point
from equipment.physics.water import STANDARD_GRAVITY_M_S2, water_density_kg_m3

PHYSICS = "physics"
POWER_SHARE = 0.30  # what the efficiency of a small machine leaves open: judgement


@dataclass(frozen=True)
class Band:
    """What a reading should be, and how far it may lie off before it says something.

    expected, low, high: in the stored unit of the quantity. basis: in words, such as "baseline of
    3 May 2026" or "physics". sure: it rests on a baseline that a person confirmed. shares: what the
    expected value is made of, in words and the same unit. note: what is not known. other_gauge:
    the baseline was read with another gauge, so that a departure may be the gauge's.
    """

    quantity: str
    expected: float
    low: float
    high: float
    basis: str
    sure: bool = False
    shares: tuple[tuple[str, float], ...] = ()
    note: str = ""
    other_gauge: bool = False

    @property
    def tolerance(self) -> float:
        return max(self.high - self.expected, self.expected - self.low)

    def departure(self, value: float) -> float:
        return value - self.expected


def pressure_tolerance_pa(
    expected_pa: float, gauge_error_pa: float, tolerances: Tolerances, *, by_physics: bool = False
) -> float:
    """How far a pressure may lie from what is expected before it says something.

    expected_pa: what is expected [Pa gauge].
    gauge_error_pa: error of the gauge's class [Pa]; 0 where it is not known.
    tolerances: the firm's figures.
    by_physics: wider, because no reading of this system stands behind the expectation.
    Returns pascals: the largest of a fixed pressure, a share and some times the gauge's error.
    Source: judgement: 0.5 psi, 10 percent and twice the gauge's error; by physics alone 1 psi
    and 20 percent, for losses of membranes and valves that only a baseline tells.
    """
    fixed = tolerances.physics_pa if by_physics else tolerances.pressure_pa
    share = tolerances.physics_share if by_physics else tolerances.pressure_share
    return max(fixed, share * expected_pa, tolerances.gauge_errors * gauge_error_pa)


def level_pa(rise_m: float, water_c: float = 15.0) -> float:
    """What a rise of the water adds to every pressure.

    rise_m: of the level [m], below 0 for a fall.
    water_c: temperature of the water [degC].
    Returns pascals: about 9.79 kPa a metre.
    Source: hydrostatics, rho g h.
    """
    return water_density_kg_m3(water_c) * STANDARD_GRAVITY_M_S2 * rise_m


def point(rig: Rig, level_m: float = 0.0) -> OperatingPoint | None:
    """Where compressor and lines of a configuration meet.

    rig: the configuration.
    level_m: water against its mark [m].
    Returns the operating point; None without a curve, or without a line in use.
    Source: see `equipment.physics.network`.
    """
    if rig.curve is None or not any(line.in_use for line in rig.lines):
        return None
    return _point(rig, round(level_m, 3))


def expected_pressure(
    rig: Rig,
    *,
    level_m: float = 0.0,
    gauge_error_pa: float = 0.0,
    tolerances: Tolerances = Tolerances(),  # noqa: B008 - frozen
) -> Band | None:
    """The pressure at the manifold that physics expects, and its band.

    rig: the configuration of the day.
    level_m: water against its mark [m].
    gauge_error_pa: error of the gauge's class [Pa].
    tolerances: the firm's figures.
    Returns the band with the shares of water, line, membrane, check valve and valve along the
        deepest line that gets air; without a compressor's curve the losses that hang on the flow
        are left out, the band is wider and the note says so. None without a line in use.
    Source: rho g h plus the losses of `network`; the width is a judgement.
    """
    found = point(rig, level_m)
    if found is None:
        return _still(rig, level_m, gauge_error_pa, tolerances)
    flowing = [state for state in found.lines if state.flow_l_min_local > 0]
    shown = max(flowing, key=lambda state: state.water_pa, default=None)
    starved = [
        state.label
        for state, line in zip(found.lines, rig.lines, strict=True)
        if line.in_use and state.flow_l_min_local <= 0
    ]
    note = (
        f"No air is expected in {', '.join(starved)}: shallower lines take it." if starved else ""
    )
    if found.dead_head:
        note = "The lines take less air than the compressor gives: the pressure may be higher."
    band = _band(Quantity.PRESSURE, found.manifold_pa, gauge_error_pa, tolerances)
    return replace(band, shares=_shares(shown) if shown else (), note=note)


def expected_line_pressure(
    rig: Rig,
    label: str,
    *,
    level_m: float = 0.0,
    gauge_error_pa: float = 0.0,
    tolerances: Tolerances = Tolerances(),  # noqa: B008 - frozen
) -> Band | None:
    """The pressure that one line needs for its share of the air, the others closed or bled.

    rig: the configuration of the day.
    label: the line's position.
    level_m: water against its mark [m].
    gauge_error_pa: error of the gauge's class [Pa].
    tolerances: the firm's figures.
    Returns the band, its own valve as it was set; None where the line is not known.
    Source: rho g h plus the losses of `network` at the flow that the line has in the whole.
    """
    alone = replace(rig, lines=tuple(line for line in rig.lines if line.label == label))
    found = point(rig, level_m)
    if found is None or not alone.lines:
        return _still(alone, level_m, gauge_error_pa, tolerances, Quantity.LINE_PRESSURE)
    state = next(state for state in found.lines if state.label == label)
    shares = _shares(state)
    total = math.fsum(value for _, value in shares)
    return replace(_band(Quantity.LINE_PRESSURE, total, gauge_error_pa, tolerances), shares=shares)


def expected_flow(
    rig: Rig,
    *,
    level_m: float = 0.0,
    tolerances: Tolerances = Tolerances(),  # noqa: B008 - frozen
) -> Band | None:
    """The free air that the compressor should give in this configuration.

    rig: the configuration of the day.
    level_m: water against its mark [m].
    tolerances: the firm's figures.
    Returns the band [L/min], with each line's flow as shares; None without a curve.
    Source: operating point of `network`; the width is a judgement.
    """
    found = point(rig, level_m)
    if found is None:
        return None
    flow = found.delivered_l_min_local
    away = tolerances.flow_share * flow
    shares = tuple((state.label, state.flow_l_min_local) for state in found.lines)
    note = "A float meter under pressure shows less than the free air it passes."
    return Band(Quantity.FLOW, flow, flow - away, flow + away, PHYSICS, shares=shares, note=note)


def expected_power_w(rig: Rig, *, level_m: float = 0.0) -> Band | None:
    """The electric power that the compressor should take in this configuration.

    rig: the configuration of the day, with the kind of compressor.
    level_m: water against its mark [m].
    Returns the band [W]; None without a curve or the kind. Volts times amperes are more than
        watts, by a power factor that only a baseline tells: not for judging V x A.
    Source: adiabatic compression; efficiency and width are a judgement.
    """
    found = point(rig, level_m)
    if found is None or rig.compressor_kind is None:
        return None
    power = compression_power_w(
        found.delivered_l_min_local,
        found.manifold_pa,
        air_pa=rig.air_pa,
        efficiency=typical_efficiency(rig.compressor_kind),
    )
    away = POWER_SHARE * power
    note = "Volts times amperes read higher than watts, by the motor's power factor."
    return Band("power", power, power - away, power + away, PHYSICS, note=note)


def hangs_on_flow_pa(rig: Rig, level_m: float = 0.0) -> float | None:
    """The part of the manifold's pressure that falls when less air comes.

    rig: the configuration of the day.
    level_m: water against its mark [m].
    Returns pascals: line, valve and what the membranes take above their opening pressure, on the
        deepest line with air; None without a curve.
    Source: see `equipment.physics.network`.
    """
    found = point(rig, level_m)
    if found is None:
        return None
    states = [
        (state, line)
        for state, line in zip(found.lines, rig.lines, strict=True)
        if state.flow_l_min_local > 0
    ]
    if not states:
        return None
    state, line = max(states, key=lambda pair: pair[0].water_pa)
    return state.line_pa + state.valve_pa + max(state.membrane_pa - line.opening_pa, 0.0)


def left_with_less_air(rig: Rig, left: float = 0.75) -> dict[str, float]:
    """What each plate keeps of its air when the compressor gives less: the deep ones lose first.

    rig: the configuration of the day.
    left: share of the air that the compressor still gives, 0 to 1.
    Returns the share of its own air by line, for lines that had some; empty without a curve.
    Source: see `equipment.physics.network`.
    """
    if rig.curve is None:
        return {}
    less = Curve(tuple((p, q * left) for p, q in rig.curve.points), rig.curve.basis)
    before, after = point(rig), point(replace(rig, curve=less))
    if before is None or after is None:
        return {}
    return {
        was.label: now.flow_l_min_local / was.flow_l_min_local
        for was, now in zip(before.lines, after.lines, strict=True)
        if was.flow_l_min_local > 0
    }


WATER, LINE, MEMBRANE = "water above the plate", "line", "membrane"
CHECK_VALVE, VALVE = "check valve", "valve"


def _shares(state: LineState):
    return (
        (WATER, state.water_pa),
        (LINE, state.line_pa),
        (MEMBRANE, state.membrane_pa),
        (CHECK_VALVE, state.check_valve_pa),
        (VALVE, state.valve_pa),
    )


def _still(rig, level_m, gauge_error_pa, tolerances, quantity=Quantity.PRESSURE):
    """What it takes to open the lines, where the flow is not known."""
    lines = [line for line in rig.lines if line.in_use]
    if not lines:
        return None
    deepest = max(lines, key=lambda line: line.depth_m)
    shares = (
        (WATER, level_pa(max(deepest.depth_m + level_m, 0.0), rig.water_c)),
        (MEMBRANE, deepest.opening_pa),
        (CHECK_VALVE, deepest.check_valve_pa),
    )
    total = math.fsum(value for _, value in shares)
    band = _band(quantity, total, gauge_error_pa, tolerances)
    note = "The compressor's curve is not known: what the flow costs in line and membrane is open."
    return replace(band, high=band.high + tolerances.physics_pa, shares=shares, note=note)


def _band(quantity, value, gauge_error_pa, tolerances):
    away = pressure_tolerance_pa(value, gauge_error_pa, tolerances, by_physics=True)
    return Band(quantity, value, max(value - away, 0.0), value + away, PHYSICS)


@lru_cache(maxsize=8192)
def _point(rig, level_m):
    lines = tuple(
        replace(line, depth_m=max(line.depth_m + level_m, 0.0)) if line.in_use else line
        for line in rig.lines
    )
    return operating_point(
        rig.curve,
        lines,
        air_pa=rig.air_pa,
        temperature_c=rig.water_c,
        relief_pa=rig.relief_pa,
        water_kg_m3=water_density_kg_m3(rig.water_c),
    )
