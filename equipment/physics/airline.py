"""Pressure lost along an airline: Darcy friction and isothermal flow of air.

Friction factors are Darcy's, four times Fanning's. Pressures are absolute unless a name says gauge.
"""

import math
from collections.abc import Callable

from equipment.physics.atmosphere import (
    GAS_CONSTANT,
    SEA_LEVEL_PA,
    air_density_kg_m3,
    air_viscosity_pa_s,
    kelvin,
)

CHURCHILL, COLEBROOK = "churchill", "colebrook"
SMOOTH_PLASTIC_M = 1.5e-6  # roughness of drawn tube and plastic, common handbook value
STEEL_PIPE_M = 4.572e-5  # commercial steel, 0.00015 ft
LAMINAR_BELOW = 2040.0  # Reynolds number up to which the law on request is 64/Re
FREE_AIR_C = 20.0


def friction_factor(
    reynolds: float, relative_roughness: float = 0.0, law: str = CHURCHILL
) -> float:
    """Darcy friction factor of a round tube.

    reynolds: Reynolds number, above 0.
    relative_roughness: roughness over bore, 0 to 0.1.
    law: churchill, one smooth law for all regimes; colebrook, with 64/Re below 2040, which jumps
        there: at 2100 Churchill is 37 % lower, at 3000 1 %, and no table settles which is right.
    Returns the factor.
    Raises ValueError outside those ranges, or for another law.
    Source: S. W. Churchill, Chemical Engineering, 7 November 1977; C. F. Colebrook, J. Inst.
    Civil Engineers 11 (1939); Hagen-Poiseuille.
    """
    if not 0 < reynolds < math.inf:
        raise ValueError(f"A Reynolds number of {reynolds:g} cannot be right. Give one above 0.")
    if not 0 <= relative_roughness <= 0.1:
        raise ValueError(
            f"A relative roughness of {relative_roughness:g} cannot be right. "
            "Give roughness divided by bore, both in one unit: 0 to 0.1."
        )
    return _law(law)(reynolds, relative_roughness)


def mass_flow_kg_s(flow_l_min: float, air_pa: float = SEA_LEVEL_PA) -> float:
    """Mass of a flow of free air.

    flow_l_min: free air at 20 degC [L/min], 0 to 1 000 000.
    air_pa: the pressure at which that air is counted [Pa absolute], 1000 to 10 000 000; 101 325
        for `_l_min`, the site's own for `_l_min_local`.
    Returns kilograms per second.
    Raises ValueError outside those ranges.
    Source: ideal gas law.
    """
    _between("flow", flow_l_min, 0, 1e6, "L/min")
    return flow_l_min / 60_000 * air_density_kg_m3(air_pa, FREE_AIR_C)


def inlet_pressure_pa(
    mass_kg_s: float,
    length_m: float,
    bore_m: float,
    outlet_pa: float,
    *,
    temperature_c: float = 20.0,
    roughness_m: float = SMOOTH_PLASTIC_M,
    law: str = CHURCHILL,
) -> float:
    """The pressure that an airline needs at its inlet, given the one at its outlet.

    mass_kg_s: air through it [kg/s], 0 or more.
    length_m: [m], 0 to 10 000; fittings count as length of their own.
    bore_m: inner diameter [m], 0.001 to 1.
    outlet_pa: absolute pressure where it ends [Pa].
    temperature_c: of the air in it [degC], -90 to 400, the same all along.
    roughness_m: of its wall [m], 0 to a tenth of the bore; smooth plastic if not given.
    law: churchill or colebrook, see `friction_factor`.
    Returns absolute pascals. Where the air would leave faster than sound (isothermal), the
        pressure just inside the end is the one at which it leaves with it.
    Raises ValueError outside those ranges.
    Source: isothermal compressible flow, p1^2 - p2^2 = (m/A)^2 R T (f L/D + 2 ln(p1/p2)), as in
    Crane TP-410 and Perry's Handbook.
    """
    _between("mass flow", mass_kg_s, 0, 1000, "kg/s")
    air_density_kg_m3(outlet_pa, temperature_c)  # refuses a gauge reading of 0 and wrong units
    inlet = inlet_of(length_m, bore_m, temperature_c, roughness_m, law)
    return inlet(mass_kg_s, outlet_pa)


