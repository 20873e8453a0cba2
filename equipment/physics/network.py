"""Where a compressor and the lines on its manifold meet, and how valves share the air out.

Flows are free air at 20 degC and the site's air pressure. Along a line the air passes its valve,
its check valve, the tube, the membranes and the water above them. Nothing flows backwards.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from equipment.physics.airline import CHURCHILL, SMOOTH_PLASTIC_M, inlet_of, mass_flow_kg_s
from equipment.physics.compressor import Curve
from equipment.physics.diffuser import OPENING_PA, SLOPE_PA_PER_L_MIN, WATER_KG_M3
from equipment.physics.roots import crossing
from equipment.physics.water import STANDARD_GRAVITY_M_S2

_RANGES = {
    "depth_m": (0, 100, "metres"),
    "length_m": (0, 10_000, "metres"),
    "bore_m": (0.001, 1, "metres; 12.7 mm are 0.0127"),
    "membranes": (1, 1000, "a number"),
    "opening_pa": (0, 200_000, "pascals"),
    "slope_pa_per_l_min": (0, 100_000, "pascals for each L/min"),
    "check_valve_pa": (0, 200_000, "pascals"),
    "valve_pa_per_l_min2": (0, 1e12, "pascals for each (L/min)²"),
}


@dataclass(frozen=True)
class Line:
    """One line on a manifold, from its valve to the water above its membranes.

    depth_m: water above the membranes [m], 0 to 100.
    length_m, bore_m: of its tube [m], inside.
    membranes: alike and side by side.
    opening_pa, slope_pa_per_l_min: wet pressure of one membrane [Pa] = opening + slope x its flow.
    check_valve_pa: what the check valve takes while air flows [Pa].
    valve_pa_per_l_min2: throttle, pressure [Pa] over the square of the flow [L/min]; 0 is open.
    in_use: False for a line that is shut off.
    """

    label: str
    depth_m: float
    length_m: float
    bore_m: float
    membranes: int = 1
    opening_pa: float = OPENING_PA
    slope_pa_per_l_min: float = SLOPE_PA_PER_L_MIN
    check_valve_pa: float = 0.0
    valve_pa_per_l_min2: float = 0.0
    in_use: bool = True

    def __post_init__(self):
        for name, (low, high, words) in _RANGES.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(
                    f"Line {self.label}: {name} of {value:g} cannot be right. "
                    f"Give {words}, {low:g} to {high:g}."
                )


@dataclass(frozen=True)
class LineState:
    """What one line does, and where its pressure goes; the five add up to the manifold's.

    On a line without flow, water, membrane and check valve say what it would take to open it.
    """

    label: str
    flow_l_min_local: float
    water_pa: float
    line_pa: float
    membrane_pa: float
    check_valve_pa: float
    valve_pa: float


@dataclass(frozen=True)
class OperatingPoint:
    """Where compressor and lines agree: delivered = flows of the lines + leak + relief.

    dead_head: the lines take less than the compressor still gives at the end of its curve (or
        there is no relief valve that opens before), so the real pressure is this one or more.
    """

    manifold_pa: float
    delivered_l_min_local: float
    leak_l_min_local: float
    lines: tuple[LineState, ...]
    relief_l_min_local: float = 0.0
    dead_head: bool = False


@dataclass(frozen=True)
class ValveSetting:
    """One line's valve: None as its coefficient means shut."""

    label: str
    flow_l_min_local: float
    valve_pa: float
    valve_pa_per_l_min2: float | None


@dataclass(frozen=True)
class Balance:
    """Valve settings that share the air, and the manifold pressure they lead to.

    share_of_wanted: what each line gets over what was wanted for it, the same for all; 0 when
        one of them lies too deep for this compressor.
    surplus_l_min_local: air that is left over where the pressure may rise no further.
    """

    manifold_pa: float
    share_of_wanted: float
    settings: tuple[ValveSetting, ...]
    surplus_l_min_local: float = 0.0


