"""Areas that nobody may drive through for a while: a closed bridge, a flood, a landslide."""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from equipment.physics.geodesy import great_circle_km
from servicedesk.planning import travel
from servicedesk.planning.routing.problem import Place, WeekProblem

CORNERS = 48  # of the polygon that is kept for a round area


@dataclass(frozen=True)
class Area:
    """A round area on the map."""

    latitude: float
    longitude: float
    radius_km: float


@dataclass(frozen=True)
class ClosedRoads(WeekProblem):
    """A week in which the way between two places leads round closed areas."""

    areas: tuple[Area, ...] = ()

    @cached_property
    def travel(self) -> travel.Travel:
        straight = WeekProblem.__dict__["travel"].func(self)
        minutes, road = straight.minutes.copy(), straight.hectometres.copy()
        for area in self.areas:
            for a, here in enumerate(self.places):
                for b, there in enumerate(self.places):
                    more = way_round_km(area, here, there) * self.road_factor
                    minutes[a, b] += math.ceil(more / self.speed_km_h * 60 - 1e-9)
                    road[a, b] += math.ceil(more * 10 - 1e-9)
        return travel.Travel(minutes, road)


def is_inside(area: Area, latitude: float, longitude: float) -> bool:
    """Whether a point lies in a closed area.

    area: the area.
    latitude, longitude: degrees, -90 to 90 and -180 to 180.
    Returns True on its edge, too.
    Source: our own rule.
    """
    there = great_circle_km(area.latitude, area.longitude, latitude, longitude)
    return float(there) <= area.radius_km


def way_round_km(area: Area, here: Place, there: Place) -> float:
    """How much longer the shortest way between two places is round a closed area.

    area: what may not be crossed.
    here, there: the two places.
    Returns straight kilometres more than the straight line; 0 where the line stays outside, or
    where a place lies inside, which no way reaches.
    Source: shortest path round a circle, two tangents and the arc between them; plane geometry.
    """
    (ax, ay), (bx, by) = _plane(area, here), _plane(area, there)
    a, b, radius = math.hypot(ax, ay), math.hypot(bx, by), area.radius_km
    if a <= radius or b <= radius:
        return 0.0
    straight = math.hypot(bx - ax, by - ay)
    if straight == 0:
        return 0.0
    along = -(ax * (bx - ax) + ay * (by - ay)) / straight**2
    if not 0 < along < 1 or math.hypot(ax + along * (bx - ax), ay + along * (by - ay)) >= radius:
        return 0.0
    angle = math.acos(np.clip((ax * bx + ay * by) / (a * b), -1, 1))
    arc = angle - math.acos(radius / a) - math.acos(radius / b)
    round_about = math.sqrt(a**2 - radius**2) + math.sqrt(b**2 - radius**2) + radius * arc
    return max(0.0, round_about - straight)


def area_polygon(area: Area) -> dict[str, Any]:
    """A closed area as it is kept and exported.

    area: the area.
    Returns a GeoJSON polygon, counter-clockwise, its first corner repeated at the end.
    Source: RFC 7946 (2016), 3.1.6.
    """
    east_km = 111.32 * math.cos(math.radians(area.latitude))
    ring = []
    for number in range(CORNERS + 1):
        angle = 2 * math.pi * (number % CORNERS) / CORNERS
        ring.append(
            [
                round(area.longitude + area.radius_km * math.cos(angle) / east_km, 6),
                round(area.latitude + area.radius_km * math.sin(angle) / 111.32, 6),
            ]
        )
    return {"type": "Polygon", "coordinates": [ring]}


def area_of(polygon: dict[str, Any]) -> Area:
    """The round area that a kept polygon was drawn from.

    polygon: what `area_polygon` returned.
    Returns an Area: the middle of its corners, and the mean distance to them.
    Source: plane geometry.
    """
    corners = polygon["coordinates"][0][:-1]
    longitude = sum(x for x, _ in corners) / len(corners)
    latitude = sum(y for _, y in corners) / len(corners)
    far = great_circle_km(
        latitude, longitude, np.array([y for _, y in corners]), np.array([x for x, _ in corners])
    )
    return Area(latitude, longitude, float(np.mean(far)))


def _plane(area: Area, place: Place) -> tuple[float, float]:
    """Kilometres east and north of the middle of an area."""
    east_km = 111.32 * math.cos(math.radians(area.latitude))
    return (place.longitude - area.longitude) * east_km, (place.latitude - area.latitude) * 111.32
