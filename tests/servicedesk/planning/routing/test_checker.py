"""The test of the judge: a fault put into a good plan is found, and named."""

from dataclasses import replace

import pytest

from servicedesk.kinds import Skill
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.problem import (
    LeftOut,
    LeftOutReason,
    Lock,
    WeekPlan,
    Window,
)
from servicedesk.planning.routing.timetable import Visit, timed_route
from tests.servicedesk.planning.routing.weeks import TRAINED, job, shift, week, wish

WISHES = [
    wish("site:1", 1, (job("ticket:1", 90),), name="Mill Lane"),
    wish("site:2", 2, (job("ticket:2", 90), job("ticket:9", 5)), (Window(0, 480, 900),)),
    wish("site:3", 3, (job("ticket:3", 90, skill=Skill.REBUILD),)),
    wish("site:4", 4, (job("ticket:4", 90),)),
]
PROBLEM = week(WISHES, [shift(), shift("kay", skills=TRAINED), shift("wen", 1)], km_apart=3)
ROUTE = timed_route(PROBLEM, PROBLEM.shifts[0], [Visit(wish, wish.jobs) for wish in WISHES])
PLAN = WeekPlan((ROUTE,), ())


def faults_with(**changes):
    return checker.faults(PROBLEM, replace(PLAN, routes=(replace(ROUTE, **changes),)))


def faults_with_stop(number, **changes):
    stops = list(ROUTE.stops)
    stops[number] = replace(stops[number], **changes)
    return faults_with(stops=tuple(stops))


def test_the_plan_itself_has_no_fault():
    assert [len(route.stops) for route in PLAN.routes] == [4]
    assert checker.faults(PROBLEM, PLAN) == []


def test_day_without_a_shift():
    assert faults_with(day=3)[0] == "dario on Thursday: there is no shift on that day."


def test_leaving_before_the_shift_and_back_after_it():
    assert "before the shift begins" in faults_with(leaves_min=449)[0]
    assert any("after the shift ends at 16:00" in f for f in faults_with(back_min=961))


def test_drive_that_is_too_short():
    second = ROUTE.stops[1]

    assert any(
        "but the drive ends" in f for f in faults_with_stop(1, arrives_min=second.arrives_min - 1)
    )
    assert any("but the drive ends" in f for f in faults_with(back_min=ROUTE.back_min - 1))


def test_work_that_begins_before_the_arrival():
    first = ROUTE.stops[0]

    assert any(
        "before the arrival" in f for f in faults_with_stop(0, starts_min=first.arrives_min - 1)
    )


def test_driving_that_does_not_add_up():
    assert faults_with(drive_hm=ROUTE.drive_hm - 1) == [
        "dario on Monday: the driving does not add up."
    ]
    assert faults_with(drive_min=0) == ["dario on Monday: the driving does not add up."]


def test_lunch_forgotten_or_inside_work():
    assert faults_with(lunch_from_min=None) == ["dario on Monday: has no lunch break."]
    assert any(
        "falls into work" in f for f in faults_with(lunch_from_min=ROUTE.stops[2].starts_min)
    )


def test_lunch_that_is_stolen_from_the_drive():
    after = next(s for s in ROUTE.stops if s.starts_min >= ROUTE.lunch_from_min)
    number = ROUTE.stops.index(after)

    found = faults_with_stop(
        number, arrives_min=after.arrives_min - 5, starts_min=after.starts_min - 5
    )
    assert found


def test_stop_that_is_too_short_for_its_work():
    last = ROUTE.stops[-1]

    assert any(
        "takes 100 min, but has 99" in f for f in faults_with_stop(-1, ends_min=last.ends_min - 1)
    )


def test_stop_outside_the_opening_hours():
    closed = replace(WISHES[1], windows=(Window(0, 480, 500),))
    problem = replace(PROBLEM, wishes=(WISHES[0], closed, *WISHES[2:]))

    assert any("outside its opening hours" in f for f in checker.faults(problem, PLAN))


def test_promise_that_is_missed():
    promised = replace(WISHES[1], windows=(Window(0, 0, 1440, starts_by_min=455),))
    problem = replace(PROBLEM, wishes=(WISHES[0], promised, *WISHES[2:]))

    assert any("the promised time" in f for f in checker.faults(problem, PLAN))


def test_skill_that_is_missing():
    found = checker.faults(PROBLEM, replace(PLAN, routes=(replace(ROUTE, technician="kay"),)))

    assert found == ["site:3, ticket:3: nobody on that stop has the skill rebuild."]


def test_site_visited_twice():
    stops = (*ROUTE.stops, ROUTE.stops[0])
    found = faults_with(stops=stops)

    assert "Mill Lane: visited 2 times in one week." in found
    assert "Mill Lane, ticket:1: needs 1 people at one time, has 1 on 2 stops." in found


