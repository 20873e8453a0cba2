"""Density, pressure and oxygen of water, by name."""

from equipment.physics import units, water
from equipment.physics.atmosphere import SEA_LEVEL_PA, air_pressure_pa
from servicedesk.planning.calculations.engine import Calculation

INHG_PA = 3386.389  # conventional inch of mercury, NIST SP 811


def densest_water_c() -> float:
    """The temperature at which fresh water is densest.

    Returns degC, at one atmosphere.
    Source: Tanaka et al., Metrologia 38 (2001) 301-309, constant a1.
    """
    return water.DENSEST_AT_C


def foot_of_water_psi() -> float:
    """The pressure of one foot of water.

    Returns psi, at 4 degC and standard gravity.
    Source: hydrostatics, rho g h, with the density of Tanaka 2001.
    """
    foot_m = units.to_stored("length", 1, "ft")
    return units.from_stored("pressure", water.depth_pressure_pa(foot_m), "psi")


def depth_pressure(
    depth: float,
    depth_unit: str = "m",
    temperature_c: float = 4.0,
    gravity_m_s2: float = water.STANDARD_GRAVITY_M_S2,
) -> float:
    """The pressure of the water alone at a depth, as a gauge would read it.

    depth: of the diffuser below the surface, in `depth_unit`, 0 to 100 m.
    depth_unit: m or ft.
    temperature_c: mean of the water above [degC], -1 to 45.
    gravity_m_s2: [m/s2], 9.7 to 9.9.
    Returns kPa for a depth in metres, psi for one in feet.
    Raises ValueError outside those ranges.
    Source: hydrostatics, rho g h, with the density of Tanaka 2001.
    """
    if depth_unit not in {"m", "ft"}:
        raise ValueError("the depth is given in m or ft")
    depth_m = units.to_stored("length", depth, depth_unit)
    pascals = water.depth_pressure_pa(depth_m, temperature_c, gravity_m_s2)
    return units.from_stored("pressure", pascals, {"m": "kPa", "ft": "psi"}[depth_unit])


def usual_pressure_psi(depth_ft: float) -> float:
    """The gauge pressure that the trade allows for at a depth.

    depth_ft: of the diffuser [ft], 0 to 100.
    Returns psi: one for each two feet; the water alone asks for 0.433 a foot.
    Raises ValueError outside that range.
    Source: common practice, no source.
    """
    if not 0 <= depth_ft <= 100:
        raise ValueError("the depth must lie between 0 and 100 ft")
    return depth_ft / 2


def usual_pressure_band_psi(depth_ft: float) -> tuple[float, float]:
    """The gauge pressure at which the trade says that a pond of a depth runs.

    depth_ft: of the diffuser [ft], 0 to 100.
    Returns psi from and to; said of 12 ft (6 to 8 psi), carried to other depths by judgement.
    Raises ValueError outside that range.
    Source: common practice, no source.
    """
    low = usual_pressure_psi(depth_ft)
    return low, low + 2


def oxygen_saturation_mg_l(
    temperature_c: float,
    altitude_m: float | None = None,
    station_pressure_mmhg: float | None = None,
    station_pressure_inhg: float | None = None,
    pressure_kpa: float | None = None,
    pressure_atm: float | None = None,
    salinity: float = 0.0,
) -> float:
    """The oxygen that water holds when it is in balance with the air.

    temperature_c: of the water [degC], -1 to 45.
    altitude_m: of the pond [m], -430 to 9000; with nothing else the mean pressure up there
        counts, which weather moves by some 3 %.
    station_pressure_mmhg: read at the pond [mmHg], 225 to 900, never reduced to sea level.
    station_pressure_inhg: the same [inHg], 9 to 35.
    pressure_kpa: the same [kPa], 30 to 120.
    pressure_atm: the same [atm], 0.3 to 1.18; one of these four at most.
    salinity: practical salinity, 0 to 40; 0 for ponds.
    Returns mg/L; at one atmosphere where neither altitude nor pressure is given.
    Raises ValueError outside those ranges, or for a pressure that does not fit the altitude.
    Source: Benson & Krause (1980, 1984) as in Standard Methods 4500-O and USGS Technical
    Memorandum 2011.03; U.S. Standard Atmosphere, 1976.
    """
    read = (station_pressure_mmhg, station_pressure_inhg, pressure_kpa, pressure_atm)
    return water.oxygen_saturation_mg_l(temperature_c, _air_pa(altitude_m, *read), salinity)


def pressure_factor(temperature_c: float, pressure_atm: float) -> dict:
    """What another air pressure does to the oxygen that water holds.

    temperature_c: of the water [degC], -1 to 45.
    pressure_atm: of the air at the pond itself [atm], 0.3 to 1.18.
    Returns the factor beside the pressure itself, and the oxygen at saturation in mg/L.
    Raises ValueError outside those ranges.
    Source: Benson & Krause (1980), as in Standard Methods 4500-O, footnote of the table.
    """
    pascals = pressure_atm * SEA_LEVEL_PA
    return {
        "factor": water.pressure_factor(temperature_c, pascals),
        "Cp_mg_L": water.oxygen_saturation_mg_l(temperature_c, pascals),
    }


