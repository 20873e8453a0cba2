"""Minutes and kilometres between places, as whole-number matrices."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from equipment.physics.geodesy import great_circle_km

ROAD_FACTOR = 1.3  # road length over straight length; common practice, no source
SPEED_KM_H = 55.0  # of a van between rural sites; common practice, no source


@dataclass(frozen=True)
class Travel:
    """Driving between places: whole minutes and whole hundreds of metres, [from, to]."""

    minutes: NDArray[np.int64]
    hectometres: NDArray[np.int64]


def travel_between(
    places: list[tuple[float, float]],
    road_factor: float | Sequence[float] = ROAD_FACTOR,
    speed_km_h: float = SPEED_KM_H,
) -> Travel:
    """Driving between every two places, guessed from the straight distance.

    places: (latitude, longitude) in degrees, -90 to 90 and -180 to 180.
    road_factor: road length over straight length, 1 to 3; or one for each place, such as that of
        its region: a drive has the mean of its two ends.
    speed_km_h: mean speed, 5 to 130 km/h.
    Returns minutes and hundreds of metres, both rounded up: a drive that is cut short eight
    times a day makes the last customer wait.
    Raises ValueError outside those ranges.
    Source: our own rule; factor and speed are common practice, no source.
    """
    factors = np.broadcast_to(np.asarray(road_factor, dtype=float), len(places))
    if not ((factors >= 1) & (factors <= 3)).all():
        raise ValueError("the road factor lies between 1 and 3")
    if not 5 <= speed_km_h <= 130:
        raise ValueError("the mean speed lies between 5 and 130 km/h")
    spots = np.asarray(places, dtype=float).reshape(-1, 2)
    latitude, longitude = spots[:, 0], spots[:, 1]
    road_km = (
        (factors[:, None] + factors[None, :])
        / 2
        * great_circle_km(
            latitude[:, None], longitude[:, None], latitude[None, :], longitude[None, :]
        )
    )
    return Travel(_up(road_km / speed_km_h * 60), _up(road_km * 10))


def road_hm(
    from_places: list[tuple[float, float]],
    to_places: list[tuple[float, float]],
    factor: float = ROAD_FACTOR,
) -> NDArray[np.float64]:
    """Driving from some places to others, where the table of all would be too large.

    from_places, to_places: (latitude, longitude) in degrees, -90 to 90 and -180 to 180.
    factor: road length over straight length, 1 to 3.
    Returns hundreds of metres, not rounded, [from, to].
    Source: our own rule; the factor is common practice, no source.
    """
    a = np.asarray(from_places, dtype=float).reshape(-1, 2)
    b = np.asarray(to_places, dtype=float).reshape(-1, 2)
    return 10 * factor * great_circle_km(a[:, None, 0], a[:, None, 1], b[None, :, 0], b[None, :, 1])


def _up(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Round up, but not over the last bits of a floating-point sum."""
    return np.ceil(values - 1e-9).astype(np.int64)
