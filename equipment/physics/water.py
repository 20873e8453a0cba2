"""Water of a pond: its density, its pressure at depth, and the oxygen that it can hold."""

import math

from equipment.physics.atmosphere import SEA_LEVEL_PA, ZERO_C_K

STANDARD_GRAVITY_M_S2 = 9.80665  # CGPM 1901
MMHG_PA = SEA_LEVEL_PA / 760
DENSEST_AT_C = 3.983035  # Tanaka 2001, constant a1


def water_density_kg_m3(temperature_c: float) -> float:
    """Density of air-free fresh water under one atmosphere.

    temperature_c: [degC], -1 to 45; the formula is stated for 0 to 40 and carried on to both sides.
    Returns kg/m3.
    Raises ValueError outside that range.
    Source: Tanaka et al., Metrologia 38 (2001) 301-309, equation 1.
    """
    t = _temperature(temperature_c)
    lighter = (t - DENSEST_AT_C) ** 2 * (t + 301.797) / (522_528.9 * (t + 69.34881))
    return 999.974950 * (1 - lighter)


def lake_density_kg_m3(temperature_c: float) -> float:
    """Density of fresh water by the formula that lake physics uses for layering.

    temperature_c: [degC], -1 to 45.
    Returns kg/m3; up to 0.03 above the standard tables, which cancels along a profile.
    Raises ValueError outside that range.
    Source: Martin & McCutcheon, Hydrodynamics and Transport for Water Quality Modeling (1999).
    """
    t = _temperature(temperature_c)
    return 1000 * (1 - (t + 288.9414) * (t - 3.9863) ** 2 / (508_929.2 * (t + 68.12963)))


