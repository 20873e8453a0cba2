"""A watched day knows until when another day would have given the same answer."""

import operator
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.due.watched import WatchedDay

TODAY = date(2026, 11, 25)
COMPARED = [operator.lt, operator.le, operator.gt, operator.ge, operator.eq, operator.ne]
near = st.integers(-6, 6).map(lambda n: TODAY + timedelta(days=n))


@given(st.lists(st.tuples(st.sampled_from(COMPARED), near, st.booleans()), max_size=5))
def test_same_comparisons_come_out_alike_on_every_day_before_the_end(comparisons):
    def answers(today):
        return [
            op(other, today) if turned else op(today, other) for op, other, turned in comparisons
        ]

    watched = WatchedDay(TODAY)
    found = answers(watched)
    later = [TODAY + timedelta(days=n) for n in range(20)]

    assert all(answers(day) == found for day in later if day < watched.until)
    if watched.until <= later[-1]:
        assert answers(watched.until) != found  # and it is not given up sooner than needed


@pytest.mark.parametrize(
    ("asked", "until"),
    [
        (lambda day: day.year, date(2027, 1, 1)),
        (lambda day: day.month, date(2026, 12, 1)),
        (lambda day: day.day, date(2026, 11, 26)),
        (lambda day: day + timedelta(days=3), date(2026, 11, 26)),
        (lambda day: date(2026, 12, 24) - day, date(2026, 11, 26)),
        (lambda day: f"{day}", date(2026, 11, 26)),
        (lambda day: day.isoformat(), date(2026, 11, 26)),
        (lambda day: day.toordinal(), date(2026, 11, 26)),
        (lambda day: hash(day), date(2026, 11, 26)),
        (lambda day: day.weekday(), date(2026, 11, 26)),
        (lambda day: max(day, date(2026, 12, 24)), date(2026, 12, 24)),
        (lambda day: max(day, day), date.max),
    ],
)
def test_whatever_is_asked_of_a_day_is_answered_for_as_long_as_it_holds(asked, until):
    watched = WatchedDay(TODAY)

    answer, held_until = asked(watched), watched.until

    assert (answer, held_until) == (asked(TODAY), until)
