"""The work of a stop is shared between two days, or more is brought to it; judged at once."""

from datetime import date, time, timedelta

import pytest

from servicedesk import kinds
from servicedesk.actions.routes import hands, plans, splitting
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.models import DueItem, LeftOut, Stop, Ticket
from servicedesk.planning.routing.frozen import problem_from
from servicedesk.planning.routing.solver import plan_week
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def firm():
    return weeks.firm()


@pytest.fixture
def dario():
    return make.technician(boat=True)


@pytest.fixture
def wen():
    return make.technician()


def place(ticket, *people, start=None):
    hands.place_by_hand(ticket, technicians=list(people), day=MONDAY, start=start, today=TODAY)


def stop_of(ticket):
    return Stop.objects.select_related("route__technician__user", "site").get(tickets=ticket)


@pytest.fixture
def two(dario):
    """Two tickets of one site on Dario's Monday."""
    first = weeks.ticket()
    second = weeks.ticket(site=first.site)
    place(first, dario)
    assert stop_of(first) == stop_of(second)
    return first, second


def split(ticket, technician, day=MONDAY):
    stop = stop_of(ticket)
    splitting.split_stop(stop, tickets=[ticket], technician=technician, day=day, today=TODAY)


def test_work_of_a_stop_is_shared_by_two_people_on_one_day(two, dario, wen):
    first, second = two
    split(second, wen)

    assert (stop_of(first).route.technician, stop_of(second).route.technician) == (dario, wen)
    minutes = [(s.leave_at - s.arrive_at).total_seconds() / 60 for s in map(stop_of, two)]
    assert minutes == [18, 18]  # each sets up for himself


def test_each_part_is_timed_for_itself_when_its_day_fills_up(two, dario, wen):
    first, second = two
    split(second, wen)
    before = stop_of(first).arrive_at
    for east in (0.1, 0.15, 0.2):
        place(weeks.ticket(east), wen)

    assert stop_of(first).arrive_at == before
    assert stop_of(second).route.stops.count() == 4


def test_part_may_go_to_another_day_of_the_same_person(two, dario):
    split(two[1], dario, TUESDAY)

    assert [stop_of(ticket).route.day for ticket in two] == [MONDAY, TUESDAY]


def test_split_week_is_published_and_planned_again_as_it_is(two, dario, wen):
    split(two[1], wen)
    before = weeks.places()
    run = plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE, iterations=50, seeds=(1,))
    solve = plans.take_solve(run.pk, 1)
    problem = problem_from(run.problem)
    plans.finish_solve(solve, problem, plan_week(problem, iterations=50, seed=1))
    plans.collect_plans(clock=weeks.clock)
    assert weeks.places() == before
    publish_week(MONDAY, by=None, today=TODAY, now=BEFORE)

    assert weeks.places() == before


def test_parts_that_meet_on_one_day_are_one_stop_again(two, dario, wen):
    first, second = two
    split(second, wen, TUESDAY)
    hands.move_stop(stop_of(second), technician=dario, day=MONDAY, today=TODAY)

    assert stop_of(first) == stop_of(second)


def test_work_for_two_people_is_never_split(dario, wen):
    pair = weeks.for_two()
    weeks.ticket(site=pair.site)
    place(pair, dario, wen, start=time(10))
    stop = Stop.objects.select_related("route__technician__user", "site").get(
        tickets=pair, route__technician=dario
    )
    other = make.technician()

    with pytest.raises(RouteRefused, match="needs two people at one time and is never split"):
        splitting.split_stop(stop, tickets=[pair], technician=other, day=TUESDAY, today=TODAY)


def test_what_needs_no_second_person_is_split_from_a_pair(dario, wen):
    pair = weeks.for_two()
    alone = weeks.ticket(site=pair.site)
    place(pair, dario, wen, start=time(10))
    other = make.technician()
    split(alone, other, TUESDAY)

    assert stop_of(alone).route.technician == other
    assert Stop.objects.filter(tickets=pair).count() == 2


