"""Minutes and kilometres between places, as whole-number matrices."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

EARTH_RADIUS_KM = 6371.0088  # IUGG mean radius
ROAD_FACTOR = 1.3  # road length over straight length; common practice, no source
SPEED_KM_H = 55.0  # of a van between rural sites; common practice, no source


@dataclass(frozen=True)
class Travel:
    """Driving between places: whole minutes and whole hundreds of metres, [from, to]."""

    minutes: NDArray[np.int64]
    hectometres: NDArray[np.int64]


def great_circle_km(
    latitude: ArrayLike, longitude: ArrayLike, to_latitude: ArrayLike, to_longitude: ArrayLike
) -> NDArray[np.float64]:
    """Shortest distance over a sphere of the earth's mean radius.

    latitude, longitude: degrees, -90 to 90 and -180 to 180; numbers or arrays.
    to_latitude, to_longitude: the other end, the same.
    Returns kilometres, in the joint shape of the four.
    Raises ValueError outside those ranges, or where a value is not a number.
    Source: haversine formula; radius 6371.0088 km, mean radius of the IUGG (1980 values).
    """
    ends = [np.asarray(part, dtype=float) for part in (latitude, to_latitude)]
    turns = [np.asarray(part, dtype=float) for part in (longitude, to_longitude)]
    if not all((np.abs(part) <= 90).all() for part in ends):
        raise ValueError("a latitude lies between -90 and 90 degrees")
    if not all((np.abs(part) <= 180).all() for part in turns):
        raise ValueError("a longitude lies between -180 and 180 degrees")
    north, to_north = (np.radians(part) for part in ends)
    east, to_east = (np.radians(part) for part in turns)
    half = (
        np.sin((to_north - north) / 2) ** 2
        + np.cos(north) * np.cos(to_north) * np.sin((to_east - east) / 2) ** 2
    )
    return 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(half, 0, 1)))


def travel_between(
    places: list[tuple[float, float]],
    road_factor: float = ROAD_FACTOR,
    speed_km_h: float = SPEED_KM_H,
) -> Travel:
    """Driving between every two places, guessed from the straight distance.

    places: (latitude, longitude) in degrees, -90 to 90 and -180 to 180.
    road_factor: road length over straight length, 1 to 3.
    speed_km_h: mean speed, 5 to 130 km/h.
    Returns minutes and hundreds of metres, both rounded up: a drive that is cut short eight
    times a day makes the last customer wait.
    Raises ValueError outside those ranges.
    Source: our own rule; factor and speed are common practice, no source.
    """
    if not 1 <= road_factor <= 3:
        raise ValueError("the road factor lies between 1 and 3")
    if not 5 <= speed_km_h <= 130:
        raise ValueError("the mean speed lies between 5 and 130 km/h")
    spots = np.asarray(places, dtype=float).reshape(-1, 2)
    latitude, longitude = spots[:, 0], spots[:, 1]
    road_km = road_factor * great_circle_km(
        latitude[:, None], longitude[:, None], latitude[None, :], longitude[None, :]
    )
    return Travel(_up(road_km / speed_km_h * 60), _up(road_km * 10))


def _up(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Round up, but not over the last bits of a floating-point sum."""
    return np.ceil(values - 1e-9).astype(np.int64)
