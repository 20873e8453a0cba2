"""What logged drives teach: how much longer roads are than straight lines, and how fast one is."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import median

from equipment.physics.geodesy import great_circle_km
from servicedesk.planning.routing.problem import Lunch

SHORTEST_MIN, LONGEST_MIN = 3, 120  # of a drive from stop to stop; our judgement
SHORTEST_KM = 1.0  # straight; below it parking and gates count for more than the road
FASTEST_KM_H = 130.0  # straight; quicker than that somebody forgot to press
USUAL_COUNTS_AS = 20  # drives; few of a region's own move its figure little; our judgement
FACTORS = (1.0, 3.0)
SPEEDS_KM_H = (15.0, 110.0)


@dataclass(frozen=True)
class Stay:
    """One visit as it was logged; minutes of the day as the site's clock showed them."""

    person: int
    day: date
    latitude: float
    longitude: float
    region: int | None
    arrives_min: float
    leaves_min: float | None


@dataclass(frozen=True)
class Drive:
    """From one visit to the next, inside one region."""

    region: int
    straight_km: float
    minutes: float
    from_at: tuple[float, float]  # latitude and longitude
    to_at: tuple[float, float]


@dataclass(frozen=True)
class Learned:
    """A figure, and the drives it rests on."""

    value: float
    drives: int


def drives_between(stays: Iterable[Stay], lunch: Lunch) -> list[Drive]:
    """The drives from stop to stop that can be learned from.

    stays: visits of any people and days, in any order.
    lunch: the break; a drive from before its start to after it may hold it and teaches nothing.
    Returns drives of one person and day, from a visit to the very next one, both of one region:
    3 to 120 minutes, more than 1 km apart, and no quicker than 130 km/h as the crow flies.
    Source: our own rule; the limits are our judgement.
    """
    days: dict[tuple[int, date], list[Stay]] = defaultdict(list)
    for stay in stays:
        days[stay.person, stay.day].append(stay)
    found = []
    for rows in days.values():
        rows.sort(key=lambda stay: stay.arrives_min)
        for here, there in pairwise(rows):
            if drive := _drive(here, there, lunch):
                found.append(drive)
    return found


def learned(values: Sequence[float], usual: float, low: float, high: float) -> Learned:
    """A figure of a region, from what its drives say and what is usual.

    values: one figure of each drive.
    usual: what holds where nothing is known; it counts as much as 20 drives.
    low, high: the figure is never beyond them.
    Returns (n * median + 20 * usual) / (n + 20), bounded, and n.
    Source: a median, so that odd drives do not matter, drawn towards the usual figure; the form
    and the 20 are our judgement.
    """
    count = len(values)
    middle = median(values) if values else usual
    value = (count * middle + USUAL_COUNTS_AS * usual) / (count + USUAL_COUNTS_AS)
    return Learned(min(max(value, low), high), count)


def speed_km_h(drive: Drive, road_factor: float) -> float:
    """The mean speed of a drive.

    drive: with its minutes.
    road_factor: road length over straight length, 1 to 3.
    Returns km/h.
    Source: our own rule: way over time.
    """
    return drive.straight_km * road_factor / drive.minutes * 60


def _drive(here: Stay, there: Stay, lunch: Lunch) -> Drive | None:
    if here.leaves_min is None or here.region is None or here.region != there.region:
        return None
    minutes = there.arrives_min - here.leaves_min
    held_lunch = lunch.minutes and here.leaves_min <= lunch.from_min <= there.arrives_min
    if held_lunch or not SHORTEST_MIN <= minutes <= LONGEST_MIN:
        return None
    a, b = (here.latitude, here.longitude), (there.latitude, there.longitude)
    km = float(great_circle_km(*a, *b))
    if km <= SHORTEST_KM or km / minutes * 60 > FASTEST_KM_H:
        return None
    return Drive(here.region, km, minutes, a, b)
