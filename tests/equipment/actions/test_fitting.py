"""Serial units: fitted, moved, taken out; never in two places on one day."""

from datetime import date

import pytest

from equipment.actions import fitting
from equipment.kinds import ComponentState, PositionKind
from equipment.models import Fitting
from tests import make

pytestmark = pytest.mark.django_db
MARCH = date(2026, 3, 1)
MAY = date(2026, 5, 1)


def test_a_unit_sits_at_its_position_until_it_is_taken_out():
    unit, place = make.component(), make.position()
    fitting.fit(unit, place, on=MARCH, entered_at=make.MORNING)

    fitting.remove(unit, on=MAY)

    unit.refresh_from_db()
    assert unit.state == ComponentState.IN_SHOP
    row = Fitting.objects.get()
    assert (row.from_on, row.to_on) == (MARCH, MAY)


def test_a_position_that_is_taken_takes_no_second_unit():
    place = make.position()
    fitting.fit(make.component(), place, on=MARCH, entered_at=make.MORNING)

    with pytest.raises(fitting.FittingRefused, match=r"from 1 March 2026\. Take it out first"):
        fitting.fit(make.component(), place, on=MAY, entered_at=make.MORNING)


def test_a_unit_cannot_be_fitted_into_days_that_are_taken_later():
    unit, place = make.component(), make.position()
    fitting.fit(unit, place, on=MARCH, entered_at=make.MORNING)
    fitting.remove(unit, on=MAY)

    with pytest.raises(fitting.FittingRefused, match="to 1 May 2026"):
        fitting.fit(make.component(), place, on=date(2026, 4, 1), entered_at=make.MORNING)


def test_a_moved_unit_leaves_one_place_and_sits_at_the_other_from_that_day():
    unit, here, there = make.component(), make.position(), make.position()
    fitting.fit(unit, here, on=MARCH, entered_at=make.MORNING)

    fitting.move(unit, there, on=MAY, entered_at=make.MORNING)

    rows = Fitting.objects.order_by("from_on").values_list("position", "from_on", "to_on")
    assert list(rows) == [(here.pk, MARCH, MAY), (there.pk, MAY, None)]


def test_a_move_that_is_refused_leaves_the_unit_where_it_was():
    unit, here, there = make.component(), make.position(), make.position()
    fitting.fit(unit, here, on=MARCH, entered_at=make.MORNING)
    fitting.fit(make.component(), there, on=MARCH, entered_at=make.MORNING)

    with pytest.raises(fitting.FittingRefused):
        fitting.move(unit, there, on=MAY, entered_at=make.MORNING)

    assert Fitting.objects.get(component=unit).to_on is None


def test_a_compressor_does_not_fit_into_a_place_for_a_meter():
    with pytest.raises(fitting.FittingRefused, match="place for a meter"):
        fitting.fit(
            make.component(),
            make.position(PositionKind.METER),
            on=MARCH,
            entered_at=make.MORNING,
        )


def test_nothing_is_fitted_before_the_system_stood_there():
    with pytest.raises(fitting.FittingRefused, match="installed on 1 January 2025"):
        fitting.fit(
            make.component(), make.position(), on=date(2024, 12, 1), entered_at=make.MORNING
        )


def test_a_loaner_stays_a_loaner_wherever_it_goes():
    loaner = make.component(state=ComponentState.LOANER)
    fitting.fit(loaner, make.position(), on=MARCH, entered_at=make.MORNING)
    fitting.remove(loaner, on=MAY)

    loaner.refresh_from_db()
    assert loaner.state == ComponentState.LOANER
