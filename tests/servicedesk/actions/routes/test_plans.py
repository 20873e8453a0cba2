"""A plan run from the asking to the collecting; leases, cancel and dead children among it."""

from datetime import timedelta
from functools import partial

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db.models.functions import Now

from servicedesk import kinds
from servicedesk.actions.routes import plans
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.models import LeftOut, PlanRun, Route, Solve, Stop
from servicedesk.planning.routing.frozen import problem_from
from servicedesk.planning.routing.solver import plan_week
from servicedesk.tables.week import tries_of
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def technician():
    weeks.firm()
    return make.technician()


def ask(**fields):
    start = {"by": None, "today": TODAY, "now": BEFORE, "iterations": 20}
    return plans.ask_for_plan(MONDAY, **start | fields)


def solve(run, seed):
    """What a child process does."""
    taken = plans.take_solve(run.pk, seed)
    problem = problem_from(run.problem)
    plan = plan_week(
        problem,
        iterations=run.iterations,
        seed=seed,
        cancelled=lambda: not plans.go_on(taken, 1),
    )
    assert plans.finish_solve(taken, problem, plan)


def planned(**fields):
    run = ask(**fields)
    plans.start_plans(launch=lambda one: solve(run, one.seed))
    assert plans.collect_plans(clock=weeks.clock) == 1
    run.refresh_from_db()
    return run


def test_plan_becomes_draft_routes(technician):
    near, far = weeks.ticket(0.1), weeks.ticket(0.3)
    run = planned()

    assert run.state == kinds.PlanState.DONE
    (route,) = Route.objects.all()
    assert (route.technician, route.plan_run, route.published_at) == (technician, run, None)
    assert {stop.tickets.get() for stop in route.stops.all()} == {near, far}
    assert [stop.number for stop in route.stops.order_by("arrive_at")] == [1, 2]
    assert route.drive_km > 0
    assert route.work_min == 2 * (10 + 8)


def test_times_are_those_of_the_firms_clock():
    weeks.ticket()
    planned()

    route = Route.objects.get()
    assert route.starts_at.hour == 13  # 07:30 in Chicago is 13:30 UTC
    assert route.starts_at.minute >= 30


def test_better_of_two_seeds_is_taken():
    weeks.ticket()
    run = ask()
    plans.start_plans(launch=lambda one: solve(run, one.seed))
    Solve.objects.filter(seed=1).update(best_cost=900.0)
    Solve.objects.filter(seed=2).update(best_cost=800.0)
    plans.collect_plans(clock=weeks.clock)

    run.refresh_from_db()
    assert run.says == "Planned twice over; the better plan is kept."
    assert [line.endswith("The better plan.") for line in tries_of(run)] == [False, True]


def test_work_for_two_is_left_out_with_its_reason_where_one_works_alone():
    ticket = weeks.for_two()
    planned()

    assert Route.objects.count() == 0
    out = LeftOut.objects.get()
    assert out.ticket == ticket
    assert "there is no second person on any day" in out.because


def test_plan_that_was_asked_for_twice_is_refused():
    ask()

    with pytest.raises(RouteRefused, match="being planned already"):
        ask()


def test_week_that_is_over_is_refused():
    with pytest.raises(RouteRefused, match="is over"):
        ask(today=MONDAY + timedelta(days=7))


def test_firm_without_a_shop_is_told_what_to_enter():
    make.firm(shop_lat=None, shop_lon=None)

    with pytest.raises(RouteRefused, match="latitude and longitude"):
        ask()
    assert PlanRun.objects.count() == 0


def test_each_solve_is_launched_once():
    ask()
    launched = []
    plans.start_plans(launch=launched.append)
    plans.start_plans(launch=launched.append)

    assert [one.seed for one in launched] == [1, 2]


def test_solve_that_another_process_holds_is_left_alone():
    run = ask()
    assert plans.take_solve(run.pk, 1)

    assert plans.take_solve(run.pk, 1) is None


