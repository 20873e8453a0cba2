"""The way round what is closed, held to a textbook and to a search through all ways."""

import math
from dataclasses import asdict, replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from servicedesk.planning.routing.barriers import (
    Area,
    Barrier,
    area_from,
    area_polygon,
    barrier_of,
    is_inside,
    is_within,
    more_km,
)
from servicedesk.planning.routing.problem import Place, WeekProblem

AREA = Area(45.0, -93.0, 3.0)
ROUND = barrier_of(area_polygon(AREA))
EAST_KM = 111.32 * math.cos(math.radians(45.0))


def place(east_km, north_km):
    return Place(45.0 + north_km / 111.32, -93.0 + east_km / EAST_KM)


def spot(east_km, north_km):
    there = place(east_km, north_km)
    return there.latitude, there.longitude


def shape(kind, *points):
    """A GeoJSON shape by kilometres east and north."""
    corners = [[lon, lat] for lat, lon in (spot(*point) for point in points)]
    return {"type": kind, "coordinates": [corners] if kind == "Polygon" else corners}


def way_round_km(barrier, here, there):
    return float(more_km(barrier, [spot(*here), spot(*there)])[0, 1])


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
    # textbook: from (-5, 0) to (5, 0) round a circle of 3: 2 * 4 + 3 * (pi - 2 * acos(3 / 5)); the
    # 48 corners that are kept for the circle cut its arc by less than a thousandth
    expected = 8 + 3 * (math.pi - 2 * math.acos(0.6)) - 10

    assert way_round_km(ROUND, (-5, 0), (5, 0)) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(
    ("a", "b"), [((-6, 0), (6, 0)), ((-5, 1), (7, -2)), ((0, 4), (1, -9)), ((-3.5, -1), (4, 2))]
)
def test_way_round_is_the_shortest_of_all_that_touch_the_circle(a, b):
    ours = way_round_km(ROUND, a, b) + math.dist(a, b)

    assert ours == pytest.approx(shortest_km(a, b, AREA.radius_km), rel=0.003)


@pytest.mark.parametrize(
    ("here", "there"),
    [((-5, 4), (5, 4)), ((-5, 0), (-9, 0)), ((4, 4), (4, 4)), ((1, 0), (8, 0))],
)
def test_way_that_stays_outside_or_ends_inside_is_not_longer(here, there):
    assert way_round_km(ROUND, here, there) == 0


def test_way_round_a_square_goes_by_its_nearer_corners():
    # plane geometry: from (-3, 0) to (3, 0) round the square of +-1: twice sqrt(2^2 + 1^2), and 2
    square = barrier_of(shape("Polygon", (-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)))

    expected = 2 * math.sqrt(5) + 2 - 6
    assert way_round_km(square, (-3, 0), (3, 0)) == pytest.approx(expected, abs=1e-4)


def test_way_out_of_the_pocket_of_a_horseshoe_goes_round_its_arm():
    # The pocket lies between (-1, -1) and (1, 2) and opens to the north; from its ground to the
    # west: up to the arm's inner corner, over its top of 1 km, and down again.
    arms = [(-2, -2), (2, -2), (2, 2), (1, 2), (1, -1), (-1, -1), (-1, 2), (-2, 2), (-2, -2)]
    horseshoe = barrier_of(shape("Polygon", *arms))

    expected = math.hypot(1, 2) + 1 + math.hypot(2, 2) - 4
    assert way_round_km(horseshoe, (0, 0), (-4, 0)) == pytest.approx(expected, abs=1e-4)


def test_two_sides_of_a_river_without_a_bridge_are_joined_round_its_nearer_end():
    # plane geometry: the river runs 10 km north and south; its nearer end lies 4 km away
    river = barrier_of(shape("LineString", (0, -4), (0.5, 1), (0, 6)))

    across = 2 * math.hypot(3, 4) - 6
    assert way_round_km(river, (-3, 0), (3, 0)) == pytest.approx(across, abs=0.03)
    assert way_round_km(river, (-3, 0), (-3, 4)) == 0


