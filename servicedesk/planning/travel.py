"""Minutes and kilometres between places, as whole-number matrices."""

import zlib
from base64 import b64decode, b64encode
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from equipment.physics.geodesy import great_circle_km

ROAD_FACTOR = 1.3  # road length over straight length; common practice, no source
SPEED_KM_H = 55.0  # of a van between rural sites; common practice, no source
UNKNOWN = -1  # in a table: this drive was never asked about
NO_ROAD_MIN = 24 * 60  # a drive for which there is no road: no day holds it
NO_ROAD_HM = 20_000
ROWS_AT_ONCE = 256  # what is worked out on the way would fill a gigabyte for 4,000 places


@dataclass(frozen=True)
class Travel:
    """Driving between places: whole minutes and whole hundreds of metres, [from, to]."""

    minutes: NDArray[np.int64]
    hectometres: NDArray[np.int64]


def travel_between(
    places: list[tuple[float, float]],
    road_factor: float | Sequence[float] = ROAD_FACTOR,
    speed_km_h: float | Sequence[float] = SPEED_KM_H,
) -> Travel:
    """Driving between every two places, guessed from the straight distance.

    places: (latitude, longitude) in degrees, -90 to 90 and -180 to 180.
    road_factor: road length over straight length, 1 to 3; or one for each place, such as that of
        its region: a drive has the mean of its two ends.
    speed_km_h: mean speed, 5 to 130 km/h; or one for each place, in the same way.
    Returns minutes and hundreds of metres, both rounded up: a drive that is cut short eight
    times a day makes the last customer wait.
    Raises ValueError outside those ranges.
    Source: our own rule; factor and speed are common practice, no source.
    """
    factors = np.broadcast_to(np.asarray(road_factor, dtype=float), len(places))
    if not ((factors >= 1) & (factors <= 3)).all():
        raise ValueError("the road factor lies between 1 and 3")
    speeds = np.broadcast_to(np.asarray(speed_km_h, dtype=float), len(places))
    if not ((speeds >= 5) & (speeds <= 130)).all():
        raise ValueError("the mean speed lies between 5 and 130 km/h")
    spots = np.asarray(places, dtype=float).reshape(-1, 2)
    latitude, longitude = spots[:, 0], spots[:, 1]
    size = len(spots)
    found = Travel(np.empty((size, size), np.int64), np.empty((size, size), np.int64))
    for first in range(0, size, ROWS_AT_ONCE):
        rows = slice(first, first + ROWS_AT_ONCE)
        road_km = _of_both(factors, rows) * great_circle_km(
            latitude[rows, None], longitude[rows, None], latitude[None, :], longitude[None, :]
        )
        found.minutes[rows] = _up(road_km / _of_both(speeds, rows) * 60)
        found.hectometres[rows] = _up(road_km * 10)
    return found


def whole_units(seconds: ArrayLike, metres: ArrayLike) -> Travel:
    """Drives as a routing service gives them, in the units of the planner.

    seconds, metres: of each drive, 0 or more; not a number in either: there is no road.
    Returns whole minutes and hundreds of metres, rounded up, in the shape of both.
    Source: our own rule.
    """
    time, way = np.asarray(seconds, dtype=float), np.asarray(metres, dtype=float)
    no_road = np.isnan(time) | np.isnan(way)
    minutes = np.where(no_road, NO_ROAD_MIN, np.minimum(time / 60, NO_ROAD_MIN))
    road = np.where(no_road, NO_ROAD_HM, np.minimum(way / 100, NO_ROAD_HM))
    return Travel(_up(minutes), _up(road))


def packed(table: Travel) -> str:
    """A table as one word, to be kept with a problem.

    table: minutes and hundreds of metres; UNKNOWN where a drive is not known.
    Returns letters and digits; empty for a table that knows nothing.
    Source: our own form.
    """
    both = np.stack([table.minutes, table.hectometres]).astype("<i2")
    if (both < 0).all():
        return ""
    return b64encode(zlib.compress(both.tobytes(), 6)).decode()


def unpacked(word: str) -> Travel:
    """The table that `packed` wrote down.

    word: what it returned; empty: a table of no places.
    Returns an equal Travel.
    Raises ValueError for any other word.
    Source: our own form.
    """
    data = np.frombuffer(zlib.decompress(b64decode(word)) if word else b"", "<i2").astype(np.int64)
    size = round((len(data) / 2) ** 0.5)
    if 2 * size * size != len(data):
        raise ValueError("this is no table of drives")
    both = data.reshape(2, size, size)
    return Travel(both[0].copy(), both[1].copy())


def with_table(guessed: Travel, table: Travel) -> Travel:
    """Drives by a table where it knows them, else as guessed.

    guessed: all places.
    table: the first of the places, perhaps not all of them, and perhaps not every drive.
    Returns Travel between all places.
    Source: our own rule.
    """
    size = min(len(table.minutes), len(guessed.minutes))
    minutes, road = guessed.minutes.copy(), guessed.hectometres.copy()
    for ours, theirs in ((minutes, table.minutes), (road, table.hectometres)):
        part = theirs[:size, :size]
        ours[:size, :size] = np.where(part >= 0, part, ours[:size, :size])
    return Travel(minutes, road)


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


def _of_both(ends: NDArray[np.float64], rows: slice) -> NDArray[np.float64]:
    """The mean of what holds at the two ends of each drive from some of the places."""
    return (ends[rows, None] + ends[None, :]) / 2


def _up(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Round up, but not over the last bits of a floating-point sum."""
    return np.ceil(values - 1e-9).astype(np.int64)
