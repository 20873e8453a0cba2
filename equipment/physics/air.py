"""Free air and the conditions it is counted at; the work of compressing it, and its cost."""

import math
from dataclasses import dataclass

from equipment.physics.atmosphere import SEA_LEVEL_PA, air_density_kg_m3, kelvin

ADIABATIC = 1.4  # ratio of the specific heats of air


@dataclass(frozen=True)
class Condition:
    """The pressure [Pa absolute] and temperature [degC] at which a volume of air is counted."""

    pressure_pa: float
    temperature_c: float


FREE_AIR = Condition(SEA_LEVEL_PA, 20.0)  # what `_l_min` means here
NORMAL = Condition(SEA_LEVEL_PA, 0.0)  # DIN 1343
SCFM_60_F = Condition(101_325.0, (60 - 32) / 1.8)  # 14.696 psia
SCFM_68_F = Condition(101_325.0, 20.0)


def flow_at(flow: float, counted_at: Condition, wanted_at: Condition) -> float:
    """A volume flow of air, counted at another pressure and temperature.

    flow: 0 or more, in any unit of volume and time.
    counted_at, wanted_at: the two conditions.
    Returns the flow in the same unit.
    Raises ValueError for a negative flow or a condition that cannot be.
    Source: ideal gas law. "Standard" is 0, 15, 60 degF or 68 degF, 1 atm or 1 bar, up to 9 percent
    apart: the condition has to be said.
    """
    if not 0 <= flow < math.inf:
        raise ValueError(f"A flow of {flow:g} cannot be right. Give 0 or more.")
    return flow * _density(counted_at) / _density(wanted_at)


def line_volume_flow(
    free_air: float,
    gauge_pa: float,
    *,
    counted_at: Condition = FREE_AIR,
    air_pa: float = SEA_LEVEL_PA,
    line_temperature_c: float = 20.0,
) -> float:
    """The volume that free air takes up in a line under pressure.

    free_air: flow of free air, 0 or more, in any unit of volume and time.
    gauge_pa: gauge pressure in the line [Pa], 0 to 10 000 000.
    counted_at: the condition of the free air; 20 degC and 101 325 Pa if not given.
    air_pa: air pressure at the site [Pa absolute].
    line_temperature_c: of the air in the line [degC].
    Returns the flow in the same unit.
    Raises ValueError outside those ranges.
    Source: Boyle's law, Gay-Lussac's law.
    """
    pressure_ratio(gauge_pa, air_pa)
    return flow_at(free_air, counted_at, Condition(air_pa + gauge_pa, line_temperature_c))


def rotameter_free_air(shown: float, gauge_pa: float, air_pa: float = SEA_LEVEL_PA) -> float:
    """The free air that a float meter passes, which it shows too low under pressure.

    shown: what the scale shows, in any unit; the scale was made for free air.
    gauge_pa: gauge pressure of the air in the meter [Pa], 0 to 10 000 000.
    air_pa: air pressure at the site [Pa absolute].
    Returns free air in the same unit: 1.21 times what is shown at 7 psi.
    Raises ValueError outside those ranges.
    Source: the float rests where density times the square of the volume flow is the same, so
    mass goes with the root of the density; air and scale at one temperature.
    """
    if not 0 <= shown < math.inf:
        raise ValueError(f"A meter cannot show {shown:g}. Give 0 or more.")
    return shown * math.sqrt(pressure_ratio(gauge_pa, air_pa))


def pressure_ratio(gauge_pa: float, air_pa: float = SEA_LEVEL_PA) -> float:
    """Absolute pressure over air pressure.

    gauge_pa: gauge pressure [Pa], 0 to 10 000 000.
    air_pa: air pressure [Pa absolute], 20 000 to 120 000.
    Returns the ratio, 1 or more.
    Raises ValueError outside those ranges.
    Source: the definition of gauge pressure.
    """
    if not 0 <= gauge_pa <= 1e7:
        raise ValueError(
            f"A gauge pressure of {gauge_pa:g} Pa cannot be right. "
            "Give pascals above the air's pressure, 0 to 10 000 000; 1 psi is 6895 Pa."
        )
    if not 20_000 <= air_pa <= 120_000:
        raise ValueError(
            f"An air pressure of {air_pa:g} Pa cannot be right. "
            "Give the site's absolute pressure in pascals, 20 000 to 120 000."
        )
    return 1 + gauge_pa / air_pa


