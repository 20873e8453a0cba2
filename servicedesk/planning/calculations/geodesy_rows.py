"""Distances and directions between places, by name."""

from servicedesk.planning import travel
from servicedesk.planning.calculations.engine import Calculation


def distance_km(
    latitude: float, longitude: float, to_latitude: float, to_longitude: float
) -> float:
    """The straight distance between two places.

    latitude, longitude: degrees, -90 to 90 and -180 to 180.
    to_latitude, to_longitude: the other end, the same.
    Returns kilometres.
    Raises ValueError outside those ranges.
    Source: haversine formula; radius 6371.0088 km, mean radius of the IUGG (1980 values).
    """
    return float(travel.great_circle_km(latitude, longitude, to_latitude, to_longitude))


CALCULATIONS = (Calculation("distance_km", distance_km),)
