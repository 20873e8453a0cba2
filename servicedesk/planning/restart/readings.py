"""What is known of a pond before its air is started again, and how bad each of it is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from equipment.physics import water
from servicedesk.planning.season_plan import PondYear

LAYERED, MARKED, STRONG = 0.1, 0.5, 1.5  # kg/m3, bottom minus surface; judgement
DAY_H, THREE_DAYS_H = 24, 72
COOL_C, HOT_C = 12, 27  # judgement
LOW_MG_L, GOOD_MG_L = 2, 4
RAMP_KEEPS_D = 3  # days since its last step for which a ramp is still the same ramp; judgement


class Fish(StrEnum):
    """The fish that must live through the start."""

    NONE = "none"
    WARM_WATER = "warm_water"
    COLD_WATER = "cold_water"
    UNKNOWN = "unknown"  # counts as cold-water fish


@dataclass(frozen=True)
class Limits:
    """When a ramp is stopped, by fish; the firm may set its own. Judgement."""

    stop_mg_l: float = 3.0  # near the surface
    fall_mg_l: float = 2.0  # in one run


LIMITS = {
    Fish.NONE: Limits(2.0, 3.0),
    Fish.WARM_WATER: Limits(),
    Fish.COLD_WATER: Limits(5.0, 1.5),
    Fish.UNKNOWN: Limits(5.0, 1.5),
}


@dataclass(frozen=True)
class Readings:
    """What was read, seen and told before a start. None: nobody knows; the worst then counts.

    `off_hours` since the air stopped. `difference` of density, bottom minus surface [kg/m3].
    `ramp_days` since the last step of a ramp that is open; `ramp` without days counts as long ago.
    """

    off_hours: float | None = None
    ran_full_time: bool | None = None
    difference: float | None = None
    surface_c: float | None = None
    surface_mg_l: float | None = None
    bottom_mg_l: float | None = None
    fish: Fish = Fish.WARM_WATER
    past_kill: bool | None = False
    smell: bool = False
    stop_sign: bool = False
    ice: bool | None = False
    layered_season: bool | None = None
    bad_weather_coming: bool = False
    ramp: bool = False
    ramp_days: float | None = None
    limits: Limits | None = None

    @property
    def in_season(self) -> bool:
        """The warm season in which water layers; where nobody knows, it is that season."""
        return self.layered_season is not False

    @property
    def layered(self) -> bool:
        """Whether it lies in layers; without a profile in the warm season it counts as layered."""
        if self.difference is None:
            return self.in_season
        return self.difference >= LAYERED

    @property
    def stop_limits(self) -> Limits:
        return self.limits or LIMITS[self.fish]

    @property
    def stops(self) -> bool:
        """A sign at which a ramp is stopped."""
        low = self.surface_mg_l is not None and self.surface_mg_l < self.stop_limits.stop_mg_l
        return self.smell or self.stop_sign or low

    @property
    def ramp_goes_on(self) -> bool:
        recent = self.ramp_days is not None and self.ramp_days <= RAMP_KEEPS_D
        return self.ramp and recent and not self.stops


def density_difference_kg_m3(temperatures_c: Sequence[float]) -> float | None:
    """How much heavier the water below is than that at the surface.

    temperatures_c: from the surface down [degC], -1 to 45.
    Returns kg/m3: the heaviest reading below minus the surface, 0 where none is heavier; None
        with fewer than two readings.
    Raises ValueError outside that range.
    Source: density of Martin & McCutcheon (1999); the heaviest instead of the deepest reading is
    our own rule, so that a layer between does not hide.
    """
    if len(temperatures_c) < 2:
        return None
    surface, *below = (water.lake_density_kg_m3(t) for t in temperatures_c)
    return max(max(below) - surface, 0.0)


def reaches_down(deepest_m: float | None, depth_max_m: float | None) -> bool:
    """Whether a profile goes deep enough to speak for the bottom.

    deepest_m: the deepest reading [m].
    depth_max_m: the greatest depth of the pond [m]; None where nobody knows.
    Returns False where it stops in the upper six tenths of the water.
    Source: judgement; our own rule, so that a short cable does not make a pond look mixed.
    """
    if deepest_m is None:
        return False
    return depth_max_m is None or deepest_m >= 0.6 * depth_max_m


def in_layered_season(on: date, plans: Iterable[PondYear]) -> bool | None:
    """Whether a day lies in the season in which a pond is layered.

    on: the day.
    plans: the pond's winters round it, each with the warm season after it.
    Returns None where nobody knows when it layers or mixes; the worst then counts.
    Source: our own rule, on days seen or usual.
    """
    known = [plan for plan in plans if plan.layering and plan.mixing]
    if any(plan.layering.on <= on < plan.mixing.on for plan in known):
        return True
    return False if known else None
