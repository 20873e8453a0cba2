"""When a figure is asked about: Python's own fractions say where a fifth and five times lie."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.likely import is_far_from


@given(st.integers(1, 10**6), st.integers(1, 10**6))
def test_figure_is_far_below_a_fifth_and_above_five_times(new, former):
    assert is_far_from(new, former) == (not Fraction(1, 5) <= Fraction(new, former) <= 5)


def test_former_figure_of_nothing_says_nothing():
    assert not is_far_from(90, 0)