def operating_point(
    curve: Curve,
    lines: Sequence[Line],
    *,
    air_pa: float,
    leak_l_min_per_sqrt_pa: float = 0.0,
    temperature_c: float = 20.0,
    law: str = CHURCHILL,
    relief_pa: float | None = None,
    water_kg_m3: float = WATER_KG_M3,
    roughness_m: float = SMOOTH_PLASTIC_M,
) -> OperatingPoint:
    """The pressure and the flows at which a compressor and its lines agree.

    curve: free air [L/min at 20 degC and air_pa] against gauge pressure.
    lines: any number; one that is too deep for the pressure simply has no flow.
    air_pa: air pressure at the site [Pa absolute], 20 000 to 120 000.
    leak_l_min_per_sqrt_pa: a leak at the manifold: its flow [L/min] over the root of the gauge
        pressure [Pa], 0 or more.
    temperature_c: of the air in the lines [degC].
    law: of friction, churchill (smooth) or colebrook (64/Re below 2040).
    relief_pa: gauge pressure at which a relief valve opens [Pa]; None for none.
    water_kg_m3: density of the water, 900 to 1100.
    roughness_m: of the tubes' wall [m].
    Returns the operating point. Pressure is found by closing in from both sides on
        delivered - flows - leak = 0, which falls with pressure, so there is always an answer.
    Raises ValueError outside those ranges.
    Source: balance of mass; each line by isothermal flow (see `airline`), depth by rho g h.
    """
    site = _Site(air_pa, temperature_c, law, water_kg_m3, roughness_m)
    leak = _leak(leak_l_min_per_sqrt_pa)
    passages = [_Passage(line, site) for line in lines]
    search = _Search(curve, passages, leak)
    ends = curve.pressure_max_pa
    relieved = relief_pa is not None and _relief(relief_pa) < ends
    limit = relief_pa if relieved else ends
    surplus = search.surplus(limit)
    if surplus >= 0:
        pressure, (leaked, *flows) = limit, search.flows_at(limit)
    else:
        surplus = 0.0
        pressure, (leaked, *flows) = search.balanced(limit)
    blown = surplus if relieved else 0.0
    return OperatingPoint(
        pressure,
        math.fsum(flows) + leaked + blown,
        leaked,
        tuple(p.state(q, pressure) for p, q in zip(passages, flows, strict=True)),
        blown,
        dead_head=surplus > 1e-9 * search.most and not relieved,
    )


def valve_settings(
    curve: Curve,
    lines: Sequence[Line],
    wanted_l_min_local: Sequence[float],
    *,
    air_pa: float,
    leak_l_min_per_sqrt_pa: float = 0.0,
    temperature_c: float = 20.0,
    law: str = CHURCHILL,
    relief_pa: float | None = None,
    water_kg_m3: float = WATER_KG_M3,
    roughness_m: float = SMOOTH_PLASTIC_M,
) -> Balance:
    """How far each line's valve must throttle so that the air is shared as wanted.

    curve, lines, air_pa, leak_l_min_per_sqrt_pa, temperature_c, law, relief_pa, water_kg_m3,
        roughness_m: as for `operating_point`; the lines' own throttles are left aside.
    wanted_l_min_local: free air for each line [L/min], 0 for a line to be shut. Only their
        shares count: the compressor decides how much there is.
    Returns the balance with the lowest pressure: the line that needs most stands open, the
        others take up the difference.
    Raises ValueError outside those ranges, or when no line is to get air.
    Source: balance of mass; the neediest valve fully open costs least power.
    """
    if len(wanted_l_min_local) != len(lines):
        raise ValueError("Say for each line how much air it should get, 0 for a line to be shut.")
    if not all(0 <= w <= 1e6 for w in wanted_l_min_local) or not any(wanted_l_min_local):
        raise ValueError("Give each line 0 L/min or more, and at least one line some air.")
    site = _Site(air_pa, temperature_c, law, water_kg_m3, roughness_m)
    leak = _leak(leak_l_min_per_sqrt_pa)
    served = [
        (_Passage(line, site, throttled=False), wanted)
        for line, wanted in zip(lines, wanted_l_min_local, strict=True)
    ]
    fed = [(passage, wanted) for passage, wanted in served if wanted > 0]
    limit = curve.pressure_max_pa
    if relief_pa is not None:
        limit = min(limit, _relief(relief_pa))

    def needed(share):
        return max(passage.needed_pa(share * wanted) for passage, wanted in fed)

    def surplus(share):
        pressure = min(limit, needed(share))
        used = share * math.fsum(wanted_l_min_local) + leak * math.sqrt(pressure)
        return curve.delivered_l_min_local(pressure) - used

    share = _largest_share(surplus, needed, limit, curve.points[0][1] / sum(wanted_l_min_local))
    pressure = min(limit, needed(share)) if share else limit
    settings = tuple(passage.setting(share * wanted, pressure) for passage, wanted in served)
    left = surplus(share)
    return Balance(pressure, share, settings, left if left > 1e-6 * curve.points[0][1] else 0.0)


@dataclass(frozen=True)
class _Site:
    air_pa: float
    temperature_c: float
    law: str
    water_kg_m3: float
    roughness_m: float

    def __post_init__(self):
        if not 20_000 <= self.air_pa <= 120_000:
            raise ValueError(
                f"An air pressure of {self.air_pa:g} Pa cannot be right. "
                "Give the site's absolute pressure in pascals, 20 000 to 120 000."
            )
        if not 900 <= self.water_kg_m3 <= 1100:
            raise ValueError(
                f"Water of {self.water_kg_m3:g} kg/m³ cannot be right. Give 900 to 1100."
            )


