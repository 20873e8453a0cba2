"""Three weeks are looked at, one is planned: what waits, what does not, and why."""

from dataclasses import replace

import pytest
from hypothesis import given, settings

from servicedesk.kinds import Harm
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.cost import plan_cost_cents
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.problem import LeftOutReason, Lock, Place, WeekProblem, Window
from servicedesk.planning.routing.solver import plan_week
from tests.servicedesk.planning.routing.horizons import (
    THREE_WEEKS,
    horizon,
    random_horizons,
    shifts,
)
from tests.servicedesk.planning.routing.weeks import job, week, wish


def planned(problem, iterations=200):
    plan = plan_week(problem, iterations=iterations)
    assert checker.faults(problem, plan) == []
    return plan


def days(plan):
    return {stop.wish: route.day for route in [*plan.routes, *plan.ahead] for stop in route.stops}


def site(number, place, *jobs, **fields):
    jobs = jobs or (job(f"ticket:{number}"),)
    return wish(f"site:{number}", place, jobs, THREE_WEEKS, **fields)


@settings(max_examples=60, deadline=None)
@given(random_horizons())
def test_checker_finds_nothing_wrong_in_any_plan_over_three_weeks(problem):
    assert checker.faults(problem, plan_week(problem, iterations=30)) == []
    assert checker.faults(problem, plan_week_greedily(problem)) == []


@settings(max_examples=15, deadline=None)
@given(random_horizons())
def test_same_seed_gives_the_same_three_weeks(problem):
    first = plan_week(problem, iterations=40, seed=3)

    assert plan_week(problem, iterations=40, seed=3) == first
    assert plan_cost_cents(problem, first) >= 0


def test_work_inside_its_tolerance_waits_for_the_week_in_which_somebody_passes():
    near = site(1, 8, job("ticket:1", days_late=-6, closes_day=14))
    later = site(2, 9, job("ticket:2", opens_day=7, days_late=-9, closes_day=12))
    plan = planned(horizon([near, later]))

    assert days(plan)["site:1"] == days(plan)["site:2"] >= 7
    told = {out.job: out for out in plan.left_out}["ticket:1"]
    assert told.reason == LeftOutReason.LATER
    assert "next week" in told.because
    assert told.day == days(plan)["site:1"]


def test_work_without_a_tolerance_is_done_in_the_week_in_which_it_is_due():
    urgent = site(1, 8, job("ticket:1"))
    later = site(2, 9, job("ticket:2", opens_day=7, days_late=-9, closes_day=12))
    plan = planned(horizon([urgent, later]))

    assert days(plan)["site:1"] < 7


@pytest.mark.parametrize("harm", [Harm.SAFETY, Harm.FISH])
def test_danger_to_people_or_fish_never_waits_to_save_kilometres(harm):
    grave = site(1, 8, job("ticket:1", harm=harm, days_late=0, closes_day=20))
    later = site(2, 8, job("ticket:2", opens_day=7, days_late=-9, closes_day=12))
    plan = planned(horizon([grave, later]))

    assert days(plan)["site:1"] < 7


@pytest.mark.parametrize(("harm", "day"), [(Harm.SAFETY, 0), (Harm.FISH, 0), (Harm.ASSET, 2)])
def test_people_and_fish_that_wait_already_come_first_though_somebody_passes_on_wednesday(
    harm, day
):
    waits = site(1, 8, job("ticket:1", harm=harm, days_late=8))
    close_by = site(2, 8, locks=(Lock("dario", 2),))
    plan = planned(horizon([waits, close_by]))

    assert days(plan)["site:1"] == day


def test_work_of_a_full_third_week_comes_forward():
    """One day a week, each with room for two stops; six fall due in the third."""
    wishes = [
        site(n, 1, job(f"ticket:{n}", 200, opens_day=0, days_late=-16, closes_day=20))
        for n in range(6)
    ]
    plan = planned(horizon(wishes, shifts(days=[0]), km_apart=1))

    assert sorted(days(plan).values()) == [0, 0, 7, 7, 14, 14]


