"""The way round a closed area, held to a textbook and to a search through all ways."""

import math
from itertools import pairwise

import numpy as np
import pytest

from servicedesk.planning.routing.barriers import (
    Area,
    area_of,
    area_polygon,
    is_inside,
    way_round_km,
)
from servicedesk.planning.routing.problem import Place

AREA = Area(45.0, -93.0, 3.0)
EAST_KM = 111.32 * math.cos(math.radians(45.0))


def place(east_km, north_km):
    return Place(45.0 + north_km / 111.32, -93.0 + east_km / EAST_KM)


def shortest_km(a, b, radius):
    """The best of all ways that touch a circle at two of 1,440 points and follow it between."""
    angles = np.linspace(0, 2 * math.pi, 1440, endpoint=False)
    rim = radius * np.column_stack([np.cos(angles), np.sin(angles)])
    to_a, to_b = _seen_km(np.array(a), rim, radius), _seen_km(np.array(b), rim, radius)
    apart = np.abs(angles[:, None] - angles[None, :])
    arcs = radius * np.minimum(apart, 2 * math.pi - apart)
    return float((to_a[:, None] + arcs + to_b[None, :]).min())


def _seen_km(spot, rim, radius):
    """Straight distance to each point of the rim; endless where the line would go inside."""
    lines = rim[:, None, :] + (spot - rim)[:, None, :] * np.linspace(0.01, 1, 200)[None, :, None]
    outside = np.hypot(lines[..., 0], lines[..., 1]).min(axis=1) >= radius * 0.9999
    return np.where(outside, np.hypot(*(rim - spot).T), np.inf)


def test_way_straight_through_goes_round_by_two_tangents_and_an_arc():
    # textbook: from (-5, 0) to (5, 0) round a circle of 3: 2 * 4 + 3 * (pi - 2 * acos(3 / 5))
    expected = 8 + 3 * (math.pi - 2 * math.acos(0.6)) - 10

    assert way_round_km(AREA, place(-5, 0), place(5, 0)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("a", "b"), [((-6, 0), (6, 0)), ((-5, 1), (7, -2)), ((0, 4), (1, -9)), ((-3.5, -1), (4, 2))]
)
def test_way_round_is_the_shortest_of_all_that_touch_the_circle(a, b):
    straight = math.dist(a, b)
    ours = way_round_km(AREA, place(*a), place(*b)) + straight

    assert ours == pytest.approx(shortest_km(a, b, AREA.radius_km), rel=0.002)


@pytest.mark.parametrize(
    ("here", "there"),
    [((-5, 4), (5, 4)), ((-5, 0), (-9, 0)), ((4, 4), (4, 4)), ((1, 0), (8, 0))],
)
def test_way_that_stays_outside_or_ends_inside_is_not_longer(here, there):
    assert way_round_km(AREA, place(*here), place(*there)) == 0


def test_polygon_is_a_closed_ring_counter_clockwise_and_gives_its_area_back():
    polygon = area_polygon(AREA)
    ring = polygon["coordinates"][0]
    turns = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(ring))

    # RFC 7946, 3.1.6: first and last position are the same, exterior rings are counter-clockwise
    assert ring[0] == ring[-1]
    assert turns > 0
    again = area_of(polygon)
    assert again.latitude == pytest.approx(45.0, abs=1e-4)
    assert again.longitude == pytest.approx(-93.0, abs=1e-4)
    assert again.radius_km == pytest.approx(3.0, rel=0.01)


def test_middle_lies_inside_and_a_place_beyond_the_edge_does_not():
    assert is_inside(AREA, 45.0, -93.0)
    assert not is_inside(AREA, 45.0 + 3.1 / 111.0, -93.0)