def depth_pressure_pa(
    depth_m: float,
    temperature_c: float = 4.0,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float:
    """Pressure that fresh water adds at a depth.

    depth_m: below the surface [m], 0 to 100.
    temperature_c: mean of the water above [degC], -1 to 45; 20 degC takes 0.2 % off.
    gravity_m_s2: 9.7 to 9.9; standard gravity unless another is named.
    Returns pascals above the air's own pressure.
    Raises ValueError outside those ranges.
    Source: hydrostatics, rho g h; standard gravity of the CGPM (1901).
    """
    if not 0 <= depth_m <= 100:
        raise ValueError("the depth must lie between 0 and 100 m")
    if not 9.7 <= gravity_m_s2 <= 9.9:
        raise ValueError("gravity must lie between 9.7 and 9.9 m/s2")
    return water_density_kg_m3(temperature_c) * gravity_m_s2 * depth_m


def oxygen_saturation_mg_l(
    temperature_c: float, pressure_pa: float = SEA_LEVEL_PA, salinity: float = 0.0
) -> float:
    """Oxygen that water holds in balance with moist air.

    temperature_c: of the water [degC], -1 to 45; the equation is stated for 0 to 40.
    pressure_pa: of the air at the pond itself [Pa], 30 000 to 120 000, never reduced to sea level.
    salinity: practical salinity, 0 to 40; 0 for ponds.
    Returns mg/L.
    Raises ValueError outside those ranges.
    Source: Benson & Krause (1980, 1984) as in Standard Methods 4500-O and USGS Office of Water
    Quality Technical Memorandum 2011.03.
    """
    t = _temperature(temperature_c) + ZERO_C_K
    fresh = math.exp(
        -139.34411 + 1.575701e5 / t - 6.642308e7 / t**2 + 1.243800e10 / t**3 - 8.621949e11 / t**4
    )
    salt = math.exp(-_salinity(salinity) * (0.017674 - 10.754 / t + 2140.7 / t**2))
    atmospheres = pressure_pa / SEA_LEVEL_PA
    return fresh * salt * atmospheres * pressure_factor(temperature_c, pressure_pa)


def pressure_factor(temperature_c: float, pressure_pa: float) -> float:
    """What water vapour and the second virial term leave of oxygen at another pressure.

    temperature_c: of the water [degC], -1 to 45.
    pressure_pa: of the air at the pond itself [Pa], 30 000 to 120 000.
    Returns the factor beside the pressure in atmospheres; 1 at one atmosphere.
    Raises ValueError outside those ranges.
    Source: Benson & Krause (1980), as in Standard Methods 4500-O, footnote of the table.
    """
    t = _temperature(temperature_c)
    if not 30_000 <= pressure_pa <= 120_000:
        raise ValueError(
            "the air's pressure at the pond must lie between 30 and 120 kPa (225 and 900 mmHg)"
        )
    p = pressure_pa / SEA_LEVEL_PA
    kelvin = t + ZERO_C_K
    vapour = math.exp(11.8571 - 3840.70 / kelvin - 216_961 / kelvin**2)
    theta = 0.000975 - 1.426e-5 * t + 6.436e-8 * t**2
    return (1 - vapour / p) * (1 - theta * p) / ((1 - vapour) * (1 - theta))


def percent_saturation(
    oxygen_mg_l: float, temperature_c: float, pressure_pa: float = SEA_LEVEL_PA
) -> float:
    """Oxygen in the water against what it would hold in balance with the air.

    oxygen_mg_l: measured [mg/L], 0 to 40.
    temperature_c: of the water [degC], -1 to 45.
    pressure_pa: of the air at the pond itself [Pa], 30 000 to 120 000.
    Returns percent.
    Raises ValueError outside those ranges.
    Source: ratio to the saturation of Benson & Krause.
    """
    if not 0 <= oxygen_mg_l <= 40:
        raise ValueError("dissolved oxygen must lie between 0 and 40 mg/L")
    return 100 * oxygen_mg_l / oxygen_saturation_mg_l(temperature_c, pressure_pa)


def oxygen_solubility_umol_kg(temperature_c: float, salinity: float = 0.0) -> float:
    """Oxygen that salt or fresh water holds at one atmosphere, by mass of water.

    temperature_c: [degC], -1 to 45; the fit is stated for freezing point to 40.
    salinity: practical salinity, 0 to 40.
    Returns micromoles per kilogram.
    Raises ValueError outside those ranges.
    Source: Garcia & Gordon, Limnol. Oceanogr. 37 (1992) 1307, fit to Benson & Krause.
    """
    s = _salinity(salinity)
    t = _temperature(temperature_c)
    scaled = math.log((298.15 - t) / (ZERO_C_K + t))
    fresh = (5.80871, 3.20291, 4.17887, 5.10006, -9.86643e-2, 3.80369)
    salt = (-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3)
    power = sum(a * scaled**n for n, a in enumerate(fresh))
    power += s * sum(b * scaled**n for n, b in enumerate(salt)) - 2.75915e-7 * s**2
    return math.exp(power)


def station_pressure_doubt(pressure_pa: float, expected_pa: float) -> str | None:
    """Why a barometer's figure is probably not the pressure at the pond.

    pressure_pa: as read [Pa], above 0.
    expected_pa: mean pressure at the pond's altitude [Pa], above 0.
    Returns a sentence that says what to do, or None when weather explains the difference.
    Source: our own rule; 5 % above and 8 % below the mean are a judgement.
    """
    if -0.08 <= pressure_pa / expected_pa - 1 <= 0.05:
        return None
    return (
        f"{pressure_pa / 100:.0f} hPa ({pressure_pa / MMHG_PA:.0f} mmHg) does not fit this "
        f"altitude, where about {expected_pa / 100:.0f} hPa "
        f"({expected_pa / MMHG_PA:.0f} mmHg) is usual. Weather reports reduce a barometer to "
        "sea level: read one at the pond, or give the altitude alone."
    )


def _temperature(temperature_c):
    if not -1 <= temperature_c <= 45:
        raise ValueError(
            "the water's temperature must lie between -1 and 45 degC (30 and 113 degF)"
        )
    return temperature_c


def _salinity(salinity):
    if not 0 <= salinity <= 40:
        raise ValueError("salinity must lie between 0 and 40; it is 0 in ponds")
    return salinity
