"""Work for several people: on which day they meet, who they are, and at what minute."""

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.problem import LeftOutReason, Lock, Lunch, Window
from servicedesk.planning.routing.solver import plan_week
from tests.servicedesk.planning.routing.weeks import (
    EVERYBODY,
    TRAINED,
    job,
    random_weeks,
    shift,
    week,
    wish,
)

PLANNERS = [lambda problem: plan_week(problem, iterations=100), plan_week_greedily]
both = pytest.mark.parametrize("planned", PLANNERS, ids=["solver", "greedy"])

BOAT = job("ticket:1", 60, boat=True)
PAIR = job("ticket:1", 60, crew=2)


def people(*days, who=("dario", "wen"), **fields):
    return [shift(name, day, **fields) for name in who for day in days or (0,)]


def stays(plan, key="site:1"):
    """(technician, day, minute, work) of everybody who comes to a site."""
    return sorted(
        (route.technician, route.day, stop.starts_min, stop.jobs)
        for route in [*plan.routes, *plan.ahead]
        for stop in route.stops
        if stop.wish == key
    )


def together(plan, key="site:1"):
    """Who meets there, on which day; everybody at one minute."""
    found = stays(plan, key)
    assert len({(day, minute) for _, day, minute, _ in found}) == 1
    return [name for name, *_ in found], found[0][1]


@both
@pytest.mark.parametrize("work", [PAIR, BOAT], ids=["two people", "boat"])
def test_work_for_two_is_planned_on_two_routes_at_one_minute(planned, work):
    problem = week([wish(jobs=(work,))], people())
    plan = planned(problem)

    assert together(plan) == (["dario", "wen"], 0)
    assert plan.left_out == ()
    assert checker.faults(problem, plan) == []


@both
def test_other_work_of_the_site_goes_along_with_the_first_of_them(planned):
    plan = planned(week([wish(jobs=(PAIR, job("ticket:2", 20)))], people()))

    assert sorted(len(jobs) for *_, jobs in stays(plan)) == [1, 2]
    assert together(plan)[0] == ["dario", "wen"]


@both
def test_one_of_them_has_the_boat_and_the_other_the_skill(planned):
    rebuild = job("ticket:1", 60, skill=Skill.REBUILD, boat=True)
    crew = [
        shift("dario", skills=TRAINED, boat=True),
        shift("kay", skills=TRAINED, boat=False),
        shift("wen", skills=EVERYBODY, boat=False),
    ]
    plan = planned(week([wish(jobs=(rebuild,))], crew))

    assert together(plan)[0] == ["dario", "wen"]


@both
def test_they_meet_on_a_day_that_both_have(planned):
    plan = planned(week([wish(jobs=(PAIR,))], [shift("dario", 0), *people(3), shift("wen", 4)]))

    assert together(plan) == (["dario", "wen"], 3)


@both
def test_they_meet_within_the_promised_hour(planned):
    promised = (Window(0, 800, 1440, starts_by_min=830),)
    plan = planned(week([wish(jobs=(PAIR,), windows=promised)], people()))

    assert 800 <= stays(plan)[0][2] <= 830


@both
def test_nobody_begins_to_wait_for_the_other_over_lunch(planned):
    problem = week([wish(jobs=(PAIR,), windows=(Window(0, 725, 1440),))], people())
    plan = planned(problem)

    assert stays(plan)[0][2] >= Lunch().until_min
    assert checker.faults(problem, plan) == []


@both
def test_boat_job_that_needs_90_min_with_40_min_of_light_left_is_not_started(planned):
    dusk = 940  # 15:40, and the site opens at 15:00
    boat = job("ticket:1", 90, boat=True)
    windows = (Window(0, 900, 1440, boat_until_min=dusk),)
    problem = week([wish(jobs=(boat,), windows=windows)], people())
    plan = planned(problem)

    assert stays(plan) == []
    assert plan.left_out[0].reason == LeftOutReason.CLOSED
    assert (
        "takes 100 min, and the light of no day that the site allows lasts so long"
        in plan.left_out[0].because
    )
    by_hand = wish(jobs=(boat,), windows=windows, locks=[Lock(n, 0, 900) for n in ("dario", "wen")])
    assert stays(planned(replace(problem, wishes=(by_hand,)))) == []


