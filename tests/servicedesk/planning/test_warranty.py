"""Until when a warranty runs; the days are those of dateutil's relativedelta."""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from equipment.kinds import ReplacementWarranty
from servicedesk.planning.warranty import Warranty, of_replacement, warranty_until

OLD = Warranty(date(2025, 8, 31), 24)
SWAP = date(2026, 5, 1)


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 120))
def test_warranty_ends_as_many_calendar_months_on_as_it_runs(from_on, months):
    assert warranty_until(from_on, months) == from_on + relativedelta(months=months)


@pytest.mark.parametrize("known", [(None, 24), (SWAP, None), (SWAP, 0)])
def test_warranty_of_which_half_is_unknown_has_no_end(known):
    assert warranty_until(*known) is None


@pytest.mark.parametrize(
    ("rule", "new_months", "expected"),
    [
        (ReplacementWarranty.RESTARTS, 36, Warranty(SWAP, 36)),
        (ReplacementWarranty.RESTARTS, None, Warranty(SWAP, 24)),
        (ReplacementWarranty.INHERITS, 36, OLD),
        (ReplacementWarranty.UNKNOWN, 36, None),
    ],
)
def test_unit_given_under_warranty_has_what_its_maker_grants(rule, new_months, expected):
    assert of_replacement(rule, OLD, new_months, SWAP) == expected


def test_inherited_warranty_ends_when_the_old_one_would_have():
    given_for_it = of_replacement(ReplacementWarranty.INHERITS, OLD, 24, SWAP)

    assert given_for_it.until == OLD.until == date(2027, 8, 31)
