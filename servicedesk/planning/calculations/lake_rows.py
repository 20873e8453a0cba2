"""Volume, mixing and layering of a pond, and published oxygen limits, by name."""

from equipment.physics import oxygen, pond, units
from servicedesk.planning.calculations.engine import Calculation
from servicedesk.planning.calculations.water_rows import pond_air_pa


def acre_feet(acre_ft: float) -> dict:
    """Acre-feet in cubic metres and US gallons.

    acre_ft: [acre-feet], 0 to 1e6.
    Returns m3, and US gallons.
    Raises ValueError outside that range.
    Source: NIST SP 811 (2008), appendix B; international foot, acre of 43 560 square feet.
    """
    if not 0 <= acre_ft <= 1e6:
        raise ValueError("acre-feet lie between 0 and 1 000 000")
    m3 = units.to_stored("volume", acre_ft, "acre-ft")
    return {"m3": m3, "US_gal": units.from_stored("volume", m3, "US gal")}


def table_volume_m3(depth_m: list[float], area_m2: list[float]) -> float:
    """The volume of a pond from the areas inside its depth contours.

    depth_m: of each contour [m], 0 first and rising, to 100; a list.
    area_m2: inside each contour [m2], never growing with depth; a list.
    Returns m3, with areas straight between the contours.
    Raises ValueError for lists that do not fit.
    Source: trapezoid rule.
    """
    return pond.table_volume_m3(depth_m, area_m2)


def table_volume_by_cones_m3(depth_m: list[float], area_m2: list[float]) -> float:
    """The volume of a pond from the areas inside its depth contours, as truncated cones.

    depth_m: of each contour [m], 0 first and rising, to 100; a list.
    area_m2: inside each contour [m2], never growing with depth; a list.
    Returns m3; a little less than with straight areas.
    Raises ValueError for lists that do not fit.
    Source: truncated cones as in Hutchinson (1957) and Wetzel & Likens, Limnological Analyses.
    """
    return pond.table_volume_m3(depth_m, area_m2, "frustum")


def mixed_temperature_c(
    depth_m: list[float],
    area_m2: list[float],
    temperature_c: list[float],
    bathymetry_depth_m: list[float] | None = None,
) -> float:
    """The temperature of a pond once it has mixed from top to bottom.

    depth_m: of each temperature [m], rising, to 100; a list.
    area_m2: inside the contour at each depth [m2], never growing with depth; a list.
    temperature_c: at those depths [degC], -1 to 45; a list.
    bathymetry_depth_m: depths of the areas [m] where they are others; 0 first.
    Returns degC, the mean by volume.
    Raises ValueError for lists that do not fit.
    Source: integral of temperature times area over integral of area.
    """
    return pond.mixed_value(bathymetry_depth_m or depth_m, area_m2, depth_m, temperature_c)


def mixed_oxygen_mg_l(
    depth_m: list[float],
    area_m2: list[float],
    do_mg_l: list[float],
    bathymetry_depth_m: list[float] | None = None,
) -> float:
    """The oxygen of a pond once it has mixed from top to bottom, at best.

    depth_m: of each reading [m], rising, to 100; a list.
    area_m2: inside the contour at each depth [m2], never growing with depth; a list.
    do_mg_l: oxygen at those depths [mg/L], 0 to 40; a list.
    bathymetry_depth_m: depths of the areas [m] where they are others; 0 first.
    Returns mg/L, the mean by volume; what bottom water without oxygen uses up is not in it.
    Raises ValueError for lists that do not fit.
    Source: integral of oxygen times area over integral of area.
    """
    if not all(0 <= part <= 40 for part in do_mg_l):
        raise ValueError("dissolved oxygen must lie between 0 and 40 mg/L")
    return pond.mixed_value(bathymetry_depth_m or depth_m, area_m2, depth_m, do_mg_l)


def schmidt_stability_j_m2(
    depth_m: list[float],
    temperature_c: list[float],
    area_m2: list[float] | None = None,
    bathymetry_depth_m: list[float] | None = None,
    bathymetry_area_m2: list[float] | None = None,
) -> float:
    """The work that would mix a layered pond, for each square metre of its surface.

    depth_m: of each temperature [m], rising, to 100; a list.
    temperature_c: at those depths [degC], -1 to 45; a list.
    area_m2: inside the contour at each of those depths [m2]; a list.
    bathymetry_depth_m, bathymetry_area_m2: the contours where they lie at other depths; the
        last temperature then holds to the bottom.
    Returns J/m2; 0 where all water is alike, below 0 where heavier water lies above.
    Raises ValueError for lists that do not fit.
    Source: Idso (1973), with the density of Martin & McCutcheon (1999). Published programs
    differ by 12 % on one example.
    """
    areas = bathymetry_area_m2 or area_m2
    if not areas:
        raise ValueError("give the areas: area_m2, or bathymetry_depth_m and bathymetry_area_m2")
    contours = bathymetry_depth_m or depth_m
    return pond.schmidt_stability_j_m2(contours, areas, depth_m, temperature_c)


