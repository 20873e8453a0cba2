"""What a compressor delivers against a pressure, the power it draws and how hot its air leaves."""

import bisect
from dataclasses import dataclass

from equipment.kinds import CompressorKind
from equipment.physics import air
from equipment.physics.atmosphere import SEA_LEVEL_PA, ZERO_C_K, air_pressure_pa, kelvin

COMMON_PRACTICE, JUDGEMENT = "common practice, no source", "judgement"
REFERENCE_C = 20.0


@dataclass(frozen=True)
class Curve:
    """Free air delivered against gauge pressure, straight between its points.

    points: (gauge pressure [Pa], free air at 20 degC and the site's air pressure [L/min]) in
        rising pressure; the flow never rises. Before the first point the first flow holds.
    basis: what the curve rests on, such as the nameplate or "judgement".
    """

    points: tuple[tuple[float, float], ...]
    basis: str = "nameplate"

    def __post_init__(self):
        object.__setattr__(self, "points", tuple((float(p), float(q)) for p, q in self.points))
        if not self.points:
            raise ValueError("A compressor curve needs a point: a gauge pressure and its flow.")
        for pressure, flow in self.points:
            if not (0 <= pressure <= 2e6 and 0 <= flow <= 1e6):
                raise ValueError(
                    f"The curve's point ({pressure:g} Pa, {flow:g} L/min) cannot be right. "
                    "Give gauge pressures from 0 to 2 000 000 Pa and flows from 0 L/min on."
                )
        for (before, more), (after, less) in zip(self.points, self.points[1:], strict=False):
            if after <= before or less > more:
                raise ValueError(
                    "A compressor curve goes from low to high pressure, and its flow never rises. "
                    f"Look at the points of {before:g} and {after:g} Pa."
                )

    @property
    def pressure_max_pa(self) -> float:
        """Gauge pressure [Pa] at which the flow ends, or the last one that the curve knows."""
        if not self.points[0][1]:
            return 0.0
        return next((pressure for pressure, flow in self.points if not flow), self.points[-1][0])

    def delivered_l_min_local(self, pressure_pa: float) -> float:
        """Free air at a gauge pressure [Pa]; beyond the last point the last flow holds."""
        points = self.points
        at = bisect.bisect_left(points, (pressure_pa,))
        if at == 0:
            return points[0][1]
        if at == len(points):
            return points[-1][1]
        (p0, q0), (p1, q1) = points[at - 1], points[at]
        return q0 + (q1 - q0) * (pressure_pa - p0) / (p1 - p0)


# Flow left at shares of the highest continuous pressure. How steeply each kind falls is common
# practice, no source; the figures are our judgement. A nameplate curve always goes before them.
_FALL = {
    CompressorKind.PISTON: ((0, 1.0), (0.5, 0.86), (1, 0.70)),
    CompressorKind.VANE: ((0, 1.0), (0.5, 0.90), (1, 0.78)),
    CompressorKind.LINEAR: ((0, 1.0), (0.5, 0.68), (1, 0.25)),
    CompressorKind.OTHER: ((0, 1.0), (0.5, 0.60), (1, 0.0)),
}
# Power of ideal compression over electric power. Small oil-less machines are often 0.3 to 0.5:
# from memory, unverified; the figures are our judgement.
_EFFICIENCY = {
    CompressorKind.PISTON: 0.40,
    CompressorKind.VANE: 0.35,
    CompressorKind.LINEAR: 0.35,
    CompressorKind.OTHER: 0.30,
}


def typical_curve(kind: str, free_air_l_min: float, pressure_max_pa: float) -> Curve:
    """A curve to begin with, where the nameplate gives only the open flow and a highest pressure.

    kind: a word of `CompressorKind`.
    free_air_l_min: free air at no pressure [L/min], 0 to 100 000; a machine of fixed
        displacement draws the same volume at every site, so it is the local flow too.
    pressure_max_pa: highest continuous gauge pressure [Pa], 100 to 2 000 000.
    Returns the curve, marked as judgement.
    Raises ValueError outside those ranges, or for another kind.
    Source: judgement; that piston and vane fall a little, linear machines steeply and others
    more steeply is common practice, no source.
    """
    if not 0 <= free_air_l_min <= 100_000:
        raise ValueError(
            f"A free air flow of {free_air_l_min:g} L/min cannot be right. "
            "Give litres a minute between 0 and 100 000."
        )
    if not 100 <= pressure_max_pa <= 2e6:
        raise ValueError(
            f"A highest pressure of {pressure_max_pa:g} Pa cannot be right. "
            "Give gauge pressure in pascals, 100 to 2 000 000; 1 psi is 6895 Pa."
        )
    falls = _FALL[_known(kind)]
    points = tuple((share * pressure_max_pa, left * free_air_l_min) for share, left in falls)
    return Curve(points, basis=JUDGEMENT)