def compression_power_w(
    flow_l_min_local: float,
    gauge_pa: float,
    *,
    air_pa: float = SEA_LEVEL_PA,
    exponent: float = ADIABATIC,
    efficiency: float = 1.0,
) -> float:
    """Power that it takes to compress a flow of air.

    flow_l_min_local: air drawn in, counted as it is at the intake [L/min], 0 to 10 000 000.
    gauge_pa: gauge pressure at delivery [Pa], 0 to 10 000 000.
    air_pa: absolute pressure at the intake [Pa].
    exponent: of the compression, above 1 to 2; 1.4 without exchange of heat.
    efficiency: ideal power over the power asked for, above 0 to 1; 1 gives the ideal power.
    Returns watts. The temperature at the intake has no part in it: it is in the volume.
    Raises ValueError outside those ranges.
    Source: n/(n-1) p1 V [(p2/p1)^((n-1)/n) - 1], in every textbook of thermodynamics.
    """
    if not 0 <= flow_l_min_local <= 1e7:
        raise ValueError(
            f"A flow of {flow_l_min_local:g} L/min cannot be right. Give 0 to 10 000 000."
        )
    refuse_efficiency(efficiency)
    ratio = pressure_ratio(gauge_pa, air_pa)
    inlet_m3_s = flow_l_min_local / 60_000
    share = _share(exponent)
    return air_pa * inlet_m3_s / share * (ratio**share - 1) / efficiency


def compressed_temperature_k(inlet_k: float, ratio: float, exponent: float = ADIABATIC) -> float:
    """Absolute temperature of air after compression.

    inlet_k: at the intake [K], 150 to 700.
    ratio: absolute pressure at delivery over that at the intake, 1 to 1000.
    exponent: of the compression, above 1 to 2; 1.4 without exchange of heat.
    Returns kelvins.
    Raises ValueError outside those ranges.
    Source: T2 = T1 (p2/p1)^((n-1)/n), in every textbook of thermodynamics.
    """
    if not 150 <= inlet_k <= 700:
        raise ValueError(f"{inlet_k:g} K cannot be right. Give kelvins, degC + 273.15.")
    if not 1 <= ratio <= 1000:
        raise ValueError(f"A ratio of pressures of {ratio:g} cannot be right. Give 1 to 1000.")
    return inlet_k * ratio ** _share(exponent)


def energy_kwh(power_w: float, hours: float) -> float:
    """Energy that a machine takes.

    power_w: electric power [W], 0 to 1 000 000.
    hours: it runs [h], 0 to 1 000 000.
    Returns kilowatt hours.
    Raises ValueError outside those ranges.
    Source: the definition of the kilowatt hour.
    """
    for what, value in (("power [W]", power_w), ("number of hours", hours)):
        if not 0 <= value <= 1e6:
            raise ValueError(f"A {what} of {value:g} cannot be right. Give 0 to 1 000 000.")
    return power_w * hours / 1000


def energy_cost(power_w: float, hours: float, price_per_kwh: float) -> float:
    """What the energy of a machine costs.

    power_w: electric power [W], 0 to 1 000 000.
    hours: it runs [h], 0 to 1 000 000.
    price_per_kwh: in any money, 0 or more.
    Returns the cost in that money.
    Raises ValueError outside those ranges.
    Source: energy times price; fixed charges are not in it.
    """
    if not 0 <= price_per_kwh < math.inf:
        raise ValueError(f"A price of {price_per_kwh:g} cannot be right. Give 0 or more.")
    return energy_kwh(power_w, hours) * price_per_kwh


def refuse_efficiency(efficiency: float) -> None:
    """Refuse an efficiency that cannot be.

    efficiency: a share, above 0 to 1.
    Returns nothing.
    Raises ValueError outside that range.
    Source: conservation of energy.
    """
    if not 0.01 <= efficiency <= 1:
        raise ValueError(
            f"An efficiency of {efficiency:g} cannot be right. "
            "Give a share from 0.01 to 1, not percent."
        )


def _share(exponent):
    if not 1.0001 <= exponent <= 2:
        raise ValueError(
            f"A compression exponent of {exponent:g} cannot be right. "
            "Give 1.0001 to 2; air has 1.4."
        )
    return (exponent - 1) / exponent


def _density(condition):
    kelvin(condition.temperature_c)
    return air_density_kg_m3(condition.pressure_pa, condition.temperature_c)
