"""A simulated year: what comes of it can be counted by hand, and every week of it is allowed."""

from copy import deepcopy
from dataclasses import replace
from datetime import date, timedelta

import pytest

from equipment.kinds import SystemState
from equipment.physics.geodesy import great_circle_km
from servicedesk.kinds import Clock, Skill
from servicedesk.planning.due.timeline import StateFrom
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.barriers import barrier_of
from servicedesk.planning.whatif.comparison import compare
from servicedesk.planning.whatif.months import Months
from servicedesk.planning.whatif.settings import Interval, Settings
from servicedesk.planning.whatif.world import ClosedWay, Opening
from servicedesk.planning.whatif.year import simulate
from tests.servicedesk.planning.whatif import worlds
from tests.servicedesk.planning.whatif.worlds import MONDAY

AS_TODAY = Settings()
NAUTICAL_MILE_KM = 1.852  # about a minute of latitude; SI brochure, table 8


def played(world, settings=AS_TODAY, **fields):
    return simulate(world, settings, **{"weeks": 52, "iterations": 20} | fields)


def test_one_filter_every_90_days_is_changed_four_times_in_a_year():
    # By hand: due on day 30, 120, 210 and 300; five days early or late move the fifth to day 370
    # at the soonest, and the year has 364.
    months = played(worlds.world())

    total = months.total
    assert (total.tasks, total.visits, total.days) == (4, 4, 4)
    assert (total.late, months.late) == (0, 0)
    assert total.work_min == 4 * (10 + 20)
    assert total.parts == {"filter_element": 4}


def test_km_of_a_single_pond_are_its_visits_times_the_way_there_and_back():
    # The pond lies 30 minutes of latitude north of the shop: 30 nautical miles.
    total = played(worlds.world()).total

    assert total.km == pytest.approx(4 * 2 * 30 * NAUTICAL_MILE_KM, rel=0.006)
    assert total.drive_min == pytest.approx(total.km, rel=0.02)  # at 60 km/h a minute a kilometre


def test_paid_time_is_every_shift_without_its_lunch():
    assert played(worlds.world()).total.paid_min == 52 * 5 * 8 * 60


def test_twice_the_interval_halves_the_work():
    both = [
        Settings(intervals={"filter_change": Interval(180, "d")}),
        Settings(intervals={"filter_change": Interval(2)}),
        Settings(factor=2),
    ]

    assert [played(worlds.world(), one).total.tasks for one in both] == [2, 2, 2]


def test_same_seed_gives_the_same_numbers_and_equal_settings_no_difference():
    world = worlds.many()
    first, second = played(world, weeks=16), played(world, weeks=16)

    found = compare(first, second)
    assert first == second
    assert found.a == found.b
    assert (found.late_a, found.is_whole) == (found.late_b, True)


def test_firm_is_not_changed_by_what_happens_in_the_simulation():
    world = worlds.many()
    before = deepcopy(world)
    played(world, Settings(ponds=3, factor=0.5), weeks=12)

    assert world == before


@pytest.mark.parametrize("settings", [AS_TODAY, Settings(absent=("2",)), Settings(ponds=5)])
def test_every_simulated_week_passes_the_checker(settings):
    faults = []
    months = played(
        worlds.many(),
        settings,
        weeks=20,
        on_week=lambda problem, plan: faults.extend(checker.faults(problem, plan)),
    )

    assert faults == []
    assert months.total.tasks > 20


def test_fewer_technicians_have_no_more_days_and_no_more_paid_time():
    world = worlds.many(people=3)
    few, all_ = played(world, Settings(absent=("2", "3")), weeks=16), played(world, weeks=16)

    assert few.total.paid_min * 3 == all_.total.paid_min
    assert few.total.days <= 16 * 5
    assert few.total.tasks <= all_.total.tasks + len(world.sites)


def test_work_that_nobody_may_do_is_late_and_says_since_when():
    work = worlds.filter_change(skill=Skill.ELECTRICIAN)
    world = worlds.world(worlds.site(1, worlds.duty(work=work)))
    months = played(world, weeks=10)

    # Due on day 30, in time until day 35; looked at on day 70.
    assert (months.total.tasks, months.still_late, months.still_days_late) == (0, 1, 35)
    assert months.late == 1


def test_what_was_late_on_the_first_day_is_done_and_told_apart():
    late = worlds.duty(due_on=MONDAY - timedelta(days=20))
    months = played(worlds.world(worlds.site(1, late)), weeks=4)

    assert (months.inherited, months.total.tasks, months.late) == (1, 1, 0)


def test_work_that_counts_for_another_task_is_not_done_twice():
    change = worlds.duty(due_on=MONDAY + timedelta(days=20))
    look = worlds.duty(
        work=worlds.filter_change(slug="look", parts=()), due_on=MONDAY + timedelta(days=45)
    )
    apart = worlds.world(worlds.site(1, change, look))
    look = replace(look, resets=look.resets | change.resets)
    together = worlds.world(worlds.site(1, change, look))

    # Within 13 weeks the change falls due on day 20, and the look on day 45, or 110 after it.
    assert played(apart, weeks=13).total.tasks == 2
    assert played(together, weeks=13).total.tasks == 1


def test_clock_of_running_days_stands_still_while_the_system_rests():
    resting = (
        StateFrom(MONDAY + timedelta(days=14), SystemState.SHUT_WINTER),
        StateFrom(MONDAY + timedelta(days=140), SystemState.RUNNING),
    )
    running = worlds.duty(clock=Clock.OP)
    world = worlds.world(worlds.site(1, worlds.duty(clock=Clock.OP, states=resting)))

    assert played(worlds.world(worlds.site(1, running)), weeks=33).total.tasks == 3
    # 126 days of rest: the first is due on day 30 + 126, the next 90 days later.
    assert played(world, weeks=33).total.tasks == 1