def percent_saturation(
    do_mg_l: float,
    temperature_c: float,
    altitude_m: float | None = None,
    station_pressure_mmhg: float | None = None,
    station_pressure_inhg: float | None = None,
) -> float:
    """Measured oxygen in percent of what the water would hold in balance with the air.

    do_mg_l: measured oxygen [mg/L], 0 to 40.
    temperature_c: of the water [degC], -1 to 45.
    altitude_m: of the pond [m], -430 to 9000.
    station_pressure_mmhg: read at the pond [mmHg], 225 to 900, never reduced to sea level.
    station_pressure_inhg: the same [inHg], 9 to 35; one of the two at most.
    Returns percent; against one atmosphere where neither altitude nor pressure is given.
    Raises ValueError outside those ranges, or for a pressure that does not fit the altitude.
    Source: ratio to the saturation of Benson & Krause; U.S. Standard Atmosphere, 1976.
    """
    pascals = _air_pa(altitude_m, station_pressure_mmhg, station_pressure_inhg)
    return water.percent_saturation(do_mg_l, temperature_c, pascals)


def pond_air_pa(altitude_m: float | None) -> float:
    """The mean pressure of the air over a pond.

    altitude_m: of the pond [m], -430 to 9000; None for sea level.
    Returns pascals, absolute.
    Raises ValueError outside that range: no pond lies there.
    Source: U.S. Standard Atmosphere, 1976; the range is a judgement.
    """
    if altitude_m is None:
        return SEA_LEVEL_PA
    if not -430 <= altitude_m <= 9000:
        raise ValueError("the altitude of a pond lies between -430 and 9000 m")
    return air_pressure_pa(altitude_m)


def _air_pa(altitude_m, mmhg=None, inhg=None, kpa=None, atm=None):
    """The air's pressure at the pond: as read there, or else the mean at its altitude."""
    factors = (water.MMHG_PA, INHG_PA, 1000, SEA_LEVEL_PA)
    read = [
        value * factor
        for value, factor in zip((mmhg, inhg, kpa, atm), factors, strict=True)
        if value is not None
    ]
    if len(read) > 1:
        raise ValueError("give the air's pressure once, in one unit")
    usual = pond_air_pa(altitude_m)
    if not read:
        return usual
    doubt = None if altitude_m is None else water.station_pressure_doubt(read[0], usual)
    if doubt:
        raise ValueError(doubt)
    return read[0]


_T = {"temperature_C": "temperature_c"}
_PRESSURES = {
    "station_pressure_mmHg": "station_pressure_mmhg",
    "station_pressure_inHg": "station_pressure_inhg",
}
_NUMBER = r"\d+(?:[. ]\d+)?"

CALCULATIONS = (
    Calculation(
        "water_density_kg_m3",
        water.water_density_kg_m3,
        (r"density of air.free (?:fresh )?water.*",),
        _T,
    ),
    Calculation(
        "lake_density_kg_m3", water.lake_density_kg_m3, (r"density by the lake formula.*",), _T
    ),
    Calculation(
        "densest_water_c", densest_water_c, (r"temperature of maximum density of fresh water.*",)
    ),
    Calculation(
        "foot_of_water_psi", foot_of_water_psi, (r"pressure of one conventional foot of water",)
    ),
    Calculation(
        "depth_pressure",
        depth_pressure,
        (r"hydrostatic gauge pressure at depth.*",),
        {**_T, "g_m_s2": "gravity_m_s2"},
    ),
    Calculation(
        "usual_pressure_psi",
        usual_pressure_psi,
        (r"rule of thumb:? operating pressure allowance",),
    ),
    Calculation(
        "usual_pressure_band_psi",
        usual_pressure_band_psi,
        (rf"rule of thumb:? band of operating pressure for a (?P<depth_ft>{_NUMBER}) ft pond",),
    ),
    Calculation(
        "oxygen_saturation_mg_l",
        oxygen_saturation_mg_l,
        (
            r"dissolved oxygen at 100 (?:% )?saturation.*",
            r"dissolved oxygen solubility,? water in equilibrium with air.*",
            r"dissolved oxygen at saturation at .*",
        ),
        {
            **_T,
            **_PRESSURES,
            "pressure_kPa": "pressure_kpa",
        },
    ),
    Calculation(
        "oxygen_pressure_factor",
        pressure_factor,
        (rf"pressure correction factor and oxygen solubility at (?P<pressure_atm>{_NUMBER}) atm",),
        _T,
    ),
    Calculation(
        "percent_saturation",
        percent_saturation,
        (r"percent oxygen saturation",),
        {**_T, **_PRESSURES, "do_mg_L": "do_mg_l"},
    ),
    Calculation(
        "oxygen_solubility_umol_kg",
        water.oxygen_solubility_umol_kg,
        (
            rf"oxygen solubility check point at salinity (?P<salinity>{_NUMBER}),?"
            rf" (?P<temperature_c>{_NUMBER}) degc",
        ),
        {**_T, "practical_salinity": "salinity"},
    ),
)
