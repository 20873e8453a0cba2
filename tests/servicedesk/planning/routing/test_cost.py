from servicedesk.kinds import Harm
from servicedesk.planning.routing.cost import iterations_for, plan_cost_cents
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.problem import LeftOut, LeftOutReason, WeekPlan, Window
from servicedesk.planning.routing.sorting import PRIZE
from servicedesk.planning.routing.timetable import Visit, timed_route
from tests.servicedesk.planning.routing.weeks import job, shift, week, wish


def route(problem, one, *wishes):
    return timed_route(problem, one, [Visit(each, each.jobs) for each in wishes])


def test_driving_working_time_and_the_day_itself_cost():
    problem = week([wish()])
    plan = plan_week_greedily(problem)
    (day,) = plan.routes

    minutes = day.back_min - day.leaves_min
    assert plan_cost_cents(problem, plan) == 6 * day.drive_hm + 67 * minutes + 3000


def test_shorter_way_is_cheaper():
    near, far = wish("site:1", 1), wish("site:2", 5, (job("ticket:2"),))
    problem = week([near, far])
    one = problem.shifts[0]
    there_and_on = WeekPlan((route(problem, one, near, far),), ())
    back_and_forth = WeekPlan((route(problem, one, near), route(problem, shift(day=1), far)), ())

    assert plan_cost_cents(problem, there_and_on) < plan_cost_cents(problem, back_and_forth)


def test_work_left_out_costs_by_its_harm_and_more_than_any_drive():
    problem = week([wish(jobs=(job(harm=Harm.COSMETIC),))], km_apart=60)
    planned = plan_week_greedily(problem)
    nothing = WeekPlan((), (LeftOut("site:1", "ticket:1", LeftOutReason.FULL, "Full."),))

    assert plan_cost_cents(problem, nothing) == PRIZE[Harm.COSMETIC]
    assert plan_cost_cents(problem, planned) < plan_cost_cents(problem, nothing)


def test_work_that_nobody_could_plan_costs_nothing():
    problem = week([wish(jobs=(job(crew=2),))])

    assert plan_cost_cents(problem, plan_week_greedily(problem)) == 0


def test_work_after_its_tolerance_costs_a_part_of_its_prize():
    early = week([wish(windows=(Window(3),))], [shift(day=3)])
    late = week([wish(windows=(Window(3),), good_until_day=1)], [shift(day=3)])
    more = plan_cost_cents(late, plan_week_greedily(late)) - plan_cost_cents(
        early, plan_week_greedily(early)
    )

    assert more == PRIZE[Harm.ASSET] * 15 // 100


def test_a_very_large_week_is_searched_longer_and_none_shorter_than_a_small_one():
    assert iterations_for(0) == iterations_for(400) < iterations_for(3_000)