def typical_efficiency(kind: str) -> float:
    """Ideal compression power over electric power of a small machine, to begin with.

    kind: a word of `CompressorKind`.
    Returns a share, 0 to 1.
    Raises ValueError for another kind.
    Source: judgement; 0.3 to 0.5 for small oil-less machines is from memory, unverified.
    """
    return _EFFICIENCY[_known(kind)]


def curve_at_site(curve: Curve, air_pa: float, inlet_temperature_c: float = REFERENCE_C) -> Curve:
    """A sea-level curve as it holds at a site and with the air that the machine breathes in.

    curve: as measured at 101 325 Pa and 20 degC.
    air_pa: the site's air pressure [Pa absolute], 30 000 to 110 000.
    inlet_temperature_c: of the air at the intake, the cabinet's [degC], -60 to 80.
    Returns the curve in free air at 20 degC and the site's air pressure: the volume drawn in
        stays, so the flow counted at 20 degC goes with 293.15/T; the same ratio of pressures,
        and so the same loss in the clearance space, comes at a gauge pressure lower with air_pa.
    Raises ValueError outside those ranges.
    Source: ideal gas law; that the flow hangs on the ratio of pressures is our judgement.
    """
    if not 30_000 <= air_pa <= 110_000:
        raise ValueError(
            f"An air pressure of {air_pa:g} Pa cannot be right. Give the site's absolute air "
            "pressure in pascals, not one reduced to sea level: 30 000 to 110 000."
        )
    if not -60 <= inlet_temperature_c <= 80:
        raise ValueError(
            f"Air of {inlet_temperature_c:g} °C at the intake cannot be right. "
            "Give degrees Celsius between -60 and 80."
        )
    lower = air_pa / SEA_LEVEL_PA
    thinner = kelvin(REFERENCE_C) / kelvin(inlet_temperature_c)
    points = tuple((pressure * lower, flow * thinner) for pressure, flow in curve.points)
    return Curve(points, curve.basis)


def mass_flow_ratio(altitude_m: float, inlet_temperature_c: float) -> float:
    """Mass of air that a machine of fixed displacement moves, against sea level and 20 degC.

    altitude_m: geometric metres above mean sea level, -5000 to 11 000.
    inlet_temperature_c: of the air at its intake [degC], -90 to 400.
    Returns a ratio; its volume flow hardly changes, the mass of air and of oxygen does.
    Raises ValueError outside those ranges.
    Source: ideal gas law with the U.S. Standard Atmosphere, 1976.
    """
    thinner = kelvin(REFERENCE_C) / kelvin(inlet_temperature_c)
    return air_pressure_pa(altitude_m) / SEA_LEVEL_PA * thinner


def power_w(
    curve: Curve, pressure_pa: float, *, air_pa: float = SEA_LEVEL_PA, efficiency: float
) -> float:
    """Electric power that a compressor draws at a gauge pressure.

    curve: what it delivers.
    pressure_pa: gauge pressure [Pa], 0 to 2 000 000.
    air_pa: air pressure at the site [Pa absolute].
    efficiency: ideal compression power over electric power, above 0 to 1; `typical_efficiency`
        where none was measured.
    Returns watts.
    Raises ValueError outside those ranges.
    Source: ideal adiabatic compression, see `air.compression_power_w`.
    """
    flow = curve.delivered_l_min_local(pressure_pa)
    return air.compression_power_w(flow, pressure_pa, air_pa=air_pa, efficiency=efficiency)


def discharge_temperature_c(
    pressure_pa: float,
    *,
    inlet_temperature_c: float,
    air_pa: float = SEA_LEVEL_PA,
    efficiency: float = 1.0,
) -> float:
    """Temperature of the air as it leaves the compressor.

    pressure_pa: gauge pressure [Pa], 0 to 2 000 000.
    inlet_temperature_c: of the air at its intake [degC], -90 to 400.
    air_pa: air pressure at the site [Pa absolute].
    efficiency: of the compression itself (isentropic), above 0 to 1; 1 is the ideal machine.
        A small machine gives off part of the heat through its head, so with its own efficiency
        this is an upper bound.
    Returns degrees Celsius.
    Raises ValueError outside those ranges.
    Source: ideal adiabatic compression, see `air.compressed_temperature_k`.
    """
    air.refuse_efficiency(efficiency)
    inlet_k = kelvin(inlet_temperature_c)
    ideal_k = air.compressed_temperature_k(inlet_k, air.pressure_ratio(pressure_pa, air_pa))
    return inlet_k + (ideal_k - inlet_k) / efficiency - ZERO_C_K


def _known(kind):
    if kind not in list(CompressorKind):
        words = ", ".join(CompressorKind)
        raise ValueError(f"There is no kind of compressor {kind!r}. Choose one of: {words}.")
    return CompressorKind(kind)
