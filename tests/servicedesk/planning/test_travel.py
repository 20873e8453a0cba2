"""Driving between places, guessed from the straight distance."""

import numpy as np
import pytest

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
