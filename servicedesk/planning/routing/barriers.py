"""What nobody may drive through for a while: a flooded area, a closed bridge, a river without one.

A shape lies on a plane about its middle; over the 100 km that such a thing may measure, the plane
is off by less than the guess of a road factor.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from equipment.physics.geodesy import great_circle_km
from servicedesk.planning.travel import Travel

CORNERS = 48  # of the polygon that is kept for a round area
MOST_CORNERS = 100  # of a shape that somebody draws
HALF_WIDTH_KM = 0.01  # of a line that may not be crossed; our own rule
KM_A_DEGREE = 111.32
AT_ONCE = 4_000  # lines looked at in one piece, to keep memory small


@dataclass(frozen=True)
class Area:
    """A round area on the map."""

    latitude: float
    longitude: float
    radius_km: float


@dataclass(frozen=True)
class Barrier:
    """A polygon that nobody enters, or a line that nobody crosses."""

    corners: tuple[tuple[float, float], ...]  # longitude and latitude, the first not repeated
    is_line: bool = False
    way_round_km: float | None = None  # by road, where somebody knows it; None: along the corners


def is_inside(area: Area, latitude: float, longitude: float) -> bool:
    """Whether a point lies in a round area.

    area: the area.
    latitude, longitude: degrees, -90 to 90 and -180 to 180.
    Returns True on its edge, too.
    Source: our own rule.
    """
    there = great_circle_km(area.latitude, area.longitude, latitude, longitude)
    return float(there) <= area.radius_km


def is_within(barrier: Barrier, latitude: float, longitude: float) -> bool:
    """Whether a point lies in what is closed.

    barrier: the polygon; nothing lies in a line.
    latitude, longitude: degrees, -90 to 90 and -180 to 180.
    Returns True or False; on the very edge either.
    Source: crossings of a ray with the edges, a textbook method.
    """
    if barrier.is_line:
        return False
    plane = _plane(barrier)
    return bool(plane.holds(plane.spots([(latitude, longitude)]))[0])


def area_polygon(area: Area) -> dict[str, Any]:
    """A round area as it is kept and exported.

    area: the area.
    Returns a GeoJSON polygon, counter-clockwise, its first corner repeated at the end.
    Source: RFC 7946 (2016), 3.1.6.
    """
    east_km = KM_A_DEGREE * math.cos(math.radians(area.latitude))
    ring = []
    for number in range(CORNERS + 1):
        angle = 2 * math.pi * (number % CORNERS) / CORNERS
        ring.append(
            [
                round(area.longitude + area.radius_km * math.cos(angle) / east_km, 6),
                round(area.latitude + area.radius_km * math.sin(angle) / KM_A_DEGREE, 6),
            ]
        )
    return {"type": "Polygon", "coordinates": [ring]}


def barrier_of(shape: dict[str, Any], way_round_km: float | None = None) -> Barrier:
    """A closed area or line as it was kept or pasted.

    shape: a GeoJSON Polygon with one ring, or a LineString; a Feature or a collection with one of
        them is opened.
    way_round_km: how much longer the way round is by road, 0 or more; None: not known.
    Returns the Barrier.
    Raises ValueError, with a sentence for the reader, where it is neither.
    Source: RFC 7946 (2016), 3.1.4, 3.1.6 and 3.2.
    """
    shape = _opened(shape)
    kind, points = shape.get("type"), shape.get("coordinates")
    if kind not in ("Polygon", "LineString") or not isinstance(points, list) or not points:
        raise ValueError("Paste one GeoJSON Polygon or LineString, and nothing else.")
    if kind == "Polygon":
        if len(points) > 1:
            raise ValueError("The polygon has a hole. Paste its outer ring alone.")
        points = points[0]
    corners = _corners(points)
    if kind == "Polygon":
        if len(corners) < 4 or corners[0] != corners[-1]:
            raise ValueError("The ring of a polygon has four points or more and ends at its first.")
        corners = corners[:-1]
    if len(corners) < (2 if kind == "LineString" else 3):
        raise ValueError("A line has two different points or more, a polygon three.")
    if len(corners) > MOST_CORNERS:
        raise ValueError(f"Draw it with {MOST_CORNERS} points at most.")
    return Barrier(tuple(corners), kind == "LineString", way_round_km)


def area_from(data: dict[str, Any]) -> Barrier:
    """A Barrier that was kept with a problem as plain data.

    data: its fields, perhaps by way of JSON.
    Returns an equal Barrier.
    Source: our own form.
    """
    return Barrier(**data | {"corners": tuple((x, y) for x, y in data["corners"])})


def ways_round(
    barriers: Sequence[Barrier],
    spots: Sequence[tuple[float, float]],
    ways: Travel,
    road_factor: float,
    speed_km_h: float,
) -> Travel:
    """Drives that lead round what is closed.

    barriers: the closed areas and lines.
    spots: (latitude, longitude) of the places, degrees.
    ways: the drives while all is open.
    road_factor: road length over straight length.
    speed_km_h: mean speed.
    Returns Travel: each drive whose straight line is cut is longer by the way round that was
    told, or by what the shortest way along the corners has more. Several of them add up.
    Source: our own rule.
    """
    minutes, road = ways.minutes.copy(), ways.hectometres.copy()
    for barrier in barriers:
        more = more_km(barrier, spots)
        if barrier.way_round_km is not None:
            more_road = np.where(more > 0, barrier.way_round_km, 0.0)
        else:
            more_road = more * road_factor
        minutes += np.ceil(more_road / speed_km_h * 60 - 1e-9).astype(np.int64)
        road += np.ceil(more_road * 10 - 1e-9).astype(np.int64)
    return Travel(minutes, road)


def more_km(barrier: Barrier, spots: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
    """How much longer the shortest way between places is round a closed area or line.

    barrier: what may not be crossed.
    spots: (latitude, longitude) of the places, degrees.
    Returns straight kilometres more than the straight line, [from, to]; 0 where that stays
    outside, or where a place lies inside, which no way reaches.
    Source: shortest ways along the corners that see each other (visibility graph: Lozano-Perez
    and Wesley, Comm. ACM 22 (1979) 560); all pairs of corners by Floyd's algorithm.
    """
    return _more_km(barrier, tuple(spots)).copy()


@lru_cache(32)  # a week that is changed a little has the same places
def _more_km(barrier: Barrier, spots: tuple[tuple[float, float], ...]) -> NDArray[np.float64]:
    plane = _plane(barrier)
    at = plane.spots(spots)
    more = np.zeros((len(at), len(at)))
    a, b = np.triu_indices(len(at), 1)
    near = plane.comes_near(at[a], at[b])
    inside = plane.holds(at)
    a, b = a[near], b[near]
    outside = ~(inside[a] | inside[b])
    a, b = a[outside], b[outside]
    cut = plane.cuts(at[a], at[b])
    a, b = a[cut], b[cut]
    if not len(a):
        return more
    ends = np.unique(np.concatenate([a, b]))
    to_corner = np.full((len(at), len(plane.ring)), np.inf)
    to_corner[ends] = plane.to_corners(at[ends])
    around = plane.between_corners
    via = np.full_like(to_corner, np.inf)
    for corner in range(len(plane.ring)):
        via[ends] = np.minimum(via[ends], to_corner[ends, corner, None] + around[corner])
    length = (via[a] + to_corner[b]).min(axis=1)
    longer = length - np.hypot(*(at[a] - at[b]).T)
    longer = np.where(np.isfinite(longer), np.maximum(longer, 1e-6), plane.perimeter_km)
    more[a, b] = more[b, a] = longer
    return more


class _Plane:
    """A closed shape as a polygon on a plane, in kilometres east and north of its middle."""

    def __init__(self, barrier: Barrier):
        corners = np.array(barrier.corners, dtype=float)
        self.middle = corners[0] + _turned(corners - corners[0]).mean(axis=0)
        self.scale = KM_A_DEGREE * np.array([math.cos(math.radians(self.middle[1])), 1.0])
        ring = _turned(corners - self.middle) * self.scale
        self.ring = _thick(ring) if barrier.is_line else ring
        self.next = np.roll(self.ring, -1, axis=0)
        self.reach = float(np.hypot(*self.ring.T).max())
        self.perimeter_km = float(np.hypot(*(self.next - self.ring).T).sum())

    def spots(self, places: Sequence[tuple[float, float]]) -> NDArray[np.float64]:
        found = np.array([(lon, lat) for lat, lon in places], dtype=float).reshape(-1, 2)
        # a millimetre aside, so that no line runs through a corner exactly
        return _turned(found - self.middle) * self.scale + (0.7e-6, 1.1e-6)

    def comes_near(self, a, b) -> NDArray[np.bool_]:
        """Whether the line from each a to its b comes within reach of the shape."""
        along = b - a
        length2 = np.maximum((along**2).sum(axis=1), 1e-12)
        share = np.clip(-(a * along).sum(axis=1) / length2, 0, 1)
        return np.hypot(*(a + share[:, None] * along).T) <= self.reach

    def holds(self, at) -> NDArray[np.bool_]:
        x, y = at[:, 0, None], at[:, 1, None]
        (x1, y1), (x2, y2) = self.ring.T, self.next.T
        over = (y1 > y) != (y2 > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            right = x < (x2 - x1) * (y - y1) / (y2 - y1) + x1
        return (over & right).sum(axis=1) % 2 == 1

    def cuts(self, a, b, corner=()) -> NDArray[np.bool_]:
        """Whether the line from each a to its b crosses an edge; not those at its own corners."""
        parts = [np.zeros(0, dtype=bool)]
        for start in range(0, len(a), AT_ONCE):
            part = slice(start, start + AT_ONCE)
            crossed = (
                _side(a[part], b[part], self.ring) * _side(a[part], b[part], self.next) < 0
            ) & (
                _side(self.ring, self.next, a[part]).T * _side(self.ring, self.next, b[part]).T < 0
            )
            rows = np.arange(len(crossed))
            for own in corner:
                crossed[rows, own[part]] = crossed[rows, own[part] - 1] = False
            parts.append(crossed.any(axis=1))
        return np.concatenate(parts)

    def to_corners(self, at) -> NDArray[np.float64]:
        """From each place to each corner that it sees."""
        count, corners = len(at), len(self.ring)
        a = np.repeat(at, corners, axis=0)
        number = np.tile(np.arange(corners), count)
        b = self.ring[number]
        length = np.hypot(*(a - b).T)
        return np.where(self.cuts(a, b, (number,)), np.inf, length).reshape(count, corners)

    @cached_property
    def between_corners(self) -> NDArray[np.float64]:
        """The shortest way between each two corners, outside or along the edges."""
        corners = len(self.ring)
        one, two = (part.ravel() for part in np.indices((corners, corners)))
        a, b = self.ring[one], self.ring[two]
        beside = ((one - two) % corners == 1) | ((two - one) % corners == 1) | (one == two)
        blocked = ~beside & (self.cuts(a, b, (one, two)) | self.holds((a + b) / 2))
        ways = np.where(blocked, np.inf, np.hypot(*(a - b).T)).reshape(corners, corners)
        for middle in range(corners):
            ways = np.minimum(ways, ways[:, middle, None] + ways[None, middle, :])
        return ways


@lru_cache(64)  # each problem of a week asks about the same ones
def _plane(barrier: Barrier) -> _Plane:
    return _Plane(barrier)


def _side(a, b, c) -> NDArray[np.float64]:
    """On which side of each line from a to b each c lies, [line, c]."""
    along = (b - a)[:, None, :]
    to = c[None, :, :] - a[:, None, :]
    return along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0]


def _thick(line: NDArray[np.float64]) -> NDArray[np.float64]:
    """A line as a narrow polygon, so that no way slips through one of its corners."""
    along = np.diff(line, axis=0)
    along = along / np.hypot(*along.T)[:, None]
    at = np.vstack([along[:1], along[:-1] + along[1:], along[-1:]])
    at = at / np.maximum(np.hypot(*at.T)[:, None], 1e-9)
    aside = HALF_WIDTH_KM * np.column_stack([-at[:, 1], at[:, 0]])
    return np.vstack([line + aside, (line - aside)[::-1]])


def _turned(degrees: NDArray[np.float64]) -> NDArray[np.float64]:
    """Differences of longitude the short way round the earth."""
    longitude = (degrees[..., 0] + 180) % 360 - 180
    return np.stack([longitude, degrees[..., 1]], axis=-1)


def _opened(shape: Any) -> dict[str, Any]:
    if isinstance(shape, dict) and shape.get("type") == "FeatureCollection":
        features = shape.get("features")
        shape = features[0] if isinstance(features, list) and len(features) == 1 else None
    if isinstance(shape, dict) and shape.get("type") == "Feature":
        shape = shape.get("geometry")
    return shape if isinstance(shape, dict) else {}


def _corners(points: Any) -> list[tuple[float, float]]:
    corners: list[tuple[float, float]] = []
    for point in points if isinstance(points, list) else []:
        numbers = isinstance(point, list) and 2 <= len(point) <= 3
        if not numbers or not all(isinstance(n, int | float) for n in point):
            raise ValueError("A point of the shape is not a longitude and a latitude.")
        x, y = float(point[0]), float(point[1])
        if not (-180 <= x <= 180 and -90 <= y <= 90):
            raise ValueError("GeoJSON puts longitude first, -180 to 180, then latitude, -90 to 90.")
        if (x, y) not in corners[-1:]:
            corners.append((x, y))
    return corners