def test_what_opens_later_is_not_done_before_and_says_when():
    waits = job("ticket:1", opens_day=9, days_late=-60, closes_day=90)
    plan = planned(horizon([site(1, 8, waits)]))

    assert plan.routes == plan.ahead == ()
    assert plan.left_out[0].because == "Opens Wednesday next week. It can wait."


def test_part_that_comes_on_wednesday_is_not_fitted_before():
    problem = horizon([site(1, 1, job("ticket:1", ready_day=2))], weeks=1)
    plan = planned(replace(problem, shifts=tuple(s for s in problem.shifts if s.day < 7)))

    assert days(plan)["site:1"] >= 2


def test_rest_of_the_work_need_not_wait_for_a_part():
    now, then = job("ticket:1", harm=Harm.FISH), job("ticket:2", ready_day=9, closes_day=40)
    plan = planned(horizon([site(1, 1, now, then)]))

    assert [stop.jobs for route in plan.routes for stop in route.stops] == [("ticket:1",)]


def test_clean_ponds_come_before_infested_ones():
    wishes = [site(n, n, infested=n < 3) for n in range(1, 6)]
    plan = planned(horizon(wishes, shifts(days=[0], weeks=1), weeks=1, km_apart=3))

    order = [stop.wish for stop in plan.routes[0].stops]
    assert {*order[-2:]} == {"site:1", "site:2"}
    assert len(order) == 5


def test_van_takes_no_more_than_it_holds():
    wishes = [site(n, n, job(f"ticket:{n}", units=2)) for n in range(1, 5)]
    plan = planned(horizon(wishes, shifts(days=[0, 1], weeks=1, van_units=4), weeks=1))

    assert sorted(len(route.stops) for route in plan.routes) == [2, 2]


def test_stop_that_could_go_along_says_the_day_and_the_kilometres():
    """Place 7 lies 70 km out; the way past it costs nothing, but it is not due for months."""
    far = site(1, 3, job("ticket:1"))
    waits = site(2, 7, job("ticket:2", days_late=-80, closes_day=100), detours_hm=(10, 10))
    plan = planned(horizon([far, waits], shifts(days=[3]), km_apart=10))

    told = {out.job: out for out in plan.left_out}["ticket:2"]
    assert (told.reason, told.day) == (LeftOutReason.LATER, 3)
    assert told.detour_hm == pytest.approx(2 * 4 * 10 * 10 * 1.3, abs=4)
    assert "This week Thursday comes nearest." in told.because


def test_region_with_bad_roads_has_its_own_factor():
    """Between two regions a drive has the mean of both factors: 1.3 and 1.7 give 1.5."""
    here, there = Place(45.0, -93.0), Place(45.0, -92.0, road_factor=1.7)
    plain = WeekProblem((here, replace(there, road_factor=None)), (), ())
    own = WeekProblem((here, there), (), ())

    ratio = own.travel.hectometres[0, 1] / plain.travel.hectometres[0, 1]
    assert ratio == pytest.approx(1.5 / 1.3, rel=2e-3)


def test_one_week_alone_is_planned_as_before():
    problem = week([wish(windows=(Window(0),))])

    assert plan_week(problem, iterations=50).ahead == ()


def test_far_site_with_more_work_than_a_day_holds_is_done_bit_by_bit():
    now = job("ticket:1", 200, days_late=0, closes_day=5)
    later = job("ticket:2", 250, days_late=-9, closes_day=30)
    plan = planned(horizon([site(1, 8, now, later)]))

    assert [stop.jobs for route in plan.routes for stop in route.stops] == [("ticket:1",)]


def test_nobody_sits_idle_while_work_is_due():
    due_now = [site(n, n, job(f"ticket:{n}", closes_day=14)) for n in (1, 2)]
    plan = planned(horizon(due_now))

    assert {day // 7 for day in days(plan).values()} == {0}
