"""Driving between places, guessed from the straight distance."""

import math
import zlib
from base64 import b64encode

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.physics.geodesy import great_circle_km
from servicedesk.planning import travel


def test_drive_is_the_straight_distance_times_the_road_factor_rounded_up():
    places = [(44.0, -93.0), (45.0, -93.0)]  # 111.195 km, 144.554 km by road, 157.695 min at 55
    driving = travel.travel_between(places, road_factor=1.3, speed_km_h=55)

    assert driving.minutes.tolist() == [[0, 158], [158, 0]]
    assert driving.hectometres.tolist() == [[0, 1446], [1446, 0]]
    assert driving.minutes.dtype == driving.hectometres.dtype == np.int64


def test_whole_minutes_are_not_rounded_up_by_the_last_bit():
    km = float(great_circle_km(0, 0, 0, 1))
    driving = travel.travel_between([(0, 0), (0, 1)], road_factor=1, speed_km_h=km)

    assert driving.minutes[0, 1] == 60


def test_matrix_of_no_places_is_empty():
    assert travel.travel_between([]).minutes.shape == (0, 0)


@pytest.mark.parametrize(("factor", "speed"), [(0.9, 55), (3.1, 55), (1.3, 4), (1.3, 131)])
def test_factor_or_speed_out_of_range_is_refused(factor, speed):
    with pytest.raises(ValueError, match="lies between"):
        travel.travel_between([(0, 0)], factor, speed)


def test_slow_region_has_its_own_speed():
    """Between two regions a drive has the mean of both speeds: 60 and 40 give 50."""
    places = [(0, 0), (0, 1), (0, 2)]
    km = float(great_circle_km(0, 0, 0, 1))
    driving = travel.travel_between(places, road_factor=1, speed_km_h=[60, 40, 40])

    assert driving.minutes[0, 1] == math.ceil(km / 50 * 60)
    assert driving.minutes[1, 2] == math.ceil(km / 40 * 60)
    assert driving.hectometres[0, 1] == driving.hectometres[1, 2]


@pytest.mark.parametrize(
    ("seconds", "metres", "expected"),
    [
        (0, 0, (0, 0)),
        (192.6, 1886.89, (4, 19)),  # 3 min 12.6 s; 1.887 km
        (240, 1900, (4, 19)),  # whole already
        (math.nan, 5, (travel.NO_ROAD_MIN, travel.NO_ROAD_HM)),
        (5, math.nan, (travel.NO_ROAD_MIN, travel.NO_ROAD_HM)),
        (1e7, 1e7, (travel.NO_ROAD_MIN, travel.NO_ROAD_HM)),  # no day holds it either
    ],
)
def test_drive_of_a_routing_service_is_rounded_up(seconds, metres, expected):
    drive = travel.whole_units([seconds], [metres])

    assert (drive.minutes.tolist(), drive.hectometres.tolist()) == ([expected[0]], [expected[1]])


def test_known_drives_stand_before_guessed_ones_and_new_places_are_guessed():
    guessed = travel.travel_between([(0, 0), (0, 1), (0, 2)], 1, 60)
    known = travel.Travel(np.array([[0, 99], [-1, 0]]), np.array([[0, 990], [-1, 0]]))

    found = travel.with_table(guessed, travel.unpacked(travel.packed(known)))

    assert found.minutes[0, 1] == 99
    assert found.hectometres[0, 1] == 990
    assert found.minutes[1, 0] == guessed.minutes[1, 0]
    assert found.minutes[:, 2].tolist() == guessed.minutes[:, 2].tolist()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 12), st.randoms(use_true_random=False))
def test_table_of_drives_is_the_same_after_it_was_packed(size, random):
    cells = [[random.randint(-1, travel.NO_ROAD_HM) for _ in range(size)] for _ in range(size)]
    table = travel.Travel(*(np.array(cells, dtype=int).reshape(size, size) for _ in "ab"))
    word = travel.packed(table)

    if word:
        assert travel.unpacked(word).minutes.tolist() == cells
    else:
        assert (table.minutes < 0).all()


def test_word_that_is_no_table_is_refused():
    with pytest.raises(ValueError, match="no table"):
        travel.unpacked(b64encode(zlib.compress(b"\0" * 6)).decode())


def test_table_of_three_hundred_places_takes_little_room():
    places = [(45 + n / 300, -93 + (n * 7 % 300) / 200) for n in range(300)]

    assert len(travel.packed(travel.travel_between(places))) < 400_000
