"""What a planned week keeps to; each rule by a small week, all of them by random ones."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing import checker, sorting
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.insertion import fits, lean_jobs, tier
from servicedesk.planning.routing.meetings import wants
from servicedesk.planning.routing.problem import LeftOutReason, Lock, Window
from servicedesk.planning.routing.solver import plan_week
from servicedesk.planning.routing.timetable import Visit, working_min
from tests.servicedesk.planning.routing.weeks import (
    TRAINED,
    job,
    random_weeks,
    shift,
    week,
    wish,
)

PLANNERS = [lambda problem: plan_week(problem, iterations=100), plan_week_greedily]
both = pytest.mark.parametrize("planned", PLANNERS, ids=["solver", "greedy"])


def sites(plan):
    return [stop.wish for route in plan.routes for stop in route.stops]


def reasons(plan):
    return {out.job: out.reason for out in plan.left_out}


@settings(max_examples=60, deadline=None)
@given(random_weeks())
def test_checker_finds_nothing_wrong_in_any_plan(problem):
    assert checker.faults(problem, plan_week(problem, iterations=30)) == []
    assert checker.faults(problem, plan_week_greedily(problem)) == []


@settings(max_examples=40, deadline=None)
@given(random_weeks())
def test_work_left_out_would_not_fit_where_only_milder_work_stands(problem):
    plan = plan_week(problem, iterations=30)
    left = {o.wish for o in plan.left_out if o.reason == LeftOutReason.FULL}
    for wanted in sorting.sort_out(problem).wishes:
        if wanted.key not in left or wanted.locks or wanted.key in sites(plan):
            continue
        if wants(wanted):
            continue  # of several people it is judged elsewhere
        alone = Visit(wanted, lean_jobs(wanted, None))
        able = sorting.able_technicians(problem, alone.jobs)
        for one in problem.shifts:
            if one.technician in able and any(w.day == one.day for w in wanted.windows):
                graver = [v for v in visits_on(problem, plan, one) if tier(v.wish) <= tier(wanted)]
                for place in range(len(graver) + 1):
                    assert not fits(problem, one, [*graver[:place], alone, *graver[place:]])


def visits_on(problem, plan, one):
    for route in plan.routes:
        if (route.technician, route.day) == (one.technician, one.day):
            for stop in route.stops:
                wanted = problem.wish_by_key[stop.wish]
                held = {(k.technician, k.day): k.start_min for k in wanted.locks}
                jobs = tuple(j for j in wanted.jobs if j.key in stop.jobs)
                start = held.get((route.technician, route.day))
                if any(j.people > 1 for j in jobs):
                    start = stop.starts_min
                yield Visit(wanted, jobs, start)


@settings(max_examples=15, deadline=None)
@given(random_weeks(), st.integers(0, 9))
def test_same_seed_and_iterations_give_the_same_plan(problem, seed):
    first = plan_week(problem, iterations=40, seed=seed)

    assert plan_week(problem, iterations=40, seed=seed) == first
    assert (first.seed, first.capped, first.cancelled) == (seed, False, False)


@both
def test_all_tickets_of_a_site_are_one_stop(planned):
    systems = (job("ticket:1", 20), job("ticket:2", 15))
    plan = planned(week([wish(jobs=systems, setup_min=10)]))

    (stop,) = plan.routes[0].stops
    assert set(stop.jobs) == {"ticket:1", "ticket:2"}
    assert stop.ends_min - stop.starts_min == 10 + 20 + 15


@both
def test_skill_decides_who_goes(planned):
    rebuild = wish(jobs=(job(skill=Skill.REBUILD),))
    plan = planned(week([rebuild], [shift("kay", skills=TRAINED), shift("wen")]))

    assert [route.technician for route in plan.routes] == ["wen"]


@both
def test_work_that_nobody_on_shift_can_do_says_so(planned):
    plan = planned(
        week([wish(jobs=(job(skill=Skill.ELECTRICIAN),))], [shift("kay", skills=TRAINED)])
    )

    assert reasons(plan) == {"ticket:1": LeftOutReason.SKILL}
    assert "a licensed electrician" in plan.left_out[0].because


@both
def test_closed_or_blocked_site_is_left_out_with_that_reason(planned):
    plan = planned(
        week([wish(windows=()), wish("site:2", 2, (job("ticket:2", 90),), (Window(0, 540, 600),))])
    )

    assert reasons(plan) == {"ticket:1": LeftOutReason.NO_DAY, "ticket:2": LeftOutReason.CLOSED}


@both
def test_work_ends_before_the_site_closes(planned):
    plan = planned(week([wish(jobs=(job(minutes=80),), windows=(Window(0, 600, 690),))]))

    (stop,) = plan.routes[0].stops
    assert (stop.starts_min, stop.ends_min) == (600, 690)


@both
def test_promised_hour_is_kept(planned):
    promised = (Window(2, 840, 1440, starts_by_min=900),)
    plan = planned(week([wish(windows=promised)], [shift(day=day) for day in range(5)]))

    assert plan.routes[0].day == 2
    assert 840 <= plan.routes[0].stops[0].starts_min <= 900


@both
def test_nobody_leaves_earlier_than_the_first_stop_asks(planned):
    plan = planned(week([wish(windows=(Window(0, 660, 1440),))]))

    route = plan.routes[0]
    assert route.leaves_min == 660 - route.drive_min // 2


@both
def test_whoever_works_over_noon_has_his_break(planned):
    wishes = [wish(f"site:{n}", n, (job(f"ticket:{n}", 50),)) for n in range(1, 6)]
    plan = planned(week(wishes, km_apart=2))

    route = plan.routes[0]
    assert len(route.stops) == 5
    assert route.lunch_from_min >= 720
    stops = route.stops
    assert not any(
        s.starts_min < route.lunch_from_min + 30 and route.lunch_from_min < s.ends_min
        for s in stops
    )


@both
def test_a_day_keeps_room_for_surprises(planned):
    problem = week(
        [wish(f"site:{n}", n, (job(f"ticket:{n}", 60),)) for n in range(1, 9)], km_apart=2
    )
    plan = planned(problem)

    assert len(sites(plan)) < 8
    assert all(working_min(route, 30) <= (960 - 450 - 30) * 80 // 100 for route in plan.routes)


@both
def test_graver_work_goes_first_however_far(planned):
    near = [wish(f"site:{n}", 1, (job(f"ticket:{n}", 60, Harm.COSMETIC),)) for n in range(2, 9)]
    far = wish("site:1", 7, (job("ticket:1", 60, Harm.SAFETY),))
    plan = planned(week([*near, far], km_apart=12))

    assert "site:1" in sites(plan)


@both
def test_of_two_equally_grave_stops_the_later_one_goes_first(planned):
    late, later = (
        wish(f"site:{days}", 1, (job(f"ticket:{days}", 300, days_late=days),)) for days in (1, 50)
    )
    plan = planned(week([late, later]))

    assert sites(plan) == ["site:50"]


@both
def test_work_is_done_inside_its_tolerance_if_a_day_is_free(planned):
    plan = planned(week([wish(good_until_day=1)], [shift(day=1), shift(day=4)]))

    assert [route.day for route in plan.routes] == [1]


@both
def test_work_is_rather_late_than_left_out(planned):
    plan = planned(week([wish(good_until_day=0)], [shift(day=3)]))

    assert [route.day for route in plan.routes] == [3]


@both
def test_work_due_soon_goes_along_where_there_is_room(planned):
    soon = job("due:1", 20, pulled_forward=True)
    plan = planned(week([wish(jobs=(job(), soon))]))

    assert set(plan.routes[0].stops[0].jobs) == {"ticket:1", "due:1"}


@both
def test_work_due_soon_never_keeps_a_ticket_from_being_done(planned):
    soon = job("due:1", 350, pulled_forward=True)
    plan = planned(week([wish(jobs=(job(), soon))]))

    assert plan.routes[0].stops[0].jobs == ("ticket:1",)
    assert reasons(plan) == {"due:1": LeftOutReason.LATER}


@both
@pytest.mark.parametrize(("days", "planned_sites"), [(-7, 1), (-60, 0)])
def test_work_that_can_wait_is_worth_a_small_detour_and_a_larger_one_near_its_day(
    planned, days, planned_sites
):
    near = wish(jobs=(job(days_late=days),))  # 20 km out and back by road
    plan = planned(week([near], km_apart=7.5))

    assert len(sites(plan)) == planned_sites
    if not planned_sites:
        assert reasons(plan) == {"ticket:1": LeftOutReason.LATER}
        assert "can wait" in plan.left_out[0].because


@both
def test_work_that_can_wait_goes_along_with_work_that_is_due(planned):
    jobs = (job("ticket:1", harm=Harm.COSMETIC), job("ticket:2", days_late=-50))
    plan = planned(week([wish(jobs=jobs)], km_apart=60))

    assert set(plan.routes[0].stops[0].jobs) == {"ticket:1", "ticket:2"}


@both
def test_work_that_can_wait_never_takes_the_place_of_work_that_is_due(planned):
    waits = wish("site:1", 1, (job("ticket:1", 300, Harm.SAFETY, days_late=-10),))
    due = wish("site:2", 1, (job("ticket:2", 300, Harm.COSMETIC),))
    plan = planned(week([waits, due], km_apart=1))

    assert sites(plan) == ["site:2"]


@both
def test_part_of_a_stop_is_done_where_the_whole_does_not_fit(planned):
    rebuild = job("ticket:1", 60, Harm.COSMETIC, skill=Skill.REBUILD)
    change = job("ticket:2", 20, Harm.COSMETIC)
    blocked = wish("site:2", 2, (job("ticket:3", 300, Harm.SAFETY, skill=Skill.REBUILD),))
    people = [shift("wen"), shift("kay", skills=TRAINED)]
    plan = planned(week([wish(jobs=(rebuild, change)), blocked], people))

    assert ("kay", ("ticket:2",)) in [(r.technician, s.jobs) for r in plan.routes for s in r.stops]
    assert reasons(plan) == {"ticket:1": LeftOutReason.FULL}
    assert "which is planned" in plan.left_out[0].because


@both
def test_stop_placed_by_hand_stays_with_its_person_and_day(planned):
    held = wish(locks=(Lock("wen", 3),))
    everyone = [shift(who, day) for who in ("dario", "wen") for day in range(5)]
    plan = planned(week([held, wish("site:2", 2, (job("ticket:2"),))], everyone))

    assert ("wen", 3) in {(r.technician, r.day) for r in plan.routes if "site:1" in sites_of(r)}


def sites_of(route):
    return [stop.wish for stop in route.stops]


@both
def test_pair_placed_by_hand_comes_at_one_time(planned):
    pair = (job("ticket:1", 90, boat=True), job("ticket:2", 10))
    held = wish(jobs=pair, locks=(Lock("dario", 1, 600), Lock("wen", 1, 600)))
    problem = week([held], [shift(who, 1) for who in ("dario", "wen")])
    plan = planned(problem)

    assert [(r.technician, r.stops[0].starts_min, r.stops[0].jobs) for r in plan.routes] == [
        ("dario", 600, ("ticket:1", "ticket:2")),
        ("wen", 600, ("ticket:1",)),
    ]
    assert checker.faults(problem, plan) == []


@both
def test_stop_placed_by_hand_that_fits_no_more_says_so(planned):
    plan = planned(week([wish(locks=(Lock("wen", 3),))], [shift("dario", 0), shift("wen", 1)]))

    assert plan.routes == ()
    assert "placed by hand" in plan.left_out[0].because


@both
def test_week_that_asks_for_many_times_what_fits_keeps_every_rule(planned):
    wishes = [
        wish(f"site:{n}", n % 9 + 1, (job(f"ticket:{n}", 60, list(Harm)[n % 5]),))
        for n in range(150)
    ]
    problem = week(wishes, [shift(), shift("kay", skills=TRAINED)])
    plan = planned(problem)

    assert checker.faults(problem, plan) == []
    assert {tier(problem.wish_by_key[key]) for key in sites(plan)} == {0}


@both
def test_week_without_anybody_leaves_everything_out(planned):
    problem = replace(week([wish()]), shifts=())

    assert reasons(planned(problem)) == {"ticket:1": LeftOutReason.NO_DAY}


@both
def test_week_without_work_has_no_routes(planned):
    assert planned(week([])).routes == ()


def test_cancel_ends_the_search_with_a_plan_that_says_so():
    asked = iter([False, False, True])
    plan = plan_week(week([wish()]), iterations=1000, cancelled=lambda: next(asked))

    assert (plan.cancelled, plan.iterations) == (True, 2)
    assert sites(plan) == ["site:1"]


def test_search_stopped_by_the_clock_says_that_it_was_capped():
    plan = plan_week(week([wish()]), iterations=10**6, cap_seconds=0)

    assert plan.capped
    assert sites(plan) == ["site:1"]


def test_progress_tells_how_far_the_search_is():
    told = []
    plan_week(week([wish()]), iterations=3, on_progress=lambda done, of: told.append((done, of)))

    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]


@pytest.mark.parametrize("wrong", [{"iterations": 0}, {"iterations": 5, "seed": -1}])
def test_iterations_and_seed_out_of_range_are_refused(wrong):
    with pytest.raises(ValueError, match="start at"):
        plan_week(week([]), **wrong)


def test_skill_includes_those_before_it_and_a_licence_stands_apart():
    held = sorting.able_technicians(
        week([], [shift("wen", skills=frozenset({Skill.TECHNICIAN}))]),
        (job(skill=Skill.TECHNICIAN),),
    )

    assert held == {"wen"}
