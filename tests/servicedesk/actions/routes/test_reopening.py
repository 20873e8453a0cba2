"""A published day that nobody has begun can be taken back, and the week planned round it."""

from datetime import timedelta

import pytest

from customers.models import Trail
from servicedesk.actions.routes import hands, plans
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.reopening import reopen_day
from servicedesk.models import Absence, PlanRun, Reminder, Route, Stop
from servicedesk.planning.routing.frozen import problem_from
from servicedesk.planning.routing.solver import plan_week
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY, TUESDAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def people():
    weeks.firm()
    return make.technician(), make.technician()


@pytest.fixture
def manager():
    return make.manager()


def place(technician, day=MONDAY, **fields):
    ticket = weeks.ticket(**fields)
    hands.place_by_hand(ticket, technicians=[technician], day=day, start=None, today=TODAY)
    return ticket


def publish():
    publish_week(MONDAY, by=None, today=TODAY, now=BEFORE)


def reopen(technician, manager, **fields):
    start = {"by": manager, "today": TODAY, "now": BEFORE}
    reopen_day(Route.objects.get(technician=technician), **start | fields)


def plan_again():
    run = plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE, iterations=50, seeds=(1,))
    solve = plans.take_solve(run.pk, 1)
    problem = problem_from(run.problem)
    plans.finish_solve(solve, problem, plan_week(problem, iterations=50, seed=1))
    assert plans.collect_plans(clock=weeks.clock) == 1


def owner(**fields):
    contact = make.contact(**fields)
    return contact, make.site(owner=contact.customer, lat=44.95, lon=-93.0)


def test_day_is_a_draft_again_and_the_trail_keeps_what_was_published(people, manager):
    ticket = place(people[0])
    publish()
    reopen(people[0], manager)

    assert Route.objects.get().published_at is None
    kept = Trail.objects.get()
    assert (kept.by, kept.before["sites"]) == (manager, [ticket.site_id])


def test_its_stops_stay_on_the_day_when_the_week_is_planned_again(people, manager):
    place(people[0])
    publish()
    reopen(people[0], manager)
    before = weeks.places()
    plan_again()

    assert weeks.places() == before


def test_stops_of_somebody_ill_go_to_others_and_only_owners_whose_day_changed_are_told(
    people, manager
):
    dario, wen = people
    (_, site), (stays, other) = owner(), owner()
    place(dario, site=site)
    place(wen, site=other)
    publish()
    Absence.objects.create(technician=dario, from_on=MONDAY, to_on=MONDAY + timedelta(days=4))
    for one in people:
        reopen(one, manager)
    plan_again()
    publish()

    stops = Stop.objects.filter(route__technician=wen)
    assert {stop.site for stop in stops} == {site, other}
    assert not Route.objects.filter(technician=dario).exists()
    assert Reminder.objects.filter(contact=stays).count() == 1


def test_owner_is_told_again_when_the_day_changed(people, manager):
    contact, site = owner()
    place(people[0], site=site)
    publish()
    Reminder.objects.update(dropped_at=None, message=make.message(contact=contact))
    reopen(people[0], manager)
    stop = Stop.objects.get()
    hands.move_stop(stop, technician=people[1], day=TUESDAY, today=TODAY)
    publish()

    assert Reminder.objects.filter(contact=contact).count() == 2


def test_draft_and_day_that_is_over_are_refused(people, manager):
    place(people[0])
    with pytest.raises(RouteRefused, match="draft already"):
        reopen(people[0], manager)
    publish()
    with pytest.raises(RouteRefused, match="is over"):
        reopen(people[0], manager, today=TUESDAY)


def test_day_on_which_work_was_done_is_refused(people, manager):
    place(people[0])
    publish()
    stop = Stop.objects.get()
    make.visit(site=stop.site, stop=stop)

    with pytest.raises(RouteRefused, match="is done already"):
        reopen(people[0], manager)


def test_nothing_is_reopened_while_the_week_is_planned(people, manager):
    place(people[0])
    publish()
    plans.ask_for_plan(MONDAY, by=None, today=TODAY, now=BEFORE)

    with pytest.raises(RouteRefused, match="being planned"):
        reopen(people[0], manager)
    assert PlanRun.objects.count() == 1
