"""Who is away for a part of a day works the rest of it, and every later planning knows."""

from datetime import UTC, datetime, time, timedelta

import pytest

from servicedesk.actions.routes import hands
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs import what
from servicedesk.actions.routes.week import Places, read_week, shifts_of
from servicedesk.models import Absence
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db
FRIDAY, NEXT = MONDAY + timedelta(days=4), MONDAY + timedelta(days=7)


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def dario():
    person = make.technician(boat=True)
    person.shifts.update(starts=time(7), ends=time(15, 30), overtime_min=60)
    return person


def hours(monday=MONDAY):
    """Begin and end of each day of a week that is worked, and the minutes it may run over."""
    week = read_week(monday, today=TODAY)
    return {
        week.day(s.day): (s.from_min, s.until_min, s.overtime_min)
        for s in shifts_of(week, Places([], {}))
    }


def away(dario, from_on, to_on, **fields):
    return Absence.objects.create(technician=dario, from_on=from_on, to_on=to_on, **fields)


def test_whole_days_away_are_not_worked(dario):
    away(dario, MONDAY, TUESDAY)

    assert min(hours()) == MONDAY + timedelta(days=2)


def test_who_leaves_at_an_hour_works_until_then_and_not_longer(dario):
    away(dario, MONDAY, MONDAY, from_at=time(10, 30))

    assert hours()[MONDAY] == (7 * 60, 10 * 60 + 30, 0)
    assert hours()[TUESDAY] == (7 * 60, 15 * 60 + 30, 60)


def test_who_comes_back_at_an_hour_works_from_then(dario):
    away(dario, MONDAY, MONDAY, to_at=time(12))

    assert hours()[MONDAY] == (12 * 60, 15 * 60 + 30, 60)


def test_who_is_away_in_the_middle_works_the_longer_part(dario):
    away(dario, MONDAY, MONDAY, from_at=time(8), to_at=time(10))

    assert hours()[MONDAY] == (10 * 60, 15 * 60 + 30, 60)


def test_absence_over_a_weekend_takes_parts_of_both_weeks(dario):
    away(dario, FRIDAY, NEXT, from_at=time(10, 30), to_at=time(9))

    assert hours()[FRIDAY][:2] == (7 * 60, 10 * 60 + 30)
    assert hours(NEXT)[NEXT][:2] == (9 * 60, 15 * 60 + 30)


def test_absence_outside_the_shift_takes_nothing(dario):
    away(dario, MONDAY, MONDAY, from_at=time(16))

    assert hours()[MONDAY] == (7 * 60, 15 * 60 + 30, 60)


def test_two_absences_of_a_day_leave_what_neither_takes(dario):
    away(dario, MONDAY, MONDAY, to_at=time(9))
    away(dario, MONDAY, MONDAY, from_at=time(12))

    assert hours()[MONDAY][:2] == (9 * 60, 12 * 60)


def test_work_that_does_not_end_before_he_leaves_is_refused(dario):
    away(dario, MONDAY, MONDAY, from_at=time(9))
    ticket = weeks.ticket(task=make.task(minutes=180))

    with pytest.raises(RouteRefused, match="after the shift ends at 09:00"):
        hands.place_by_hand(ticket, technicians=[dario], day=MONDAY, start=None, today=TODAY)


def test_hour_from_which_somebody_is_away_is_written_down_as_the_shop_shows_it(dario):
    at = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)  # 10:30 in Chicago
    told = what.away(dario, MONDAY, MONDAY, from_at=at)
    absence, _ = what.written_down(told, None)

    assert absence.from_at == time(10, 30)
    assert "away from 10:30 on Monday" in told.says
    assert what.written_down(told, None) == (None, None)  # known already
    longer = what.away(dario, MONDAY, MONDAY)
    assert what.written_down(longer, None)[0].from_at is None