def outlet_pressure_pa(
    mass_kg_s: float,
    length_m: float,
    bore_m: float,
    inlet_pa: float,
    *,
    temperature_c: float = 20.0,
    roughness_m: float = SMOOTH_PLASTIC_M,
    law: str = CHURCHILL,
) -> float:
    """The pressure left at the outlet of an airline, given the one at its inlet.

    mass_kg_s: air through it [kg/s], 0 or more.
    length_m: [m], 0 to 10 000.
    bore_m: inner diameter [m], 0.001 to 1.
    inlet_pa: absolute pressure where it begins [Pa].
    temperature_c: of the air in it [degC], -90 to 400, the same all along.
    roughness_m: of its wall [m], 0 to a tenth of the bore; smooth plastic if not given.
    law: churchill or colebrook, see `friction_factor`.
    Returns absolute pascals.
    Raises ValueError outside those ranges, and when the line cannot carry so much air.
    Source: isothermal compressible flow, as for `inlet_pressure_pa`.
    """
    _between("mass flow", mass_kg_s, 0, 1000, "kg/s")
    air_density_kg_m3(inlet_pa, temperature_c)
    tube = _checked(length_m, bore_m, temperature_c, roughness_m)
    if mass_kg_s == 0 or length_m == 0:
        return inlet_pa
    head = tube.head(mass_kg_s) / inlet_pa**2
    friction = _law(law)(tube.reynolds(mass_kg_s), tube.relative_roughness)
    asked = head * friction * tube.length_over_bore

    def short(y):  # y is (outlet/inlet)^2; convex, and rising above the speed of sound's y
        return y - 1 + asked - head * math.log(y)

    if head >= 1 or short(head) > 0:
        raise ValueError(
            "The line cannot carry so much air from this inlet pressure. "
            "Give less air, a wider bore, a shorter line or a higher pressure."
        )
    y = 1.0
    for _ in range(100):
        step = short(y) / (1 - head / y)
        y -= step
        if step <= 1e-14 * y:
            break
    return inlet_pa * math.sqrt(y)


def line_loss_pa(
    flow_l_min: float,
    length_m: float,
    bore_m: float,
    *,
    outlet_gauge_pa: float | None = None,
    inlet_gauge_pa: float | None = None,
    air_pa: float = SEA_LEVEL_PA,
    temperature_c: float = 20.0,
    roughness_m: float = SMOOTH_PLASTIC_M,
    law: str = CHURCHILL,
) -> float:
    """The pressure lost along an airline, given the gauge pressure at one of its ends.

    flow_l_min: free air at 20 degC and 101 325 Pa [L/min], 0 to 1 000 000.
    length_m: [m], 0 to 10 000.
    bore_m: inner diameter [m], 0.001 to 1.
    outlet_gauge_pa, inlet_gauge_pa: gauge pressure at that end [Pa]; exactly one of the two.
    air_pa: air pressure at the site [Pa absolute]; sea level if not given.
    temperature_c: of the air in the line [degC], -90 to 400.
    roughness_m: of its wall [m]; smooth plastic if not given.
    law: churchill or colebrook, see `friction_factor`.
    Returns pascals, 0 or more.
    Raises ValueError outside those ranges, without one of the two pressures, and when the line
        cannot carry so much air.
    Source: isothermal compressible flow, as for `inlet_pressure_pa`.
    """
    mass = mass_flow_kg_s(flow_l_min)
    wall = {"temperature_c": temperature_c, "roughness_m": roughness_m, "law": law}
    if (outlet_gauge_pa is None) == (inlet_gauge_pa is None):
        raise ValueError("Give the gauge pressure of one end of the line, not of both or none.")
    if inlet_gauge_pa is not None:
        inlet = air_pa + inlet_gauge_pa
        return inlet - outlet_pressure_pa(mass, length_m, bore_m, inlet, **wall)
    outlet = air_pa + outlet_gauge_pa
    return inlet_pressure_pa(mass, length_m, bore_m, outlet, **wall) - outlet


def empirical_loss_pa(
    flow_l_min: float, length_m: float, bore_m: float, inlet_gauge_pa: float
) -> float:
    """The pressure lost in a compressed-air pipe by a rough formula; the order of size only.

    flow_l_min: free air at 20 degC and 101 325 Pa [L/min], 0 to 1 000 000.
    length_m: [m], 0 to 10 000.
    bore_m: inner diameter [m], 0.001 to 1.
    inlet_gauge_pa: gauge pressure at the inlet [Pa], 0 to 10 000 000, at sea level.
    Returns pascals.
    Raises ValueError outside those ranges.
    Source: published empirical formula for steel pipe and short drops, 7.57e4 q^1.85 L/(d^5 p)
    [kg/cm2, m3/min, m, mm]; 35 percent is as near as it comes.
    """
    _between("flow", flow_l_min, 0, 1e6, "L/min")
    _between("gauge pressure", inlet_gauge_pa, 0, 1e7, "Pa")
    _checked(length_m, bore_m, 20, 0)
    technical_atmosphere = 98_066.5
    inlet = (SEA_LEVEL_PA + inlet_gauge_pa) / technical_atmosphere
    lost = 7.57e4 * (flow_l_min / 1000) ** 1.85 * length_m / ((bore_m * 1000) ** 5 * inlet)
    return lost * technical_atmosphere