def metalimnion_m(
    depth_m: list[float], temperature_c: list[float], slope: float = pond.METALIMNION_SLOPE
) -> tuple[float, float] | None:
    """The top and the bottom of the layer in which density changes fast.

    depth_m: of each temperature [m], rising, to 100; a list.
    temperature_c: at those depths [degC], -1 to 45; a list.
    slope: the change that counts as fast [kg/m3 per m], above 0 to 10.
    Returns both depths [m]; nothing where the pond is mixed or density nowhere changes so fast.
    Raises ValueError for lists that do not fit.
    Source: Read et al., Environmental Modelling & Software 26 (2011) 1325. It hangs on the
    slope, and published programs differ: advice only.
    """
    return pond.metalimnion_m(depth_m, temperature_c, slope)


def thermocline_m(
    depth_m: list[float], temperature_c: list[float], seasonal: bool = False
) -> float | None:
    """The depth at which density grows fastest.

    depth_m: of each temperature [m], rising, to 100; a list.
    temperature_c: at those depths [degC], -1 to 45; a list.
    seasonal: whether to take the lowest clear step where there are several.
    Returns metres below the surface; nothing with under 3 readings or within one degree.
    Raises ValueError for lists that do not fit.
    Source: Read et al., Environmental Modelling & Software 26 (2011) 1325.
    """
    return pond.thermocline_m(depth_m, temperature_c, seasonal)


def inversely_layered(depth_m: list[float], temperature_c: list[float]) -> bool:
    """Whether a pond lies in its winter order: colder water stably on warmer.

    depth_m: of each temperature [m], rising, to 100; a list.
    temperature_c: at those depths [degC], -1 to 45; a list.
    Returns true when it is warmer below and each step down is heavier.
    Raises ValueError for lists that do not fit.
    Source: water is densest near 4 degC; density of Martin & McCutcheon (1999).
    """
    return pond.inversely_layered(depth_m, temperature_c)


def density_gradients(depth_m: list[float], temperature_c: list[float]) -> list[float]:
    """How much heavier water gets with depth, between each two readings.

    depth_m: of each temperature [m], rising, to 100; a list.
    temperature_c: at those depths [degC], -1 to 45; a list.
    Returns kg/m3 per metre for each step; below 0 where heavier water lies above.
    Raises ValueError for lists that do not fit.
    Source: density of Martin & McCutcheon (1999).
    """
    return pond.density_gradients(depth_m, temperature_c)


def turned_over(
    upper_m3: float,
    upper_c: float,
    upper_do: float,
    lower_m3: float,
    lower_c: float,
    lower_do: float,
    altitude_m: float | None = None,
) -> dict:
    """What the two layers of a pond become when they turn over.

    upper_m3, lower_m3: volumes [m3], 0 to 1e9, not both 0.
    upper_c, lower_c: temperatures [degC], -1 to 45.
    upper_do, lower_do: oxygen [mg/L], 0 to 40.
    altitude_m: of the pond [m], -430 to 9000; one atmosphere where it is not given.
    Returns temperature in degC, oxygen in mg/L, and percent of saturation; oxygen at best: what
        bottom water without oxygen uses up is not in it.
    Raises ValueError outside those ranges.
    Source: balance of heat and mass; saturation of Benson & Krause.
    """
    air_pa = pond_air_pa(altitude_m)
    mixed = pond.turned_over(upper_m3, upper_c, upper_do, lower_m3, lower_c, lower_do, air_pa)
    return {
        "temperature_C": mixed.temperature_c,
        "do_mg_L": mixed.oxygen_mg_l,
        "saturation_pct": mixed.saturation_percent,
    }