def test_solve_whose_lease_ran_out_may_be_taken_over_and_the_first_can_hand_in_no_more():
    run = ask()
    first = plans.take_solve(run.pk, 1)
    Solve.objects.filter(pk=first.pk).update(lease_until=Now() - timedelta(seconds=1))
    second = plans.take_solve(run.pk, 1)

    assert second.lease_by != first.lease_by
    assert plans.go_on(first, 5) is False
    assert plans.go_on(second, 5) is True


def test_dead_children_are_marked_and_the_run_says_so():
    weeks.ticket()
    run = ask()
    plans.start_plans(launch=lambda one: None)
    assert plans.collect_plans(clock=weeks.clock) == 0
    Solve.objects.update(lease_until=Now() - timedelta(seconds=1))
    plans.collect_plans(clock=weeks.clock)

    run.refresh_from_db()
    assert run.state == kinds.PlanState.FAILED
    assert run.says == "No plan came of it. The program ended before there was a plan. Plan again."
    assert Route.objects.count() == 0


def test_one_dead_child_leaves_the_plan_of_the_other():
    weeks.ticket()
    run = ask()
    plans.start_plans(launch=lambda one: one.seed == 2 and solve(run, 2))
    Solve.objects.filter(seed=1).update(lease_until=Now() - timedelta(seconds=1))
    plans.collect_plans(clock=weeks.clock)

    run.refresh_from_db()
    assert run.state == kinds.PlanState.DONE
    assert run.says == "Planned. One try ended without a plan."


def test_cancel_keeps_the_best_so_far():
    weeks.ticket()
    run = ask(iterations=1000)
    taken = [plans.take_solve(run.pk, seed) for seed in (1, 2)]
    plans.cancel_plan(run, now=BEFORE)
    for one in taken:
        problem = problem_from(run.problem)
        ask_on = partial(plans.go_on, one, 1)
        plan = plan_week(problem, iterations=1000, seed=1, cancelled=lambda on=ask_on: not on())
        assert plan.cancelled
        assert plans.finish_solve(one, problem, plan)
    plans.collect_plans(clock=weeks.clock)

    run.refresh_from_db()
    assert run.state == kinds.PlanState.CANCELLED
    assert "Stopped by hand" in run.says
    assert Stop.objects.count() == 1


def test_cancel_before_a_child_began_leaves_the_week_as_it_was():
    weeks.ticket()
    planned()
    run = ask()
    plans.cancel_plan(run, now=BEFORE)

    run.refresh_from_db()
    assert (run.state, run.says) == (kinds.PlanState.CANCELLED, "Stopped before there was a plan.")
    assert Stop.objects.count() == 1


def test_collecting_twice_changes_nothing():
    weeks.ticket()
    planned()
    before = weeks.places()

    assert plans.collect_plans(clock=weeks.clock) == 0
    assert weeks.places() == before


def test_same_seeds_and_iterations_plan_the_same_week():
    for n in range(6):
        weeks.ticket(0.05 * n)
    planned()
    first = weeks.places()
    planned()

    assert weeks.places() == first


def test_ticket_closed_while_its_week_was_planned_is_not_asked_about():
    ticket = weeks.for_two()
    run = ask()
    ticket.closed_at, ticket.end = BEFORE, kinds.TicketEnd.CANCELLED
    ticket.save()
    plans.start_plans(launch=lambda one: solve(run, one.seed))
    plans.collect_plans(clock=weeks.clock)

    assert LeftOut.objects.count() == 0


def test_plan_that_was_to_be_published_is():
    weeks.ticket()
    run = planned(publish_when_done=True)

    assert run.state == kinds.PlanState.DONE
    assert Route.objects.get().published_at == BEFORE


@pytest.mark.django_db(transaction=True)
def test_command_plans_with_real_child_processes(test_database, monkeypatch, capsys):
    for name, value in test_database.items():
        monkeypatch.setenv(f"SERVICEDESK_{name}", str(value))
    weeks.firm()
    make.technician()
    weeks.ticket()
    call_command("plan_week", "2035-W10", iterations=30, publish=True)

    assert "The week is published." in capsys.readouterr().out
    assert list(Solve.objects.values_list("state", "done_iterations")) == [("done", 30)] * 2


def test_solve_command_refuses_a_solve_that_is_not_there():
    with pytest.raises(CommandError, match="no seed 7"):
        call_command("solve", "99", seed=7)
