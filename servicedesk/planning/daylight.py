"""When the sun rises and sets at a place, for work that nobody begins in the dusk."""

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

ZENITH_DEG = 90.833  # the upper rim of the sun on a flat horizon, refraction included
J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
DAYS_A_CENTURY = 36_525
ROUNDS = 3  # the sun moves on while the hour is sought


@dataclass(frozen=True, slots=True)
class Daylight:
    """The light of one day; both instants are missing where the sun stays up or down."""

    sunrise: datetime | None
    sunset: datetime | None
    is_up_all_day: bool = False


def daylight(latitude: float, longitude: float, day: date) -> Daylight:
    """Sunrise and sunset of a day, on a flat horizon at sea level.

    latitude, longitude: degrees, -90 to 90 and -180 to 180, north and east positive.
    day: the day at the place itself.
    Returns instants in UTC, good to a minute or two between 60 south and 60 north; where the sun
    does not rise or set, which of the two it is.
    Raises ValueError outside those ranges.
    Source: low-accuracy solar equations of NOAA's solar calculator, after Meeus, Astronomical
    Algorithms (1991).
    """
    if not -90 <= latitude <= 90 or not -180 <= longitude <= 180:
        raise ValueError("latitudes reach from -90 to 90 and longitudes from -180 to 180")
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(minutes=4 * longitude)
    rise, sets = (_crossing(latitude, longitude, noon, side) for side in (-1, 1))
    if rise is None or sets is None:
        declination, _ = _sun(noon)
        height = 90 - abs(latitude - declination)
        return Daylight(None, None, height > 90 - ZENITH_DEG)
    return Daylight(rise, sets)


def _crossing(latitude: float, longitude: float, noon: datetime, side: int) -> datetime | None:
    """The instant before (-1) or after (1) noon at which the sun crosses the horizon."""
    at = noon
    for _ in range(ROUNDS):
        declination, equation_min = _sun(at)
        angle = _hour_angle_deg(latitude, declination)
        if angle is None:
            return None
        minutes = 4 * side * angle - equation_min
        at = noon + timedelta(minutes=minutes)
    return at


def _hour_angle_deg(latitude: float, declination: float) -> float | None:
    north, sun = math.radians(latitude), math.radians(declination)
    down = math.cos(north) * math.cos(sun)
    if abs(down) < 1e-12:
        return None
    cosine = (math.cos(math.radians(ZENITH_DEG)) - math.sin(north) * math.sin(sun)) / down
    return math.degrees(math.acos(cosine)) if abs(cosine) <= 1 else None


def _sun(at: datetime) -> tuple[float, float]:
    """Declination [degrees] and equation of time [minutes]."""
    century = (at - J2000).total_seconds() / 86_400 / DAYS_A_CENTURY
    mean = math.radians((280.46646 + century * (36000.76983 + century * 0.0003032)) % 360)
    anomaly = math.radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    eccentric = 0.016708634 - century * (0.000042037 + 0.0000001267 * century)
    center = (
        math.sin(anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century))
        + math.sin(2 * anomaly) * (0.019993 - 0.000101 * century)
        + math.sin(3 * anomaly) * 0.000289
    )
    node = math.radians(125.04 - 1934.136 * century)
    seen = math.radians(math.degrees(mean) + center - 0.00569 - 0.00478 * math.sin(node))
    seconds = 21.448 - century * (46.815 + century * (0.00059 - century * 0.001813))
    tilt = math.radians(23 + (26 + seconds / 60) / 60 + 0.00256 * math.cos(node))
    declination = math.degrees(math.asin(math.sin(tilt) * math.sin(seen)))
    y = math.tan(tilt / 2) ** 2
    equation = (
        y * math.sin(2 * mean)
        - 2 * eccentric * math.sin(anomaly)
        + 4 * eccentric * y * math.sin(anomaly) * math.cos(2 * mean)
        - 0.5 * y * y * math.sin(4 * mean)
        - 1.25 * eccentric * eccentric * math.sin(2 * anomaly)
    )
    return declination, 4 * math.degrees(equation)
