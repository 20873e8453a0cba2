"""What coming back later costs, and how many visits a year a pond asks for."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicedesk.planning.routing.ahead import (
    detours_hm,
    later_hm,
    visit_hm,
    visits_ahead,
)
from servicedesk.planning.routing.problem import Lunch, Place
from servicedesk.planning.routing.solver import plan_week
from tests.servicedesk.planning.routing.weeks import job, shift, week, wish

DIE = (1, 2, 3, 4, 5, 6)


@pytest.mark.parametrize(("rolls", "expected"), [(1, 3.5), (2, 2.75), (3, 7 / 3)])
def test_waiting_for_the_best_of_some_weeks_is_the_game_of_rolling_a_die_again(rolls, expected):
    """A die that may be rolled again pays 3.5, 4.25 and 14/3 with one, two and three rolls: a
    textbook example of optimal stopping, from memory. Costs are 7 less what it pays."""
    assert later_hm(DIE, rolls) == pytest.approx(expected)


@given(st.lists(st.integers(0, 900), min_size=1, max_size=20), st.integers(1, 20))
def test_one_more_chance_never_costs_more_and_never_less_than_the_best_week(seen, chances):
    assert min(seen) - 1e-9 <= later_hm(seen, chances + 1) <= later_hm(seen, chances) + 1e-9


@pytest.mark.parametrize(("seen", "chances"), [((), 1), ((3,), 0)])
def test_nothing_seen_or_no_chance_left_is_refused(seen, chances):
    with pytest.raises(ValueError, match="needed"):
        later_hm(seen, chances)


def test_visit_costs_its_detour_and_half_its_share_of_the_way_out():
    """60 min away at 55 km/h is 55 km; a day of 480 min has 360 left, of which 36 are a tenth."""
    assert visit_hm((100,), 36, 60, 480) == pytest.approx(100 + 0.5 * 0.1 * 2 * 550 + 20)


def test_pond_with_one_task_is_visited_as_often_as_its_longest_cycle_allows():
    """Every 100 days and 10 late: days 10, 120, 230, 340, and 31 of the 110 after: 3 + 31/110."""
    one = job(days_late=0, opens_day=0, closes_day=10, every_days=100)

    assert visits_ahead([one], None) == pytest.approx(3 + 31 / 110)


def test_going_early_for_two_tasks_saves_a_visit():
    filters = job("a", days_late=0, opens_day=-21, closes_day=14, every_days=365)
    membranes = job("b", days_late=-30, opens_day=-60, closes_day=90, every_days=900)
    apart = job("b", days_late=-100, opens_day=40, closes_day=160, every_days=900)

    assert visits_ahead([filters, membranes], 0) == pytest.approx(371 / 379)
    assert visits_ahead([filters, apart], 0) > 1.5


def test_work_that_comes_once_is_one_visit():
    assert visits_ahead([job(days_late=0, closes_day=3)], None) == 1.0


def test_work_with_its_day_of_the_year_does_not_move_when_it_is_done_early():
    floats = job(days_late=-20, opens_day=-10, closes_day=30, every_days=300)
    fixed = job(days_late=-20, opens_day=-10, closes_day=30, every_days=300, calendar=True)

    assert visits_ahead([fixed], 0) < visits_ahead([floats], 0)


def test_detour_is_what_a_site_adds_where_it_fits_best():
    """Sites on a line: one on the way adds nothing, one 10 km beyond the end adds 26 km of road."""
    problem = week(
        [wish("site:1", 1), wish("site:3", 3, (job("ticket:3"),))],
        [shift(from_min=480)],
        lunch=Lunch(minutes=0),
    )
    plan = plan_week(problem, iterations=50)
    on_the_way, end = problem.places[2], problem.places[3]
    beyond = Place(45.0, end.longitude + (end.longitude - on_the_way.longitude))
    found = detours_hm(
        problem, plan.routes, {"site:2": on_the_way, "site:3": end, "site:4": beyond}
    )

    assert found["site:2"] <= 1
    assert found["site:4"] == pytest.approx(260, abs=2)
    assert found["site:3"] == pytest.approx(2 * 2 * 130, abs=3)  # without it the day ends at 1


def test_week_without_routes_teaches_nothing():
    assert detours_hm(week([]), [], {"site:1": Place(45, -93)}) == {}


def test_leaving_open_work_undone_costs_a_visit():
    both = [
        job("a", days_late=0, opens_day=-21, closes_day=14, every_days=365),
        job("b", days_late=-30, opens_day=-60, closes_day=90, every_days=900),
    ]

    assert visits_ahead(both, 0, both[:1]) > visits_ahead(both, 0, both) + 0.5