def test_task_of_a_state_is_done_in_that_state_alone():
    winter = (
        StateFrom(MONDAY + timedelta(days=70), SystemState.SHUT_WINTER),
        StateFrom(MONDAY + timedelta(days=140), SystemState.RUNNING),
    )
    watch = worlds.duty(clock=Clock.OP, every=14, states=winter, counting={SystemState.SHUT_WINTER})
    watch.rules = {SystemState.SHUT_WINTER: watch.rules[SystemState.SHUT_WINTER]}
    days = []
    played(
        worlds.world(worlds.site(1, watch)),
        weeks=30,
        on_week=lambda problem, plan: days.append(len(plan.routes)),
    )

    # Ten weeks of winter: at the latest on days 89, 108 and 127, at the soonest every nine days.
    assert 3 <= sum(days) <= 7
    assert sum(days[:10]) == sum(days[21:]) == 0


def test_nobody_comes_outside_the_hours_or_in_the_months_without_a_way_in():
    hours = worlds.site(1, opening=(Opening(3, 600, 720),), no_van=("06-15", "07-15"))
    days = []
    played(
        worlds.world(hours),
        weeks=10,
        on_week=lambda problem, plan: days.extend(
            (len(days), route.day, stop.starts_min) for route in plan.routes for stop in route.stops
        ),
    )

    assert days  # due on 1 July, so late: the first Wednesday is the 22nd
    assert all(day == 2 and 600 <= at <= 690 for _week, day, at in days)
    assert played(worlds.world(hours), weeks=10).rows["2026-07"].late == 1


def test_nobody_comes_on_held_days():
    """Due on 1 July, five days early or late are fine; held from 24 June to 9 July."""
    held = worlds.site(1, held=((date(2026, 6, 24), date(2026, 7, 9)),))
    days = []
    months = played(
        worlds.world(held),
        weeks=10,
        on_week=lambda problem, plan: days.extend((len(days), r.day) for r in plan.routes),
    )

    assert days
    assert months.rows["2026-07"].late == 1
    assert played(worlds.world(worlds.site(1)), weeks=10).late == 0


def test_closed_way_is_driven_round_while_it_is_closed():
    """The pond lies 55.6 km north; a wall of 0.4 degrees stands half way in June and July."""
    wall = {"type": "LineString", "coordinates": [[-93.2, 45.25], [-92.8, 45.25]]}
    pond = worlds.site(1, worlds.duty(due_on=worlds.MONDAY + timedelta(days=30), every=90))
    way = ClosedWay(barrier_of(wall), date(2026, 6, 1), date(2026, 7, 31))
    months = played(worlds.world(pond, ways=(way,)), weeks=30)
    open_ = played(worlds.world(pond), weeks=30)
    round_it = 2 * (
        great_circle_km(45.0, -93.0, 45.25, -93.2) + great_circle_km(45.25, -93.2, 45.5, -93.0)
    )

    assert [row.visits for row in months.rows.values()] == [
        row.visits for row in open_.rows.values()
    ]
    closed = next(row for name, row in months.rows.items() if row.visits)
    assert closed.km == pytest.approx(closed.visits * round_it, rel=0.01)
    later = [row.km for row in months.rows.values() if row.visits][1:]
    assert later == [row.km for row in open_.rows.values() if row.visits][1:]


def test_two_people_who_meet_are_two_visits_and_one_task():
    work = worlds.filter_change(crew=2)
    world = worlds.world(
        worlds.site(1, worlds.duty(work=work)), people=[worlds.person(1), worlds.person(2)]
    )
    total = played(world, weeks=8).total

    assert (total.tasks, total.visits, total.late) == (1, 2, 0)
    assert total.work_min == 2 * (10 + 20)
    assert total.parts == {"filter_element": 1}


def test_cancelled_year_keeps_the_weeks_that_were_played():
    done = []
    months = played(
        worlds.many(),
        on_progress=lambda m: done.append(m.weeks_done),
        cancelled=lambda: len(done) > 8,
    )

    assert (months.cancelled, months.weeks_done) == (True, 9)
    found = compare(months, played(worlds.many(), weeks=52, cancelled=lambda: False))
    assert [a.name for a, _b in found.rows] == ["2026-06", "2026-07"]  # nine weeks reach 2 August
    assert (found.is_whole, found.until) == (False, date(2026, 8, 1))


def test_year_stopped_within_a_week_keeps_only_whole_weeks():
    asked, seen = [], []

    def cancelled():
        asked.append(True)
        return len(asked) > 30

    months = played(
        worlds.many(),
        weeks=20,
        on_pulse=lambda: seen.append(True),
        cancelled=cancelled,
        on_progress=lambda m: seen.append(m.weeks_done),
    )

    whole = [one for one in seen if one is not True]
    assert months.cancelled
    assert 0 < months.weeks_done == whole[-1] < 20
    assert len(seen) > 20  # signs of life within the weeks


def test_months_come_back_from_their_data_as_they_were():
    months = played(worlds.many(), weeks=8)

    assert Months.from_data(months.as_data()) == months
    assert Months.from_data(months.as_data() | {"of_another_release": 1}) == months


@pytest.mark.parametrize("fields", [{"weeks": 0}, {"weeks": 200}, {"iterations": 0}, {"seed": -1}])
def test_figures_out_of_range_are_refused(fields):
    with pytest.raises(ValueError, match=r"between|start at"):
        played(worlds.world(), **fields)
