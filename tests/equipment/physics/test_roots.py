"""Closing in on a crossing always ends, and ends beside it."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics.roots import crossing


def find(function, low, high, close=1e-9):
    return crossing(function, low, high, function(low), function(high), x_close=close)


@given(st.floats(-5, 5), st.floats(0.2, 9), st.booleans())
def test_crossing_is_found_whether_smooth_steep_or_flat(root, power, rising):
    def function(x):
        sign = math.copysign(1, x - root) * (1 if rising else -1)
        return sign * abs(x - root) ** power

    assert find(function, -10, 10) == pytest.approx(root, abs=1e-8)


@given(st.floats(-9, 9))
def test_jump_over_zero_is_found(place):
    assert find(lambda x: -1.0 if x < place else 3.0, -10, 10) == pytest.approx(place, abs=1e-8)


@given(st.floats(1e-12, 1))
def test_search_always_ends_in_a_few_hundred_steps(root):
    asked = []

    def function(x):
        asked.append(x)
        return math.expm1(40 * min(x - root, 15))

    find(function, 0.0, 1e6 if root > 0.5 else 10.0, 1e-12)

    assert len(asked) < 200


def test_bounds_on_one_side_of_zero_are_refused():
    with pytest.raises(ValueError, match="does not change its sign"):
        find(lambda x: x + 20, -10, 10)