def oxygen_criterion_mg_l(water: str, period: str, life: str) -> float:
    """What the US agency asks of dissolved oxygen for a kind of water and of fish.

    water: coldwater or warmwater.
    period: 30-day mean, 7-day mean, 7-day mean minimum or 1-day minimum.
    life: early for eggs, larvae and young, in the water column; other for older fish.
    Returns mg/L; minima are to be met at all times.
    Raises ValueError where the table has no figure.
    Source: US EPA 440/5-86-003 (1986), table 1, as repeated in fact sheet 841F21007B (2021);
    coldwater 1-day early, and warmwater 30-day, 7-day mean and 7-day mean minimum, from memory.
    """
    period = period.lower().replace(" day", "-day")
    return oxygen.criterion(water.lower(), period, life.lower()).mg_l


def warmwater_stress_mg_l() -> float:
    """The oxygen below which most warm-water species are stressed.

    Returns mg/L.
    Source: Texas A&M AgriLife Extension, page on low dissolved oxygen.
    """
    return oxygen.WARMWATER_STRESS.mg_l


def some_species_die_mg_l() -> float:
    """The oxygen below which some species die.

    Returns mg/L.
    Source: Texas A&M AgriLife Extension, page on low dissolved oxygen.
    """
    return oxygen.SOME_DIE.mg_l


def anoxic_mg_l() -> float:
    """The oxygen below which water is called anoxic.

    Returns mg/L.
    Source: US EPA fact sheet 841F21007B (2021).
    """
    return oxygen.ANOXIC.mg_l


_T = {"temperature_C": "temperature_c"}
_DO = {"do_mg_L": "do_mg_l"}
_TWO = {"upper_C": "upper_c", "lower_C": "lower_c"}

CALCULATIONS = (
    Calculation("cone_volume_m3", pond.cone_volume_m3, (r"pond volume,? cone",)),
    Calculation("frustum_volume_m3", pond.frustum_volume_m3, (r"pond volume,? conical frustum",)),
    Calculation(
        "sloped_rectangle_volume_m3",
        pond.sloped_rectangle_volume_m3,
        (r"pond volume,? rectangular with sloped sides.*",),
        {"side_slope_h_per_v": "slope_m_per_m"},
    ),
    Calculation(
        "table_volume_m3",
        table_volume_m3,
        (r"pond volume from an area.depth table,? trapezoid rule",),
    ),
    Calculation(
        "table_volume_by_cones_m3",
        table_volume_by_cones_m3,
        (r"pond volume from an area.depth table,? frustum rule",),
    ),
    Calculation("acre_feet", acre_feet, (r"acre.feet to cubic met(?:re|er)s and us gallons",)),
    Calculation(
        "mixed_temperature_c",
        mixed_temperature_c,
        (r"volume.weighted mean temperature.*",),
        _T,
    ),
    Calculation(
        "mixed_oxygen_mg_l",
        mixed_oxygen_mg_l,
        (r"volume.weighted mean dissolved oxygen.*",),
        _DO,
    ),
    Calculation(
        "two_layer_stability_j_m2",
        pond.two_layer_stability_j_m2,
        (r"schmidt stability of a two.layer straight.sided pond.*",),
        _TWO,
    ),
    Calculation("schmidt_stability_j_m2", schmidt_stability_j_m2, (r"schmidt stability.*",), _T),
    Calculation("thermocline_m", thermocline_m, (r"thermocline depth.*",), _T),
    Calculation(
        "metalimnion_m",
        metalimnion_m,
        (
            r"metalimnion top and bottom.* slope (?P<slope>\d+(?:[. ]\d+)?) kg.*",
            r"metalimnion top and bottom.*",
        ),
        _T,
    ),
    Calculation("density_gradients", density_gradients, (r"density gradient.*",), _T),
    Calculation(
        "inversely_layered",
        inversely_layered,
        (r"inverse (?:winter )?stratification.*",),
        _T,
    ),
    Calculation("turned_over", turned_over, (r"two.layer turnover.*",), _TWO),
    Calculation(
        "oxygen_criterion_mg_l",
        oxygen_criterion_mg_l,
        (
            r"(?P<water>coldwater|warmwater) (?P<period>\d+.day (?:mean minimum|mean|minimum)),?"
            r" (?P<life>early|other) life stages.*",
        ),
    ),
    Calculation(
        "warmwater_stress_mg_l",
        warmwater_stress_mg_l,
        (r"oxygen below which most warmwater species are stressed",),
    ),
    Calculation(
        "some_species_die_mg_l", some_species_die_mg_l, (r"oxygen below which some species die",)
    ),
    Calculation("anoxic_mg_l", anoxic_mg_l, (r"water called anoxic below",)),
)
