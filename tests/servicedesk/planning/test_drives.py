"""What logged drives teach, held to sums by hand and to numpy's median."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from servicedesk.planning.drives import (
    FACTORS,
    Drive,
    Stay,
    drives_between,
    learned,
    speed_km_h,
)
from servicedesk.planning.routing.problem import Lunch

DAY = date(2026, 6, 1)
LUNCH = Lunch()
FIRST = Stay(1, DAY, 45.0, -93.0, 7, 8 * 60, 9 * 60)
NEXT = Stay(1, DAY, 45.1, -93.0, 7, 9 * 60 + 20, 10 * 60)  # 11.12 km north


def test_drive_is_from_leaving_one_visit_to_arriving_at_the_next():
    (drive,) = drives_between([NEXT, FIRST], LUNCH)

    assert drive.minutes == 20
    # a tenth of a degree of a meridian: 6371.0088 km * pi / 1800
    assert drive.straight_km == pytest.approx(11.1195, abs=1e-4)
    assert drive.region == 7


@pytest.mark.parametrize(
    "other",
    [
        replace(NEXT, person=2),
        replace(NEXT, day=date(2026, 6, 2)),
        replace(NEXT, region=8),
        replace(NEXT, latitude=45.005),  # half a kilometre
        replace(NEXT, arrives_min=9 * 60 + 2),  # two minutes
        replace(NEXT, arrives_min=11 * 60 + 1),  # two hours and one minute
        replace(NEXT, arrives_min=9 * 60 + 5, latitude=45.2),  # 22 km in five minutes
        replace(NEXT, arrives_min=8 * 60 + 50),  # came before the other was over
    ],
    ids=["person", "day", "region", "near", "short", "long", "too quick", "overlap"],
)
def test_drive_that_nobody_can_have_made_so_teaches_nothing(other):
    assert drives_between([FIRST, other], LUNCH) == []


def test_drive_that_may_hold_the_break_teaches_nothing():
    late = replace(FIRST, leaves_min=11 * 60 + 50), replace(NEXT, arrives_min=12 * 60 + 40)

    assert drives_between(late, LUNCH) == []
    assert len(drives_between(late, Lunch(minutes=0))) == 1


def test_visit_without_an_end_or_without_a_region_teaches_nothing():
    for odd in (replace(FIRST, leaves_min=None), replace(FIRST, region=None)):
        assert drives_between([odd, NEXT], LUNCH) == []


def test_visit_in_between_ends_the_drive_there():
    between = replace(FIRST, latitude=45.05, arrives_min=9 * 60 + 8, leaves_min=9 * 60 + 12)

    assert [d.minutes for d in drives_between([FIRST, NEXT, between], LUNCH)] == [8, 8]


def test_speed_is_the_way_by_road_over_the_time():
    # 20 km straight at a factor of 1.5 are 30 km, in 40 minutes: 45 km/h
    assert speed_km_h(Drive(7, 20, 40, (0, 0), (0, 1)), 1.5) == pytest.approx(45)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([], 1.3),
        ([1.6], (1 * 1.6 + 20 * 1.3) / 21),  # 1.314: one drive moves little
        ([1.6] * 20, 1.45),  # as many drives as the usual figure counts for: the middle
        ([1.6] * 180, 1.57),
        ([1.5, 1.6, 9.0], (3 * 1.6 + 20 * 1.3) / 23),  # an odd drive does not matter
        ([40.0] * 50, 3.0),  # never beyond what a road factor may be
    ],
)
def test_few_drives_move_a_figure_little_and_many_carry_it(values, expected):
    found = learned(values, 1.3, *FACTORS)

    assert found.value == pytest.approx(expected)
    assert found.drives == len(values)


@settings(max_examples=50)
@given(st.lists(st.floats(1, 3), min_size=1, max_size=60), st.floats(1, 3))
def test_figure_lies_between_the_median_and_the_usual_one(values, usual):
    middle = float(np.median(values))  # numpy's, an implementation of its own
    found = learned(values, usual, *FACTORS).value

    assert min(middle, usual) - 1e-9 <= found <= max(middle, usual) + 1e-9
    share = len(values) / (len(values) + 20)
    assert found == pytest.approx(share * middle + (1 - share) * usual)