@both
def test_work_on_the_bank_may_last_longer_than_the_light(planned):
    windows = (Window(0, 700, 1440, boat_until_min=840),)
    jobs = (job("ticket:1", 60, boat=True), job("ticket:2", 60))
    plan = planned(week([wish(jobs=jobs, windows=windows)], people()))

    assert max(len(jobs) for *_, jobs in stays(plan)) == 2


@both
def test_pair_goes_before_milder_work_that_fills_the_day(planned):
    mild = [wish(f"site:{n}", 1, (job(f"ticket:{n}", 90, Harm.COSMETIC),)) for n in range(2, 9)]
    pair = wish(jobs=(job("ticket:1", 200, Harm.SAFETY, crew=2),))
    problem = week([*mild, pair], people())
    plan = planned(problem)

    assert together(plan)[0] == ["dario", "wen"]
    assert checker.faults(problem, plan) == []


@both
def test_mild_pair_never_pushes_out_graver_work(planned):
    grave = [wish(f"site:{n}", 1, (job(f"ticket:{n}", 300, Harm.SAFETY),)) for n in (2, 3)]
    pair = wish(jobs=(job("ticket:1", 200, Harm.COSMETIC, crew=2),))
    plan = planned(week([*grave, pair], people()))

    assert {stop.wish for route in plan.routes for stop in route.stops} == {"site:2", "site:3"}
    (out,) = plan.left_out
    assert out.reason == LeftOutReason.FULL
    assert "every day on which enough of those who may do it are there is full" in out.because
    assert "Nearest would be Monday, dario and wen" in out.because
    assert (out.day, out.detour_hm is not None) == (0, True)


def test_grave_single_stop_displaces_a_milder_meeting_whole():
    pair = wish("site:2", 1, (job("ticket:2", 300, Harm.COSMETIC, crew=2),))
    grave = wish("site:1", 1, (job("ticket:1", 300, Harm.SAFETY),))
    problem = week([pair, grave], people())
    plan = plan_week(problem, iterations=50)

    assert len(stays(plan)) == 1
    assert stays(plan, "site:2") == []


@pytest.mark.parametrize(
    ("shifts", "work", "words"),
    [
        ([shift("dario")], PAIR, "there is no second person on any day"),
        (people(boat=False), BOAT, "nobody on shift is qualified for a boat"),
        (
            people(skills=TRAINED),
            job("ticket:1", 60, crew=2, skill=Skill.REBUILD),
            "one of them a person qualified for rebuilds; nobody on shift is one",
        ),
        ([shift("dario", 0), shift("wen", 1)], PAIR, "on no day that the site allows"),
        (
            [shift("dario", until_min=700), shift("wen", from_min=690)],
            PAIR,
            "no day gives those who may do it a common time that is long enough",
        ),
    ],
    ids=["alone", "no boat", "no skill", "no common day", "no common time"],
)
@both
def test_pair_that_is_left_out_says_what_is_missing(planned, shifts, work, words):
    plan = planned(week([wish(jobs=(work,))], shifts))

    assert stays(plan) == []
    assert words in plan.left_out[0].because


@both
def test_rest_of_the_site_is_done_by_one_where_nobody_meets(planned):
    plan = planned(week([wish(jobs=(PAIR, job("ticket:2")))], [shift()]))

    assert [jobs for *_, jobs in stays(plan)] == [("ticket:2",)]
    assert [out.job for out in plan.left_out] == ["ticket:1"]


@both
def test_second_person_is_found_for_the_one_placed_by_hand(planned):
    named = wish(jobs=(PAIR,), locks=(Lock("kay", 2),))
    problem = week([named], people(0, 2, who=("dario", "kay")))
    plan = planned(problem)

    assert together(plan) == (["dario", "kay"], 2)
    assert checker.faults(problem, plan) == []