class _Passage:
    """A line made ready for many questions."""

    def __init__(self, line, site, *, throttled=True):
        self.line = line
        self.open = line.in_use
        self.air_pa = site.air_pa
        self.mass_per_flow = mass_flow_kg_s(1.0, site.air_pa)
        self.water_pa = site.water_kg_m3 * STANDARD_GRAVITY_M_S2 * line.depth_m
        self.outlet_pa = site.air_pa + self.water_pa + line.opening_pa
        self.slope = line.slope_pa_per_l_min / line.membranes
        self.throttle = line.valve_pa_per_l_min2 if throttled else 0.0
        self.opens_pa = self.water_pa + line.opening_pa + line.check_valve_pa
        self.inlet = inlet_of(
            line.length_m, line.bore_m, site.temperature_c, site.roughness_m, site.law
        )

    def needed_pa(self, flow):
        """Gauge pressure at the manifold that drives a flow."""
        inlet_pa = self.inlet(flow * self.mass_per_flow, self.outlet_pa + self.slope * flow)
        taken = self.line.check_valve_pa + self.throttle * flow * flow
        return inlet_pa - self.air_pa + taken

    def flow(self, pressure, least, most):
        """The flow at a manifold pressure, known to lie between two bounds."""
        if not self.open or pressure <= self.opens_pa:
            return 0.0
        low, high = self.needed_pa(least) - pressure, self.needed_pa(most) - pressure
        if high <= 0:
            return most
        if low >= 0:
            return least
        return crossing(
            lambda flow: self.needed_pa(flow) - pressure,
            least,
            most,
            low,
            high,
            x_close=1e-10 * most,
            y_close=1e-8,
        )

    def state(self, flow, pressure):
        line = self.line
        throttle = self.throttle * flow * flow
        membrane = line.opening_pa + self.slope * flow
        rest = pressure - self.water_pa - membrane - line.check_valve_pa - throttle
        tube = max(0.0, rest) if flow > 0 else 0.0
        return LineState(
            line.label, flow, self.water_pa, tube, membrane, line.check_valve_pa, throttle
        )

    def setting(self, flow, pressure):
        if flow <= 0 or not self.open:
            return ValveSetting(self.line.label, 0.0, 0.0, None)
        taken = max(0.0, pressure - self.needed_pa(flow))
        return ValveSetting(self.line.label, flow, taken, taken / flow**2)


class _Search:
    """Closes in on the manifold pressure, keeping leak and flows on both sides of it."""

    def __init__(self, curve, passages, leak):
        self.curve, self.passages, self.leak = curve, passages, leak
        self.most = 1.001 * curve.points[0][1]  # beyond what comes, so that a flat curve is met too
        self.below = (0.0, [0.0] * (1 + len(passages)), curve.points[0][1])
        self.above = (math.inf, [self.most] * (1 + len(passages)), -math.inf)

    def flows_at(self, pressure):
        """The leak, and the flow of each line."""
        bounds = zip(self.passages, self.below[1][1:], self.above[1][1:], strict=True)
        flows = [passage.flow(pressure, least, most) for passage, least, most in bounds]
        return [self.leak * math.sqrt(pressure), *flows]

    def surplus(self, pressure):
        """Air that nothing takes at this pressure; falls as the pressure rises."""
        flows = self.flows_at(pressure)
        surplus = self.curve.delivered_l_min_local(pressure) - math.fsum(flows)
        if surplus >= 0 and pressure > self.below[0]:
            self.below = (pressure, flows, surplus)
        elif surplus < 0 and pressure < self.above[0]:
            self.above = (pressure, flows, surplus)
        return surplus

    def balanced(self, high):
        """Pressure and flows; `high` is a pressure at which more would be used than there is."""
        crossing(
            self.surplus,
            0.0,
            high,
            self.curve.points[0][1],
            self.above[2],
            x_close=1e-7,
            y_close=1e-10 * self.most,
        )
        (low, flows, spare), (high, more, lack) = self.below, self.above
        part = spare / (spare - lack)
        mixed = [q + part * (r - q) for q, r in zip(flows, more, strict=True)]
        return low + part * (high - low), mixed


def _largest_share(surplus, needed, limit, most):
    """The share at which the compressor gives just what is used, or the pressure just may rise."""

    def slack(share):
        return min(surplus(share), limit - needed(share))

    low, high = slack(0.0), slack(most)
    if low <= 0:
        return 0.0
    if high >= 0:
        return most
    return crossing(slack, 0.0, most, low, high, x_close=1e-12 * most)


def _leak(leak_l_min_per_sqrt_pa):
    if not 0 <= leak_l_min_per_sqrt_pa <= 1e6:
        raise ValueError(
            f"A leak of {leak_l_min_per_sqrt_pa:g} L/min for each root of a pascal cannot be "
            "right. Give 0 or more."
        )
    return leak_l_min_per_sqrt_pa


def _relief(relief_pa):
    if not 100 <= relief_pa <= 2e6:
        raise ValueError(
            f"A relief valve at {relief_pa:g} Pa cannot be right. "
            "Give gauge pressure in pascals, 100 to 2 000 000; 1 psi is 6895 Pa."
        )
    return relief_pa