def test_way_round_that_somebody_knows_is_taken_for_every_drive_that_is_cut():
    river = barrier_of(shape("LineString", (0, -4), (0, 6)), way_round_km=38)
    spots = (place(-3, 0), place(3, 0), place(4, 1))
    open_week = WeekProblem(spots, (), ())
    closed = replace(open_week, areas=(river,))

    more = closed.travel.hectometres - open_week.travel.hectometres
    assert more.tolist() == [[0, 380, 380], [380, 0, 0], [380, 0, 0]]
    # 38 km at 55 km/h are 41.5 minutes
    assert (closed.travel.minutes - open_week.travel.minutes)[0].tolist() == [0, 42, 42]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=2, max_size=6),
    st.lists(st.tuples(st.floats(1, 4), st.floats(-3, 3)), min_size=3, max_size=7),
)
def test_way_round_is_the_same_there_and_back_and_never_shorter(spots, points):
    star = [
        (east * math.cos(math.tau * n / len(points)), east * math.sin(math.tau * n / len(points)))
        for n, (east, _) in enumerate(points)
    ]
    more = more_km(barrier_of(shape("Polygon", *star, star[0])), [spot(*one) for one in spots])

    assert np.isfinite(more).all()
    assert (more >= 0).all()
    assert np.allclose(more, more.T)
    assert (np.diagonal(more) == 0).all()


def test_polygon_is_a_closed_ring_counter_clockwise_as_the_standard_wants_it():
    ring = area_polygon(AREA)["coordinates"][0]
    turns = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(ring))

    # RFC 7946, 3.1.6: first and last position are the same, exterior rings are counter-clockwise
    assert ring[0] == ring[-1]
    assert turns > 0


# RFC 7946, A.3: the example of a polygon without holes; and appendix A.2, of a line.
SQUARE = [[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]
LINE = [[100.0, 0.0], [101.0, 1.0]]


def test_examples_of_the_standard_are_read():
    square = barrier_of({"type": "Polygon", "coordinates": [SQUARE]})
    line = barrier_of({"type": "LineString", "coordinates": LINE})

    assert square.corners == ((100, 0), (101, 0), (101, 1), (100, 1))
    assert is_within(square, 0.5, 100.5)
    assert not is_within(square, 1.5, 100.5)
    assert line.is_line
    assert not is_within(line, 0.5, 100.5)
    feature = {"type": "Feature", "geometry": {"type": "LineString", "coordinates": LINE}}
    assert barrier_of({"type": "FeatureCollection", "features": [feature]}) == line


@pytest.mark.parametrize(
    ("pasted", "says"),
    [
        ({"type": "Point", "coordinates": [100, 0]}, "one GeoJSON Polygon or LineString"),
        ({"type": "FeatureCollection", "features": []}, "one GeoJSON Polygon or LineString"),
        ({"type": "Polygon", "coordinates": [SQUARE, SQUARE]}, "has a hole"),
        ({"type": "Polygon", "coordinates": [SQUARE[:-1]]}, "ends at its first"),
        ({"type": "LineString", "coordinates": [[100, 0], [100, 0]]}, "two different points"),
        ({"type": "LineString", "coordinates": [[45, -93], [45, -92]]}, "longitude first"),
        ({"type": "LineString", "coordinates": [["a", 0], [1, 1]]}, "not a longitude"),
        ({"type": "LineString", "coordinates": [[n / 9, 0] for n in range(101)]}, "100 points"),
        ([], "one GeoJSON"),
    ],
)
def test_shape_that_nobody_could_drive_round_is_refused_with_a_sentence(pasted, says):
    with pytest.raises(ValueError, match=says):
        barrier_of(pasted)


def test_shape_is_the_same_after_it_was_kept_as_plain_data():
    for barrier in (ROUND, Barrier(((100.0, 0.0), (101.0, 1.0)), is_line=True, way_round_km=9)):
        assert area_from(asdict(barrier)) == barrier


def test_middle_lies_inside_and_a_place_beyond_the_edge_does_not():
    for inside in (is_inside(AREA, 45.0, -93.0), is_within(ROUND, 45.0, -93.0)):
        assert inside
    beyond = 45.0 + 3.1 / 111.0
    assert not is_inside(AREA, beyond, -93.0)
    assert not is_within(ROUND, beyond, -93.0)
