"""Growth of ice from cold, for planning crews. It tells nothing about strength.

Bubbled water keeps open holes and thin ice whatever has grown elsewhere.
"""

import math
from collections.abc import Sequence

DAY_S = 86_400


def freezing_degree_days(daily_mean_c: Sequence[float], net: bool = False) -> float:
    """Cold added up from day to day.

    daily_mean_c: mean air temperature of each day [degC], -70 to 50, in order.
    net: whether a day of thaw takes away, down to nothing; else it counts nothing.
    Returns degC days, 0 or more.
    Raises ValueError outside that range.
    Source: definition; the net form is the one that agencies use.
    """
    if not all(-70 <= mean <= 50 for mean in daily_mean_c):
        raise ValueError("a day's mean lies between -70 and 50 degC")
    total = 0.0
    for mean in daily_mean_c:
        total = max(0.0, total - mean) if net else total + max(0.0, -mean)
    return total


def grown_ice_m(freezing_days_c: float, alpha_cm: float, start_m: float = 0.0) -> float:
    """Thickness that ice reaches in still water. For planning; it tells nothing about strength.

    freezing_days_c: freezing degree-days since the start [degC day], 0 to 10 000.
    alpha_cm: coefficient of the water and its snow [cm per root of a degC day], above 0 to 4;
        1.7 to 2.4 for a lake with snow is from memory.
    start_m: thickness at the start [m], 0 to 3.
    Returns metres.
    Raises ValueError outside those ranges.
    Source: Stefan (1891), as in USACE EM 1110-2-1612, chapter 2.
    """
    if not 0 <= freezing_days_c <= 10_000:
        raise ValueError("freezing degree-days lie between 0 and 10 000 degC days")
    if not 0 < alpha_cm <= 4:
        raise ValueError("the coefficient lies above 0 and up to 4 cm per root of a degC day")
    if not 0 <= start_m <= 3:
        raise ValueError("the thickness at the start lies between 0 and 3 m")
    return math.sqrt(start_m**2 + (alpha_cm / 100) ** 2 * freezing_days_c)


def stefan_coefficient_cm(
    conductivity_w_mk: float = 2.22,
    density_kg_m3: float = 917.0,
    latent_heat_j_kg: float = 333_550.0,
) -> float:
    """The coefficient of bare ice whose surface is as cold as the air: the most there can be.

    conductivity_w_mk: of ice [W/(m K)], 1 to 4.
    density_kg_m3: of ice [kg/m3], 800 to 920.
    latent_heat_j_kg: of freezing [J/kg], 300 000 to 340 000.
    Returns cm per root of a degC day.
    Raises ValueError outside those ranges.
    Source: Stefan (1891), sqrt(2 k / (rho L)).
    """
    if not (1 <= conductivity_w_mk <= 4 and 800 <= density_kg_m3 <= 920):
        raise ValueError("conductivity lies between 1 and 4 W/(m K), density 800 and 920 kg/m3")
    if not 300_000 <= latent_heat_j_kg <= 340_000:
        raise ValueError("the heat of freezing lies between 300 000 and 340 000 J/kg")
    return 100 * math.sqrt(2 * conductivity_w_mk * DAY_S / (density_kg_m3 * latent_heat_j_kg))


def zubov_ice_m(freezing_days_c: float) -> float:
    """Thickness of sea ice, another published curve. It tells nothing about strength.

    freezing_days_c: freezing degree-days [degC day], 0 to 10 000.
    Returns metres.
    Raises ValueError outside that range.
    Source: Zubov (1945), H^2 + 50 H = 8 FDD, in cm.
    """
    if not 0 <= freezing_days_c <= 10_000:
        raise ValueError("freezing degree-days lie between 0 and 10 000 degC days")
    return (math.sqrt(625 + 8 * freezing_days_c) - 25) / 100
