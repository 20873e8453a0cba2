"""Lines, valves and gauges of the demo's systems, and what ails a few of them, through physics."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache, lru_cache
from random import Random

from equipment.actions.rigs import CHECK_VALVE_PA, WATER_C
from equipment.physics import units
from equipment.physics.atmosphere import air_pressure_pa
from equipment.physics.compressor import Curve, curve_at_site, typical_curve
from equipment.physics.network import (
    OPENING_PA,
    SLOPE_PA_PER_L_MIN,
    Line,
    OperatingPoint,
    operating_point,
    valve_settings,
)
from equipment.physics.valve import throttle_pa_per_l_min2, valve_open_percent

LONG_M, MUCH_AIR_L_MIN, OF_A_MEMBRANE_L_MIN = 55.0, 80.0, 45.0
BORES_M = (0.0127, 0.0159)  # half an inch, and five eighths for what is long
GAUGE_PSI, GAUGE_PERCENT = 15.0, 2.0
FOULING_PA_A_YEAR = 250.0
FOULED_PA, LEAK_SHARE, WORN = 9500.0, 0.55, 0.6  # at worst: pascals, share of the air, share of it
SLOW_DAYS, LEAKS_FOR_DAYS = 330, 30
FOULS, LEAKS, WEARS = 0.05, 0.02, 0.02  # shares of the systems that nobody tells a story of
FLOOD_REGION, FLOOD_DAYS_AGO, FLOOD_M = "Lake country", range(13, 20), 0.75


@dataclass(frozen=True)
class Plumbing:
    """The lines of one system as they were laid, and its valves as they were set."""

    lengths_m: tuple[float, ...]
    bores_m: tuple[float, ...]
    membranes: int
    valves_percent: tuple[float, ...]
    air_pa: float


@dataclass(frozen=True)
class Ailment:
    """What lasts: a fault that grows from a day on, or is there at once."""

    kind: str  # fouled, leaking, worn, or nothing
    since: date
    sudden: bool = False

    def grown(self, day: date, today: date) -> float:
        """From 0 before it began to 1 today."""
        if day < self.since:
            return 0.0
        return 1.0 if self.sudden else (day - self.since).days / max(1, (today - self.since).days)


def plumb(key: str, curve: Curve, depths_m: Sequence[float], elevation_m: float) -> Plumbing:
    """Lines of a system, drawn by its key, with valves that share the air among its plates."""
    draw = Random(f"lines of {key}")
    lengths = tuple(float(round(draw.uniform(18, 85))) for _ in depths_m)
    each_l_min = curve.points[0][1] / len(depths_m)
    wide = each_l_min > MUCH_AIR_L_MIN
    bores = tuple(BORES_M[length > LONG_M or wide] for length in lengths)
    membranes = max(draw.choice([1, 1, 2]), math.ceil(each_l_min / OF_A_MEMBRANE_L_MIN))
    air_pa = air_pressure_pa(elevation_m)
    laid = Plumbing(lengths, bores, membranes, (100.0,) * len(depths_m), air_pa)
    open_lines = lines_of(laid, depths_m)
    shared = valve_settings(curve, open_lines, [1.0] * len(depths_m), air_pa=air_pa)
    turns = (
        valve_open_percent(setting.valve_pa_per_l_min2 or 0.0, bore)
        for setting, bore in zip(shared.settings, bores, strict=True)
    )
    return replace(laid, valves_percent=tuple(round(turn, 1) for turn in turns))


def lines_of(
    laid: Plumbing, depths_m: Sequence[float], *, fouled_pa: float = 0.0, own: float = 1.0
):
    """Its lines at these depths; `own` is how its membranes differ from the ordinary."""
    return [
        Line(
            label=f"D{number}",
            depth_m=depth,
            length_m=length,
            bore_m=bore,
            membranes=laid.membranes,
            opening_pa=OPENING_PA * own + fouled_pa,
            slope_pa_per_l_min=SLOPE_PA_PER_L_MIN * own,
            check_valve_pa=CHECK_VALVE_PA,
            valve_pa_per_l_min2=throttle_pa_per_l_min2(turn, bore),
        )
        for number, (depth, length, bore, turn) in enumerate(
            zip(depths_m, laid.lengths_m, laid.bores_m, laid.valves_percent, strict=True), start=1
        )
    ]


@cache
def curve_of(model) -> Curve:
    """What a model of the demo gives, at sea level."""
    most = units.to_stored("pressure", model.pressure_max_psi, "psi")
    return typical_curve(model.kind, model.free_air_l_min, most)


def ailment_of(key: str, told: str, today: date, *, story: bool) -> Ailment:
    """What ails a system: as it is told, or drawn by its key for a few of the others."""
    slow = today - timedelta(days=SLOW_DAYS)
    if not told and not story:
        chance = Random(f"departure {key}").random()
        told = "fouled" if chance < FOULS else ""
        told = "leaking" if FOULS <= chance < FOULS + LEAKS else told
        told = "worn" if FOULS + LEAKS <= chance < FOULS + LEAKS + WEARS else told
    if told == "leaking":
        return Ailment(told, today - timedelta(days=LEAKS_FOR_DAYS), sudden=True)
    return Ailment(told, slow)


def level_m(region: str, day: date, today: date) -> float | None:
    """The water against its mark; in a flood the mark lies under water and nobody can read it."""
    if flooded(region, day, today):
        return None
    return round(0.08 * Random(f"water {region} {day.isocalendar()[:2]}").uniform(-1, 1), 2)


def flooded(region: str, day: date, today: date) -> bool:
    return region == FLOOD_REGION and (today - day).days in FLOOD_DAYS_AGO


@lru_cache(maxsize=20_000)
def runs_at(
    laid: Plumbing,
    curve: Curve,
    depths_m: tuple[float, ...],
    *,
    own: float,
    fouled_pa: float = 0.0,
    leak_share: float = 0.0,
    worn: float = 0.0,
    rise_m: float = 0.0,
) -> OperatingPoint:
    """Where compressor and lines meet on a day, with whatever ails them."""
    at_site = curve_at_site(curve, laid.air_pa)
    tired = Curve(tuple((p, q * (1 - worn)) for p, q in at_site.points))
    deep = [depth + rise_m for depth in depths_m]
    lines = lines_of(laid, deep, fouled_pa=fouled_pa, own=own)
    water_pa = 9790 * max(deep)  # a leak of this share at about the pressure of the water
    return operating_point(
        tired,
        lines,
        air_pa=laid.air_pa,
        leak_l_min_per_sqrt_pa=leak_share * tired.delivered_l_min_local(water_pa) / water_pa**0.5,
        temperature_c=WATER_C,
    )
