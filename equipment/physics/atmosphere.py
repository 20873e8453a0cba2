"""The air around us: its pressure by altitude, its density and its viscosity."""

GAS_CONSTANT = 287.05287  # [J/kg/K] of dry air: 8314.32 / 28.9644, U.S. Standard Atmosphere, 1976
SEA_LEVEL_PA = 101_325.0
ZERO_C_K = 273.15
SEA_LEVEL_K = 288.15
LAPSE_K_M = 0.0065
_EARTH_RADIUS_M = 6_356_766.0
_EXPONENT = 9.80665 / (GAS_CONSTANT * LAPSE_K_M)
_LOWEST_M, _HIGHEST_M = -5000.0, 11_000.0


def air_pressure_pa(altitude_m: float) -> float:
    """Mean air pressure at an altitude.

    altitude_m: geometric metres above mean sea level, -5000 to 11 000.
    Returns pascals, absolute. Weather moves it by some 3 percent.
    Raises ValueError outside that range, where the lapse rate no longer holds.
    Source: U.S. Standard Atmosphere, 1976, lowest layer, with geopotential altitude.
    """
    return SEA_LEVEL_PA * (_standard_k(altitude_m) / SEA_LEVEL_K) ** _EXPONENT


def air_temperature_c(altitude_m: float) -> float:
    """Mean air temperature at an altitude in the standard atmosphere.

    altitude_m: geometric metres above mean sea level, -5000 to 11 000.
    Returns degrees Celsius.
    Raises ValueError outside that range.
    Source: U.S. Standard Atmosphere, 1976, lowest layer: 15 degC at sea level, 6.5 K less a km.
    """
    return _standard_k(altitude_m) - ZERO_C_K


def air_density_kg_m3(pressure_pa: float, temperature_c: float) -> float:
    """Density of dry air.

    pressure_pa: absolute pressure [Pa], 1000 to 10 000 000.
    temperature_c: [degC], -90 to 400.
    Returns kilograms per cubic metre.
    Raises ValueError outside those ranges; a gauge reading needs the air pressure added.
    Source: ideal gas law with the gas constant of the U.S. Standard Atmosphere, 1976.
    """
    if not 1000 <= pressure_pa <= 1e7:
        raise ValueError(
            f"An air pressure of {pressure_pa:g} Pa cannot be right. "
            "Give the absolute pressure in pascals: gauge reading plus air pressure."
        )
    return pressure_pa / (GAS_CONSTANT * kelvin(temperature_c))


def air_viscosity_pa_s(temperature_c: float) -> float:
    """Dynamic viscosity of air; pressure hardly changes it.

    temperature_c: [degC], -90 to 400.
    Returns pascal seconds.
    Raises ValueError outside that range.
    Source: Sutherland's law with the constants of the U.S. Standard Atmosphere, 1976.
    """
    k = kelvin(temperature_c)
    return 1.458e-6 * k**1.5 / (k + 110.4)


def kelvin(temperature_c: float) -> float:
    """A temperature of air on the absolute scale.

    temperature_c: [degC], -90 to 400.
    Returns kelvins.
    Raises ValueError outside that range.
    Source: the definition of the degree Celsius.
    """
    if not -90 <= temperature_c <= 400:
        raise ValueError(
            f"An air temperature of {temperature_c:g} °C cannot be right. "
            "Give degrees Celsius between -90 and 400."
        )
    return temperature_c + ZERO_C_K


def _standard_k(altitude_m):
    if not _LOWEST_M <= altitude_m <= _HIGHEST_M:
        raise ValueError(
            f"An altitude of {altitude_m:g} m lies outside the lowest layer of the atmosphere. "
            f"Give metres between {_LOWEST_M:.0f} and {_HIGHEST_M:.0f}."
        )
    geopotential_m = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    return SEA_LEVEL_K - LAPSE_K_M * geopotential_m