def test_two_routes_of_one_person_on_one_day():
    found = checker.faults(PROBLEM, replace(PLAN, routes=(ROUTE, ROUTE)))

    assert "dario has 2 routes on Monday." in found


def test_work_that_is_lost_or_counted_twice():
    lost = faults_with(stops=ROUTE.stops[:-1])
    assert any("neither on a route nor left out" in f for f in lost)

    out = LeftOut("site:1", "ticket:1", LeftOutReason.FULL, "")
    both = checker.faults(PROBLEM, replace(PLAN, left_out=(out,)))
    assert "site:1, ticket:1: is on a route and left out." in both
    assert "site:1, ticket:1: left out without a reason." in both


def test_left_out_work_that_nobody_asked_for():
    out = LeftOut("site:1", "ticket:77", LeftOutReason.FULL, "Full.")

    assert "site:1, ticket:77: left out, but nobody asked for it." in checker.faults(
        PROBLEM, replace(PLAN, left_out=(out,))
    )


def test_stop_without_work_or_with_the_work_of_another_site():
    assert any("a stop without work" in f for f in faults_with_stop(0, jobs=()))
    assert any("does not belong there" in f for f in faults_with_stop(0, jobs=("ticket:3",)))
    assert any("nobody asked for" in f for f in faults_with_stop(0, wish="site:77"))


@pytest.fixture
def pair():
    """A boat job placed by hand on two routes."""
    held = wish(
        jobs=(job("ticket:1", boat=True),), locks=(Lock("dario", 0, 600), Lock("wen", 0, 600))
    )
    problem = week([held], [shift(), shift("wen")])
    plan = plan_week_greedily(problem)
    assert checker.faults(problem, plan) == []
    return problem, plan


def test_boat_work_for_one(pair):
    problem, plan = pair
    alone = WeekPlan(plan.routes[:1], ())

    assert checker.faults(problem, alone) == [
        "site:1, ticket:1: needs 2 people at one time, has 1 on 1 stops."
    ]


def test_pair_that_comes_at_two_times(pair):
    problem, plan = pair
    first, second = plan.routes
    later = replace(
        second.stops[0],
        **{k: getattr(second.stops[0], k) + 10 for k in ("arrives_min", "starts_min", "ends_min")},
    )
    moved = replace(second, stops=(later,), back_min=second.back_min + 10)
    found = checker.faults(problem, replace(plan, routes=(first, moved)))

    assert "site:1, ticket:1: its people do not come at the same time." in found
    assert "wen on Monday, site:1: moved from 10:00." in found


def test_boat_work_for_one_is_a_fault_whoever_planned_it(pair):
    problem, plan = pair
    free = replace(problem, wishes=(replace(problem.wishes[0], locks=()),))

    assert checker.faults(free, plan) == []
    assert checker.faults(free, WeekPlan(plan.routes[:1], ())) == [
        "site:1, ticket:1: needs 2 people at one time, has 1 on 1 stops."
    ]


def test_three_people_at_work_for_two(pair):
    problem, plan = pair
    third = replace(plan.routes[1], technician="kay")
    problem = replace(problem, shifts=(*problem.shifts, shift("kay")))
    problem = replace(problem, wishes=(replace(problem.wishes[0], locks=()),))

    assert "site:1, ticket:1: needs 2 people at one time, has 3 on 3 stops." in checker.faults(
        problem, replace(plan, routes=(*plan.routes, third))
    )


def test_crew_without_the_one_who_was_placed_by_hand(pair):
    problem, plan = pair
    named = replace(problem.wishes[0], locks=(Lock("kay", 0),))
    problem = replace(problem, shifts=(*problem.shifts, shift("kay")), wishes=(named,))

    assert "site:1, ticket:1: was placed by hand with kay, who is missing." in checker.faults(
        problem, plan
    )


def test_boat_that_is_out_after_sunset(pair):
    problem, plan = pair
    windows = (Window(0, boat_until_min=639),)  # the stop lasts from 10:00 to 10:40
    dusk = replace(problem, wishes=(replace(problem.wishes[0], windows=windows),))
    found = checker.faults(dusk, plan)

    assert len(found) == 2
    assert "daylight only from 00:00 to 10:39" in found[0]


def test_stop_taken_from_where_it_was_placed_by_hand(pair):
    problem, plan = pair
    held = replace(problem.wishes[0], locks=(Lock("dario", 3), Lock("wen", 3)))

    assert any(
        "was placed by hand elsewhere" in f
        for f in checker.faults(replace(problem, wishes=(held,)), plan)
    )


def test_boat_work_without_anybody_qualified_for_it(pair):
    problem, plan = pair
    ashore = tuple(replace(one, boat=False) for one in problem.shifts)

    assert checker.faults(replace(problem, shifts=ashore), plan) == [
        "site:1, ticket:1: nobody on that stop is qualified for a boat."
    ]
