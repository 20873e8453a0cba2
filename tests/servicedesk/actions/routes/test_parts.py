"""Parts that come, vans that are full and owners who must be home, in the plan of a week."""

import uuid
from datetime import UTC, datetime, time, timedelta

import pytest

from customers.models import OwnerHours
from equipment.kinds import PartRole
from equipment.models import Part
from servicedesk.actions import stock
from servicedesk.actions.routes import hands
from servicedesk.actions.routes.horizon import problem_ahead
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import read_week
from servicedesk.actions.routes.wishes import problem_to_plan
from servicedesk.models import Technician, Ticket
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.problem import Window
from servicedesk.planning.routing.solver import plan_week
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import MONDAY, TUESDAY

pytestmark = pytest.mark.django_db
WEDNESDAY, FRIDAY = MONDAY + timedelta(days=2), MONDAY + timedelta(days=4)


@pytest.fixture(autouse=True)
def dario():
    weeks.firm()
    return make.technician()


def order(ticket, expected_on):
    return stock.order_part(
        make.part(),
        1,
        uuid=uuid.uuid4(),
        ordered_on=MONDAY - timedelta(days=20),
        expected_on=expected_on,
        by=None,
        ticket=ticket,
    )


def planned(today=MONDAY, ahead=False):
    """Days by ticket; the plan has passed the checker."""
    week = read_week(MONDAY, today=today)
    problem = problem_ahead(week) if ahead else problem_to_plan(week)
    plan = plan_week(problem, iterations=60, seed=1)
    assert checker.faults(problem, plan) == []
    return {
        int(key.split(":")[1]): route.day
        for route in plan.routes
        for stop in route.stops
        for key in stop.jobs
    }


@pytest.mark.parametrize("ahead", [False, True])
def test_work_whose_part_comes_on_wednesday_is_planned_then_and_not_before(ahead):
    waiting, other = weeks.ticket(), weeks.ticket(east=0.01)
    order(waiting, WEDNESDAY)

    days = planned(ahead=ahead)

    assert days[waiting.pk] >= 2
    assert other.pk in days


def test_a_part_that_is_expected_today_holds_nothing_back():
    ticket = weeks.ticket()
    order(ticket, MONDAY)

    assert ticket.pk in planned()


@pytest.mark.parametrize("expected_on", [None, MONDAY - timedelta(days=3)])
def test_once_the_day_has_slipped_or_is_not_known_the_work_waits_until_it_arrives(expected_on):
    ticket = weeks.ticket()
    coming = order(ticket, expected_on)
    assert planned() == {}

    stock.arrive_order(coming, now=weeks.BEFORE)

    assert ticket.pk in planned()


def test_other_work_of_the_site_does_not_wait_for_the_part():
    waiting = weeks.ticket()
    other = make.ticket(at=waiting.system, due_when_opened_on=MONDAY)
    order(waiting, None)

    assert set(planned()) == {other.pk}


def test_nothing_is_placed_by_hand_before_its_part_is_there(dario):
    ticket = weeks.ticket()
    order(ticket, WEDNESDAY)

    with pytest.raises(RouteRefused, match="come on Wednesday 25 November"):
        place(ticket, dario, TUESDAY)
    place(ticket, dario, WEDNESDAY)

    assert [row[1] for row in weeks.places()] == [WEDNESDAY]


def test_what_was_placed_by_hand_goes_to_the_day_of_its_part_once_that_is_later(dario):
    ticket = weeks.ticket()
    place(ticket, dario, TUESDAY)
    order(ticket, FRIDAY)

    assert planned() == {ticket.pk: 4}


def place(ticket, technician, day):
    hands.place_by_hand(ticket, technicians=[technician], day=day, start=None, today=weeks.TODAY)


def test_a_van_takes_no_more_in_a_day_than_it_holds(dario):
    Technician.objects.filter(pk=dario.pk).update(van_units=2)
    tickets = [_with_part(0.01 * number) for number in range(6)]

    days = planned()

    loads = [list(days.values()).count(day) for day in range(5)]
    assert max(loads) <= 2
    assert set(days) == {ticket.pk for ticket in tickets}  # the whole week takes all of it


def test_a_part_that_fits_into_no_van_is_left_out(dario):
    Technician.objects.filter(pk=dario.pk).update(van_units=2)
    ticket = _with_part()
    Part.objects.update(van_units=3)

    assert ticket.pk not in planned()


def test_where_no_van_has_a_limit_nothing_is_counted(dario):
    for number in range(6):
        _with_part(0.01 * number)

    (first, *_) = problem_to_plan(read_week(MONDAY, today=MONDAY)).wishes

    assert first.jobs[0].units == 0


def _with_part(east=0.0):
    ticket = weeks.ticket(east, task=make.task(part_roles=[PartRole.FILTER_ELEMENT]))
    fitted = ticket.position.serves.fittings.get().component.type
    make.part_for(fitted, PartRole.FILTER_ELEMENT)
    return ticket


def _owner_at_home(**fields):
    ticket = weeks.ticket(site=make.site(lat=44.95, lon=-93.0, owner_present=True), **fields)
    return Ticket.objects.select_related("site").get(pk=ticket.pk)


def windows():
    (wish,) = problem_to_plan(read_week(MONDAY, today=MONDAY)).wishes
    return wish.windows


def test_owner_who_must_be_home_is_visited_at_his_hours():
    ticket = _owner_at_home()
    OwnerHours.objects.create(site=ticket.site, weekday=2, comes=time(9), leaves=time(12))

    assert windows() == (Window(1, 9 * 60, 12 * 60),)
    assert planned() == {ticket.pk: 1}


def test_hours_of_the_owner_are_those_of_his_own_clock():
    ticket = _owner_at_home()
    ticket.site.time_zone = "America/Denver"
    ticket.site.save()
    OwnerHours.objects.create(site=ticket.site, weekday=2, comes=time(9), leaves=time(12))

    assert windows() == (Window(1, 10 * 60, 13 * 60),)  # Chicago is an hour ahead


def test_owner_who_must_be_home_and_named_no_hours_is_not_planned_until_a_day_is_agreed(dario):
    ticket = _owner_at_home()
    assert planned() == {}
    with pytest.raises(RouteRefused, match="agree on a day first"):
        place(ticket, dario, TUESDAY)

    ticket.promised_from = datetime(2026, 11, 24, 15, tzinfo=UTC)  # nine in Chicago
    ticket.promised_until = datetime(2026, 11, 24, 18, tzinfo=UTC)
    ticket.save()

    assert planned() == {ticket.pk: 1}
    place(ticket, dario, TUESDAY)