def inlet_of(
    length_m: float,
    bore_m: float,
    temperature_c: float = 20.0,
    roughness_m: float = SMOOTH_PLASTIC_M,
    law: str = CHURCHILL,
) -> Callable[[float, float], float]:
    """An airline made ready for many questions, each as `inlet_pressure_pa` answers it.

    length_m: [m], 0 to 10 000.
    bore_m: inner diameter [m], 0.001 to 1.
    temperature_c: of the air in it [degC], -90 to 400.
    roughness_m: of its wall [m], 0 to a tenth of the bore.
    law: churchill or colebrook.
    Returns a function of mass flow [kg/s] and absolute outlet pressure [Pa], giving the
        absolute inlet pressure [Pa].
    Raises ValueError outside those ranges.
    Source: isothermal compressible flow, as for `inlet_pressure_pa`.
    """
    tube = _checked(length_m, bore_m, temperature_c, roughness_m)
    factor, rough = _law(law), tube.relative_roughness
    per_mass, per_mass2 = tube.reynolds(1.0), tube.head(1.0)
    long, log = tube.length_over_bore, math.log

    def inlet(mass_kg_s, outlet_pa):
        if mass_kg_s <= 0 or not long:
            return outlet_pa
        head = per_mass2 * mass_kg_s * mass_kg_s
        end = max(outlet_pa * outlet_pa, head)  # no faster than sound at the end
        share = head / end
        rise = 1 + share * factor(per_mass * mass_kg_s, rough) * long
        x = rise + share * log(rise)  # x is (inlet/outlet)^2
        for _ in range(60):
            steep = 1 - share / x
            step = (x - rise - share * log(x)) / steep if steep else 0.0
            x -= step
            if abs(step) <= 1e-13 * x:
                break
        return math.sqrt(end * x)

    return inlet


class _Tube:
    def __init__(self, length_m, bore_m, temperature_c, roughness_m):
        self.length_over_bore = length_m / bore_m
        self.relative_roughness = roughness_m / bore_m
        self.area_m2 = math.pi * bore_m**2 / 4
        self.gas = GAS_CONSTANT * kelvin(temperature_c)
        self.over_viscosity = bore_m / (self.area_m2 * air_viscosity_pa_s(temperature_c))

    def reynolds(self, mass_kg_s):
        return mass_kg_s * self.over_viscosity

    def head(self, mass_kg_s):
        """(m/A)^2 R T [Pa2]: the square of the pressure at which it would flow with sound."""
        return (mass_kg_s / self.area_m2) ** 2 * self.gas


def _checked(length_m, bore_m, temperature_c, roughness_m):
    _between("length", length_m, 0, 10_000, "m")
    _between("bore", bore_m, 0.001, 1, "m", "12.7 mm are 0.0127 m.")
    _between("roughness", roughness_m, 0, 0.1 * bore_m, "m", "0.0015 mm are 0.0000015 m.")
    return _Tube(length_m, bore_m, temperature_c, roughness_m)


def _law(law):
    if law not in _LAWS:
        raise ValueError(f"There is no friction law {law!r}. Choose churchill or colebrook.")
    return _LAWS[law]


def _churchill(reynolds, relative_roughness):
    if reynolds < 1:  # beyond this the powers below leave the range of numbers
        return 64 / reynolds
    rough = -2.457 * math.log((7 / reynolds) ** 0.9 + 0.27 * relative_roughness)
    turbulent = rough**16 + (37_530 / reynolds) ** 16
    return 8 * ((8 / reynolds) ** 12 + turbulent**-1.5) ** (1 / 12)


def _colebrook(reynolds, relative_roughness):
    if reynolds < LAMINAR_BELOW:
        return 64 / reynolds
    rough, smooth = relative_roughness / 3.7, 2.51 / reynolds
    x = -1.8 * math.log10(rough**1.11 + 6.9 / reynolds)  # Haaland's estimate of 1/sqrt(f)
    for _ in range(50):
        inside = rough + smooth * x
        step = (x + 2 * math.log10(inside)) / (1 + 2 * smooth / (inside * math.log(10)))
        x -= step
        if abs(step) <= 1e-13 * x:
            break
    return 1 / (x * x)


_LAWS: dict[str, Callable[[float, float], float]] = {
    CHURCHILL: _churchill,
    COLEBROOK: _colebrook,
}


def _between(what, value, low, high, unit, hint=""):
    if not low <= value <= high:
        raise ValueError(
            f"A {what} of {value:g} {unit} cannot be right. "
            f"Give {unit} between {low:g} and {high:g}. {hint}".rstrip()
        )