@pytest.mark.parametrize("count", [0, 2])
def test_nothing_and_everything_are_no_part(two, wen, count):
    words = "all of its work" if count else "Tick the work"
    with pytest.raises(RouteRefused, match=words):
        splitting.split_stop(
            stop_of(two[0]), tickets=two[:count], technician=wen, day=MONDAY, today=TODAY
        )


def test_part_that_its_person_is_not_able_to_do_is_refused_and_nothing_changes(dario, wen):
    dario.licensed_electrician = True
    dario.save()
    first = weeks.ticket()
    wiring = weeks.ticket(site=first.site, task=make.task(skill=kinds.Skill.ELECTRICIAN))
    place(first, dario)
    before = weeks.places()

    with pytest.raises(RouteRefused, match="has the skill electrician"):
        split(wiring, wen)
    assert weeks.places() == before


def test_part_stays_in_its_week_and_off_published_days(two, dario, wen):
    with pytest.raises(RouteRefused, match="same week"):
        split(two[1], wen, MONDAY + timedelta(days=7))
    with pytest.raises(RouteRefused, match="on that day already"):
        split(two[1], dario, MONDAY)


def soon(ticket, opens_on: date = MONDAY) -> DueItem:
    """Work at the place of a ticket that has none itself yet."""
    seed = make.ticket(at=ticket.system, due_when_opened_on=opens_on)
    item = make.due_item(seed, opens_on=opens_on, closes_on=opens_on + timedelta(days=9))
    seed.delete()
    return item


def add(stop, **work):
    start = {"tickets": [], "due_items": [], "today": TODAY}
    splitting.add_work(stop, **start | work)


def test_work_due_soon_is_done_along_and_gets_its_ticket_when_published(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    item = soon(ticket)
    minutes = stop_of(ticket).leave_at - stop_of(ticket).arrive_at
    add(stop_of(ticket), due_items=[item])
    assert stop_of(ticket).leave_at - stop_of(ticket).arrive_at > minutes
    publish_week(MONDAY, by=None, today=TODAY, now=BEFORE)

    assert Ticket.objects.get(place_key=item.place_key, task=item.task).stops.exists()


def test_work_long_before_its_window_is_not_pulled_forward(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    item = soon(ticket, opens_on=TODAY + timedelta(days=8))

    with pytest.raises(RouteRefused, match="opens on Friday 27 November"):
        add(stop_of(ticket), due_items=[item])
    assert splitting.work_near(stop_of(ticket), today=TODAY) == ([], [])


def test_ticket_of_the_site_on_another_day_comes_over(two, dario):
    first, second = two
    split(second, dario, TUESDAY)
    add(stop_of(first), tickets=[second])

    assert stop_of(first) == stop_of(second)
    assert Stop.objects.count() == 1


def test_added_work_that_makes_the_day_too_long_is_refused(dario):
    ticket = weeks.ticket()
    place(ticket, dario)
    long = weeks.ticket(site=ticket.site, task=make.task(minutes=600))

    with pytest.raises(RouteRefused, match="after the shift ends"):
        add(stop_of(ticket), tickets=[long])
    assert not long.stops.exists()


def test_work_of_another_site_is_not_added(dario):
    ticket = weeks.ticket()
    place(ticket, dario)

    with pytest.raises(RouteRefused, match="another site"):
        add(stop_of(ticket), tickets=[weeks.ticket(0.3)])


def test_left_out_work_carries_the_day_that_would_take_it(dario):
    """One job and the drive fill more than half of the day; by hand the other still fits on it."""
    dario.shifts.exclude(weekday=1).delete()
    for east in (0.02, 0.04):
        weeks.ticket(east, task=make.task(minutes=170))
    run = plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE, iterations=50, seeds=(1,))
    solve = plans.take_solve(run.pk, 1)
    problem = problem_from(run.problem)
    plans.finish_solve(solve, problem, plan_week(problem, iterations=50, seed=1))
    plans.collect_plans(clock=weeks.clock)

    out = LeftOut.objects.get()
    assert (out.day, out.technician) == (MONDAY, dario)
    assert out.detour_hm >= 0
    place(out.ticket, dario)
