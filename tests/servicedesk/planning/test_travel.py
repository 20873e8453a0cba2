"""Check rows: tests/reference/geodesy.json; each row names its own source."""

import json
from pathlib import Path

import numpy as np
import pytest

from servicedesk.planning import travel

ROWS = json.loads((Path(__file__).parents[2] / "reference" / "geodesy.json").read_text())["rows"]
DISTANCES = [
    row
    for row in ROWS
    if row["unit"] in {"km", "m"} and "rel" in row["tolerance"] and "lat1" in row["inputs"]
]


@pytest.mark.parametrize("row", DISTANCES, ids=lambda row: row["id"])
def test_great_circle_agrees_with_published_distances(row):
    ends = [row["inputs"][name] for name in ("lat1", "lon1", "lat2", "lon2")]
    expected_km = row["expected"] / (1000 if row["unit"] == "m" else 1)
    allowed = row["tolerance"]
    # The rows are geodesics of the ellipsoid; a sphere is within the tolerance they state.
    assert travel.great_circle_km(*ends) == pytest.approx(
        expected_km, rel=allowed["rel"], abs=allowed.get("abs", 0) / 1000
    )


def test_one_degree_of_latitude_on_the_mean_sphere():
    row = next(row for row in ROWS if row["id"] == "geodesy-009")

    # The row is rounded to eight figures.
    assert travel.great_circle_km(44, -93, 45, -93) == pytest.approx(row["expected"], abs=5e-7)


def test_radius_is_the_mean_radius_of_the_iugg():
    row = next(row for row in ROWS if row["id"] == "geodesy-010")

    assert row["expected"] == travel.EARTH_RADIUS_KM


def test_half_way_round_the_earth_stays_a_number():
    half_km = np.pi * travel.EARTH_RADIUS_KM

    assert travel.great_circle_km(0, 0, 0, 180) == pytest.approx(half_km)
    assert travel.great_circle_km(90, 0, -90, 0) == pytest.approx(half_km)


@pytest.mark.parametrize("ends", [(91, 0, 0, 0), (0, 0, -90.1, 0), (0, 181, 0, 0), (0, 0, 0, 200)])
def test_place_that_is_not_on_the_earth_is_refused(ends):
    with pytest.raises(ValueError, match="lies between"):
        travel.great_circle_km(*ends)


def test_not_a_number_is_refused():
    with pytest.raises(ValueError, match="latitude"):
        travel.great_circle_km(float("nan"), 0, 0, 0)


def test_drive_is_the_straight_distance_times_the_road_factor_rounded_up():
    places = [(44.0, -93.0), (45.0, -93.0)]  # 111.195 km, 144.554 km by road, 157.695 min at 55
    driving = travel.travel_between(places, road_factor=1.3, speed_km_h=55)

    assert driving.minutes.tolist() == [[0, 158], [158, 0]]
    assert driving.hectometres.tolist() == [[0, 1446], [1446, 0]]
    assert driving.minutes.dtype == driving.hectometres.dtype == np.int64


def test_whole_minutes_are_not_rounded_up_by_the_last_bit():
    km = float(travel.great_circle_km(0, 0, 0, 1))
    driving = travel.travel_between([(0, 0), (0, 1)], road_factor=1, speed_km_h=km)

    assert driving.minutes[0, 1] == 60


def test_matrix_of_no_places_is_empty():
    assert travel.travel_between([]).minutes.shape == (0, 0)


@pytest.mark.parametrize(("factor", "speed"), [(0.9, 55), (3.1, 55), (1.3, 4), (1.3, 131)])
def test_factor_or_speed_out_of_range_is_refused(factor, speed):
    with pytest.raises(ValueError, match="lies between"):
        travel.travel_between([(0, 0)], factor, speed)