@both
def test_one_placed_by_hand_without_a_second_keeps_his_own_work(planned):
    named = wish(jobs=(PAIR, job("ticket:2")), locks=(Lock("kay", 2),))
    plan = planned(week([named], [shift("kay", 2), shift("dario", 0)]))

    assert [(name, day, jobs) for name, day, _, jobs in stays(plan)] == [("kay", 2, ("ticket:2",))]
    assert "nobody else who may do it has a shift that day" in plan.left_out[0].because


def test_meeting_of_the_planner_is_free_to_move_when_planned_again():
    problem = week([wish(jobs=(PAIR,))], people(0, 1))
    plan_week(problem, iterations=20)

    assert problem.wishes[0].locks == problem.wishes[0].pins == ()
    fewer = replace(problem, shifts=tuple(s for s in problem.shifts if s.day == 1))
    assert together(plan_week(fewer, iterations=20)) == (["dario", "wen"], 1)


def test_pair_that_may_wait_meets_in_a_later_week_where_this_one_has_no_second_person():
    waits = job("ticket:1", 60, crew=2, days_late=-8, closes_day=13)
    shifts = [shift("dario", 0), shift("dario", 8), shift("wen", 8)]
    problem = week([wish(jobs=(waits,), windows=(Window(0), Window(8)))], shifts, weeks=2)
    plan = plan_week(problem, iterations=20)

    assert together(plan) == (["dario", "wen"], 8)
    assert plan.routes == ()
    assert "dario and wen meet there" in plan.left_out[0].because
    assert checker.faults(problem, plan) == []


def test_pair_whose_work_falls_due_meets_then_however_long_it_might_still_wait():
    patient = job("ticket:1", 60, boat=True, days_late=-2, closes_day=120)
    far_off = job("ticket:2", 60, boat=True, days_late=-60, closes_day=180)
    wishes = [wish(jobs=(patient,)), wish("site:2", 2, (far_off,))]
    plan = plan_week(week(wishes, people(0, 8), weeks=2), iterations=40)

    assert together(plan) == (["dario", "wen"], 0)
    assert stays(plan, "site:2") == []
    assert "two people and a boat come when it is due" in plan.left_out[0].because


def test_work_of_one_does_not_wait_past_its_end_for_a_meeting_of_a_later_week():
    now = job("ticket:2", 30, closes_day=2)
    later = job("ticket:1", 60, crew=2, days_late=-8, closes_day=13)
    shifts = [shift("dario", 0), shift("dario", 8), shift("wen", 8)]
    problem = week([wish(jobs=(now, later), windows=(Window(0), Window(8)))], shifts, weeks=2)
    plan = plan_week(problem, iterations=20)

    assert [(day, jobs) for _, day, _, jobs in stays(plan)] == [(0, ("ticket:2",))]
    (out,) = plan.left_out
    assert out.reason == LeftOutReason.LATER
    assert "dario and wen can meet there Tuesday next week" in out.because


def test_two_boat_jobs_near_each_other_are_done_by_one_pair_on_one_day():
    near = [wish(f"site:{n}", n, (job(f"ticket:{n}", 60, boat=True),)) for n in (3, 4)]
    plan = plan_week(week(near, people(0, 1, 2)), iterations=100)

    assert together(plan, "site:3") == together(plan, "site:4")


def test_iterations_asked_for_are_those_of_both_searches():
    told = []
    problem = week([wish(jobs=(PAIR,)), wish("site:2", 2, (job("ticket:2"),))], people())
    plan = plan_week(problem, iterations=40, on_progress=lambda done, of: told.append((done, of)))

    assert plan.iterations == 40
    assert told == sorted(told)
    assert told[-1] == (40, 40)


@settings(max_examples=60, deadline=None)
@given(random_weeks(), st.integers(0, 3))
def test_work_has_its_whole_crew_or_nobody_and_the_same_seed_the_same_people(problem, seed):
    plan = plan_week(problem, iterations=20, seed=seed)

    assert checker.faults(problem, plan) == []
    assert plan_week(problem, iterations=20, seed=seed) == plan
    there = Counter(
        (stop.wish, key) for route in plan.routes for stop in route.stops for key in stop.jobs
    )
    for one in problem.wishes:
        for work in one.jobs:
            assert there[one.key, work.key] in (0, work.people)
