"""Distances. Check rows: tests/reference/geodesy.json; each row names its own source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import geodesy
from tests.checks import agrees, rows

LINES = [row for row in rows("geodesy") if "lat1" in row["inputs"]]
ENDS = ("lat1", "lon1", "lat2", "lon2")
latitudes, longitudes = st.floats(-89, 89), st.floats(-180, 180)
# Geoscience Australia, GDA technical manual: 37 57 03.72030 S, 144 25 29.52440 E to
# 37 39 10.15610 S, 143 55 35.38390 E; the row rounds them to nine figures, which is 24 mm.
FLINDERS_PEAK = (-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600)
BUNINYONG = (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600)


def row_of(words):
    (row,) = rows("geodesy", words)
    return row


@pytest.mark.parametrize("row", LINES[1:], ids=lambda row: row["id"])
def test_geodesic_is_the_published_one(row):
    metres = geodesy.geodesic(*(row["inputs"][name] for name in ENDS)).distance_m
    got = metres / 1000 if row["unit"] == "km" else metres

    assert agrees(row["expected"], got, row["tolerance"])


def test_geodesic_and_its_azimuths_follow_the_published_line_to_a_millimetre():
    length, azimuths = row_of("Vincenty test line"), row_of("azimuths of the same line")
    line = geodesy.geodesic(*FLINDERS_PEAK, *BUNINYONG, "GRS80")

    assert agrees(length["expected"], line.distance_m, length["tolerance"])
    both = [line.azimuth_deg, line.back_azimuth_deg]
    assert agrees(azimuths["expected"], both, azimuths["tolerance"])


def test_quarter_of_a_meridian_is_the_published_one():
    row = row_of("quarter meridian")

    assert agrees(row["expected"], geodesy.geodesic(0, 0, 90, 0).distance_m, row["tolerance"])


@pytest.mark.parametrize(
    "row", [row for row in LINES if "rel" in row["tolerance"]], ids=lambda row: row["id"]
)
def test_great_circle_agrees_with_published_distances(row):
    km = float(geodesy.great_circle_km(*(row["inputs"][name] for name in ENDS)))
    got = km * 1000 if row["unit"] == "m" else km

    # The rows are geodesics of the ellipsoid; a sphere is within the tolerance they state.
    assert agrees(row["expected"], got, row["tolerance"])


def test_one_degree_of_latitude_on_the_mean_sphere():
    row = row_of("one degree of latitude")

    assert agrees(row["expected"], geodesy.great_circle_km(44, -93, 45, -93), row["tolerance"])


def test_radius_is_the_mean_radius_of_the_iugg():
    assert row_of("IUGG mean radius")["expected"] == geodesy.EARTH_RADIUS_KM


def test_half_way_round_the_earth_stays_a_number():
    half_km = np.pi * geodesy.EARTH_RADIUS_KM

    assert geodesy.great_circle_km(0, 0, 0, 180) == pytest.approx(half_km)
    assert geodesy.great_circle_km(90, 0, -90, 0) == pytest.approx(half_km)


@pytest.mark.parametrize("ends", [(91, 0, 0, 0), (0, 0, -90.1, 0), (0, 181, 0, 0), (0, 0, 0, 200)])
@pytest.mark.parametrize("way", [geodesy.great_circle_km, geodesy.geodesic])
def test_place_that_is_not_on_the_earth_is_refused(way, ends):
    with pytest.raises(ValueError, match="lies between"):
        way(*ends)


@pytest.mark.parametrize("way", [geodesy.great_circle_km, geodesy.geodesic])
def test_not_a_number_is_refused(way):
    with pytest.raises(ValueError, match="latitude"):
        way(float("nan"), 0, 0, 0)


def test_ellipsoid_that_is_not_known_is_refused():
    with pytest.raises(ValueError, match="WGS84, GRS80"):
        geodesy.geodesic(0, 0, 1, 1, "Clarke 1866")


@given(latitudes, longitudes, latitudes, longitudes)
def test_the_way_back_is_as_long_and_the_sphere_is_near(lat1, lon1, lat2, lon2):
    there = geodesy.geodesic(lat1, lon1, lat2, lon2)
    back = geodesy.geodesic(lat2, lon2, lat1, lon1)

    assert back.distance_m == pytest.approx(there.distance_m, abs=1e-6)
    sphere_m = 1000 * float(geodesy.great_circle_km(lat1, lon1, lat2, lon2))
    assert sphere_m == pytest.approx(there.distance_m, rel=0.006, abs=1e-3)
    assert 0 <= there.azimuth_deg <= 360
