"""Sunrise and sunset against a general-purpose library and the rules of the year."""

import json
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from servicedesk.planning.daylight import daylight

REFERENCE = json.loads((Path(__file__).parents[2] / "reference/daylight.json").read_text())


@pytest.mark.parametrize("row", REFERENCE["sun"], ids=lambda row: f"{row['where']} {row['day']}")
def test_sunrise_and_sunset_are_those_of_the_library_within_a_minute(row):
    light = daylight(row["latitude"], row["longitude"], date.fromisoformat(row["day"]))

    for name in ("sunrise", "sunset"):
        apart = getattr(light, name) - datetime.fromisoformat(row[name])
        assert abs(apart) < timedelta(minutes=1), name


@pytest.mark.parametrize(
    ("latitude", "day", "is_up"),
    [
        (70, date(2026, 6, 21), True),
        (70, date(2026, 12, 21), False),
        (-70, date(2026, 6, 21), False),
    ],
)
def test_beyond_the_polar_circles_the_sun_stays_up_or_down(latitude, day, is_up):
    light = daylight(latitude, 20, day)

    assert (light.sunrise, light.sunset, light.is_up_all_day) == (None, None, is_up)


def test_light_lasts_half_the_day_on_the_equator_and_a_little_longer_by_refraction():
    light = daylight(0, 0, date(2026, 3, 20))

    assert timedelta(hours=12) < light.sunset - light.sunrise < timedelta(hours=12, minutes=10)


@pytest.mark.parametrize("place", [(91, 0), (0, 181)])
def test_places_off_the_globe_are_refused(place):
    with pytest.raises(ValueError, match="latitudes reach"):
        daylight(*place, date(2026, 1, 1))
