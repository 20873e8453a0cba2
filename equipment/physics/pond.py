"""A pond as a body of water: how much it holds, how it layers, and what mixing gives.

Depths run down from the surface. Areas and readings are taken as straight lines between points.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from equipment.physics import water
from equipment.physics.atmosphere import SEA_LEVEL_PA

GRAVITY_M_S2 = 9.81  # as the lake packages use it in their indices
MIXED_WITHIN_C = 1.0  # a smaller range of temperatures counts as mixed; rLakeAnalyzer's default
METALIMNION_SLOPE = 0.1  # kg/m3 per metre; rLakeAnalyzer's default
_GAUSS = (  # places and weights on 0 to 1; exact for seventh powers
    (0.0694318442029737, 0.1739274225687269),
    (0.3300094782075719, 0.3260725774312731),
    (0.6699905217924281, 0.3260725774312731),
    (0.9305681557970263, 0.1739274225687269),
)


@dataclass(frozen=True)
class Mixed:
    """Water after its layers have mixed."""

    temperature_c: float
    oxygen_mg_l: float
    saturation_percent: float


def cone_volume_m3(radius_m: float, depth_m: float) -> float:
    """Volume of a pond that narrows evenly to a point.

    radius_m: of the surface [m], 0 to 5000.
    depth_m: at the middle [m], 0 to 100.
    Returns m3.
    Raises ValueError outside those ranges.
    Source: solid geometry.
    """
    return frustum_volume_m3(radius_m, 0, depth_m)


def frustum_volume_m3(top_radius_m: float, bottom_radius_m: float, depth_m: float) -> float:
    """Volume of a round pond with sloped sides and a flat bottom.

    top_radius_m: of the surface [m], 0 to 5000.
    bottom_radius_m: of the bottom [m], 0 to top_radius_m.
    depth_m: [m], 0 to 100.
    Returns m3.
    Raises ValueError outside those ranges.
    Source: solid geometry, h/3 (A1 + A2 + sqrt(A1 A2)).
    """
    if not 0 <= bottom_radius_m <= top_radius_m <= 5000:
        raise ValueError("radii lie between 0 and 5000 m, the bottom's not above the surface's")
    return _frustum(_depth(depth_m), math.pi * top_radius_m**2, math.pi * bottom_radius_m**2)


def sloped_rectangle_volume_m3(
    top_length_m: float, top_width_m: float, depth_m: float, slope_m_per_m: float
) -> float:
    """Volume of a rectangular pond whose four sides slope alike.

    top_length_m, top_width_m: of the surface [m], 0 to 10 000.
    depth_m: [m], 0 to 100.
    slope_m_per_m: [m out for 1 m down], 0 to 20.
    Returns m3.
    Raises ValueError outside those ranges, or where the sides meet above the bottom.
    Source: prismoidal formula, h/6 (At + 4 Am + Ab), exact here; the cone's formula is not.
    """
    if not (0 <= top_length_m <= 10_000 and 0 <= top_width_m <= 10_000):
        raise ValueError("length and width lie between 0 and 10 000 m")
    if not 0 <= slope_m_per_m <= 20:
        raise ValueError("the slope lies between 0 and 20 metres out for one metre down")
    narrows = 2 * slope_m_per_m * _depth(depth_m)
    if narrows > min(top_length_m, top_width_m) * (1 + 1e-12):
        raise ValueError("the sides meet before this depth: give less depth or a steeper slope")
    areas = [
        max(top_length_m - part * narrows, 0) * max(top_width_m - part * narrows, 0)
        for part in (0, 0.5, 1)
    ]
    return depth_m / 6 * (areas[0] + 4 * areas[1] + areas[2])


def table_volume_m3(
    depth_m: Sequence[float], area_m2: Sequence[float], rule: str = "trapezoid"
) -> float:
    """Volume from the areas inside the contours of a pond.

    depth_m: of each contour [m], 0 first and rising, to 100.
    area_m2: inside each contour [m2], 0 or more and never growing with depth.
    rule: `trapezoid` for areas straight between contours, `frustum` for truncated cones.
    Returns m3.
    Raises ValueError for other tables or rules.
    Source: trapezoid rule; truncated cones as in Hutchinson (1957) and Wetzel & Likens,
    Limnological Analyses.
    """
    depths, areas = _contours(depth_m, area_m2)
    if rule not in {"trapezoid", "frustum"}:
        raise ValueError("the rule is trapezoid or frustum")
    layers = zip(pairwise(depths), pairwise(areas), strict=True)
    if rule == "frustum":
        return sum(_frustum(low - high, *two) for (high, low), two in layers)
    return sum((low - high) * sum(two) / 2 for (high, low), two in layers)


def mixed_value(
    depth_m: Sequence[float],
    area_m2: Sequence[float],
    reading_depth_m: Sequence[float],
    readings: Sequence[float],
) -> float:
    """What a reading becomes when the whole pond mixes, such as temperature or oxygen.

    depth_m: of each contour [m], 0 first and rising.
    area_m2: inside each contour [m2], never growing with depth.
    reading_depth_m: of each reading [m], rising; the first holds to the surface, the last to
        the bottom.
    readings: at those depths, in any unit.
    Returns the mean by volume, in the readings' unit.
    Raises ValueError for tables that do not fit.
    Source: integral of reading times area over integral of area. For oxygen an upper bound:
    what bottom water without oxygen uses up on mixing is not in it.
    """
    slices = _slices(depth_m, area_m2, reading_depth_m, readings)
    return _mean(((reading, weight) for _, weight, reading in slices))


def schmidt_stability_j_m2(
    depth_m: Sequence[float],
    area_m2: Sequence[float],
    reading_depth_m: Sequence[float],
    temperature_c: Sequence[float],
) -> float:
    """Work that would mix a layered pond, for each square metre of its surface.

    depth_m: of each contour [m], 0 first and rising.
    area_m2: inside each contour [m2], never growing with depth.
    reading_depth_m: of each temperature [m], rising; the first holds to the surface, the last
        to the bottom.
    temperature_c: [degC], -1 to 45.
    Returns J/m2; 0 where all water is alike, below 0 where heavier water lies above.
    Raises ValueError for tables that do not fit.
    Source: Idso (1973), with the density of Martin & McCutcheon (1999), straight between the
    readings. Published programs differ by 12 % on one example.
    """
    density = [water.lake_density_kg_m3(t) for t in temperature_c]
    slices = _slices(depth_m, area_m2, reading_depth_m, density)
    centre = _mean((z, weight) for z, weight, _ in slices)
    moment = sum((z - centre) * weight * (heavy - density[0]) for z, weight, heavy in slices)
    return GRAVITY_M_S2 * moment / area_m2[0]


def two_layer_stability_j_m2(
    depth_m: float, upper_layer_m: float, upper_c: float, lower_c: float
) -> float:
    """Work that would mix two layers of a pond with straight sides.

    depth_m: of the pond [m], 0 to 100.
    upper_layer_m: thickness of the upper layer [m], 0 to depth_m.
    upper_c, lower_c: temperatures of the layers [degC], -1 to 45.
    Returns J/m2 of surface; below 0 where the heavier water lies above.
    Raises ValueError outside those ranges.
    Source: closed form of Schmidt stability, g (r2 - r1) h1 (H - h1) / 2.
    """
    if not 0 <= upper_layer_m <= _depth(depth_m):
        raise ValueError("the upper layer cannot be thicker than the pond is deep")
    heavier = water.lake_density_kg_m3(lower_c) - water.lake_density_kg_m3(upper_c)
    return GRAVITY_M_S2 * heavier * upper_layer_m * (depth_m - upper_layer_m) / 2


def density_gradients(depth_m: Sequence[float], temperature_c: Sequence[float]) -> list[float]:
    """How much heavier water gets with depth, between each two readings.

    depth_m: of each temperature [m], rising, 2 readings or more.
    temperature_c: [degC], -1 to 45.
    Returns kg/m3 per metre for each step; below 0 where heavier water lies above.
    Raises ValueError for tables that do not fit.
    Source: density of Martin & McCutcheon (1999).
    """
    depths = _rising(depth_m, temperature_c)
    density = [water.lake_density_kg_m3(t) for t in temperature_c]
    return [
        (heavy - light) / (low - high)
        for (high, low), (light, heavy) in zip(pairwise(depths), pairwise(density), strict=True)
    ]


def inversely_layered(depth_m: Sequence[float], temperature_c: Sequence[float]) -> bool:
    """Whether a pond lies in its winter order: colder water stably on warmer.

    depth_m: of each temperature [m], rising, 2 readings or more.
    temperature_c: [degC], -1 to 45.
    Returns True when it is warmer below and each step down is heavier.
    Source: water is densest near 4 degC.
    """
    heavier = all(step > 0 for step in density_gradients(depth_m, temperature_c))
    return heavier and temperature_c[-1] > temperature_c[0]


def thermocline_m(
    depth_m: Sequence[float], temperature_c: Sequence[float], seasonal: bool = False
) -> float | None:
    """Depth at which density grows fastest.

    depth_m: of each temperature [m], rising.
    temperature_c: [degC], -1 to 45.
    seasonal: whether to take the lowest clear step where there are several.
    Returns metres below the surface; None with under 3 readings, within one degree from top to
    bottom, or where nothing gets heavier with depth.
    Source: Read et al., Environmental Modelling & Software 26 (2011) 1325: the steepest density
    step, weighted by its neighbours.
    """
    steps = density_gradients(depth_m, temperature_c)
    mixed = max(temperature_c) - min(temperature_c) < MIXED_WITHIN_C
    if len(steps) < 2 or mixed or max(steps) <= 0:
        return None
    steepest = steps.index(max(steps))
    if seasonal:
        least = max(0.15 * steps[steepest], METALIMNION_SLOPE)
        peaks = [
            i
            for i in range(1, len(steps) - 1)
            if steps[i - 1] < steps[i] >= steps[i + 1] and steps[i] > least
        ]
        if peaks and peaks[-1] > steepest + 1:
            steepest = peaks[-1]
    return _weighted_depth(depth_m, steps, steepest)


def metalimnion_m(
    depth_m: Sequence[float],
    temperature_c: Sequence[float],
    slope_kg_m3_m: float = METALIMNION_SLOPE,
) -> tuple[float, float] | None:
    """Top and bottom of the layer in which density changes fast.

    depth_m: of each temperature [m], rising.
    temperature_c: [degC], -1 to 45.
    slope_kg_m3_m: the change with depth that counts as fast [kg/m3 per m], above 0 to 10.
    Returns both depths [m]; None where there is no thermocline, or nowhere such a change.
    Raises ValueError for another slope.
    Source: Read et al., Environmental Modelling & Software 26 (2011) 1325. It hangs on the
    slope, and published programs differ: advice only.
    """
    if not 0 < slope_kg_m3_m <= 10:
        raise ValueError("the slope lies above 0 and up to 10 kg/m3 per metre")
    middle = thermocline_m(depth_m, temperature_c)
    if middle is None:
        return None
    steps = density_gradients(depth_m, temperature_c)
    halves = [(high + low) / 2 for high, low in pairwise(depth_m)]
    at_middle = _between(middle, halves, steps)
    if at_middle < slope_kg_m3_m:
        return None
    points = list(zip(halves, steps, strict=True))
    above = [(middle, at_middle), *(point for point in reversed(points) if point[0] < middle)]
    below = [(middle, at_middle), *(point for point in points if point[0] > middle)]
    top = _crossing(above, slope_kg_m3_m)
    bottom = _crossing(below, slope_kg_m3_m)
    return (depth_m[0] if top is None else top, depth_m[-1] if bottom is None else bottom)


def turned_over(
    upper_m3: float,
    upper_c: float,
    upper_mg_l: float,
    lower_m3: float,
    lower_c: float,
    lower_mg_l: float,
    pressure_pa: float = SEA_LEVEL_PA,
) -> Mixed:
    """What two layers of a pond become when they mix.

    upper_m3, lower_m3: volumes [m3], 0 to 1e9, not both 0.
    upper_c, lower_c: temperatures [degC], -1 to 45.
    upper_mg_l, lower_mg_l: oxygen [mg/L], 0 to 40.
    pressure_pa: of the air at the pond itself [Pa], 30 000 to 120 000.
    Returns temperature, oxygen, and percent of saturation.
    Raises ValueError outside those ranges.
    Source: balance of heat and mass. An upper bound for oxygen: what bottom water without
    oxygen uses up on mixing is not in it.
    """
    if not (0 <= upper_m3 <= 1e9 and 0 <= lower_m3 <= 1e9 and upper_m3 + lower_m3 > 0):
        raise ValueError("volumes lie between 0 and 1e9 m3, and one of them above 0")
    if not (0 <= upper_mg_l <= 40 and 0 <= lower_mg_l <= 40):
        raise ValueError("dissolved oxygen must lie between 0 and 40 mg/L")
    for warmth in (upper_c, lower_c):
        water.water_density_kg_m3(warmth)  # refuses what no pond water can be
    temperature = _mean(((upper_c, upper_m3), (lower_c, lower_m3)))
    oxygen = _mean(((upper_mg_l, upper_m3), (lower_mg_l, lower_m3)))
    percent = water.percent_saturation(oxygen, temperature, pressure_pa)
    return Mixed(temperature, oxygen, percent)


def _depth(depth_m):
    if not 0 <= depth_m <= 100:
        raise ValueError("the depth must lie between 0 and 100 m")
    return depth_m


def _frustum(height, top, bottom):
    return height / 3 * (top + bottom + math.sqrt(top * bottom))


def _rising(depths, values):
    if not 2 <= len(depths) <= 1000:
        raise ValueError("give between 2 and 1000 depths")
    if len(values) != len(depths):
        raise ValueError(f"{len(depths)} depths and {len(values)} values do not pair up")
    if not 0 <= depths[0] < depths[-1] <= 100 or any(a >= b for a, b in pairwise(depths)):
        raise ValueError("depths lie between 0 and 100 m, each deeper than the one before")
    return depths


def _contours(depths, areas):
    _rising(depths, areas)
    if depths[0] != 0:
        raise ValueError("the first area belongs to the surface: its depth is 0")
    if areas[0] <= 0 or areas[-1] < 0 or any(low > high for high, low in pairwise(areas)):
        raise ValueError("areas are above 0 at the surface and never grow with depth")
    return depths, areas


def _slices(depths, areas, reading_depths, readings):
    """Thin slices as (depth, volume, reading)."""
    _contours(depths, areas)
    _rising(reading_depths, readings)
    if reading_depths[0] >= depths[-1]:
        raise ValueError("every reading lies below the bottom of the pond")
    edges = sorted({*depths, *(d for d in reading_depths if d < depths[-1])})
    return [
        (
            z,
            weight * (low - high) * _between(z, depths, areas),
            _between(z, reading_depths, readings),
        )
        for high, low in pairwise(edges)
        for part, weight in _GAUSS
        for z in (high + part * (low - high),)
    ]


def _between(at, places, values):
    """The value at a place, straight between its neighbours and held beyond the ends."""
    if at <= places[0]:
        return values[0]
    for (left, right), (first, second) in zip(pairwise(places), pairwise(values), strict=True):
        if at <= right:
            return first + (second - first) * (at - left) / (right - left)
    return values[-1]


def _mean(pairs):
    pairs = list(pairs)
    return sum(value * weight for value, weight in pairs) / sum(weight for _, weight in pairs)


def _weighted_depth(depths, steps, i):
    """The place within a step to which steep neighbours draw the thermocline."""
    high, low = depths[i], depths[i + 1]
    if not 0 < i < len(steps) - 1 or steps[i] in (steps[i - 1], steps[i + 1]):
        return (high + low) / 2
    up = (high - depths[i - 1]) / (steps[i] - steps[i - 1])
    down = (low - high) / (steps[i] - steps[i + 1])
    return (low * down + high * up) / (down + up)


def _crossing(points, slope):
    """Where the steps fall below a slope on the way out from the thermocline; None if nowhere.

    Between the first step below the slope and the least steep one before it, as the published
    method does it.
    """
    for i, (far, gentle) in enumerate(points):
        if gentle < slope:
            near, steep = min(points[:i], key=lambda point: point[1])
            return near + (far - near) * (steep - slope) / (steep - gentle)
    return None
