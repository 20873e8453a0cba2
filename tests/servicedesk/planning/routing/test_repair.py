"""Whatever day goes wrong, the independent checker finds nothing against the days after it."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from servicedesk.kinds import Harm
from servicedesk.planning.routing.checker import faults
from servicedesk.planning.routing.greedy import plan_week_greedily
from servicedesk.planning.routing.problem import Lock, WeekPlan
from servicedesk.planning.routing.repair import repaired
from servicedesk.planning.routing.timetable import Visit, latest_leaving, visits_of
from tests.servicedesk.planning.routing import weeks


def orders_of(problem, plan):
    return {(route.technician, route.day): visits_of(problem, route) for route in plan.routes}


def without(problem, technician, day):
    shifts = tuple(s for s in problem.shifts if (s.technician, s.day) != (technician, day))
    return replace(problem, shifts=shifts)


def faults_after(result):
    """What the checker says of the days after a repair, of the work that stands on them."""
    routes = [
        latest_leaving(result.problem, result.problem.shift_by_day[day], visits)
        for day, visits in result.orders.items()
        if visits
    ]
    done = {}
    for route in routes:
        for stop in route.stops:
            done.setdefault(stop.wish, set()).update(stop.jobs)
    wishes = tuple(
        replace(wish, jobs=tuple(job for job in wish.jobs if job.key in done[wish.key]))
        for wish in result.problem.wishes
        if wish.key in done
    )
    return faults(replace(result.problem, wishes=wishes), WeekPlan(tuple(routes), ()))


def places_of(orders):
    return {(v.wish.key, day) for day, visits in orders.items() for v in visits}


@settings(max_examples=150, deadline=None)
@given(problem=weeks.random_weeks(), data=st.data())
def test_days_after_somebody_fell_ill_break_no_rule_and_lose_nothing(problem, data):
    orders = orders_of(problem, plan_week_greedily(problem))
    if not orders:
        return
    technician, day = data.draw(st.sampled_from(sorted(orders)))
    out = {visit.wish.key: day for visit in orders[technician, day]}
    result = repaired(without(problem, technician, day), orders, out=out)

    assert faults_after(result) == []
    now = {key for key, _ in places_of(result.orders)}
    assert {key for key, _ in places_of(orders)} == now | set(result.undone)
    assert not now & set(result.undone)
    stayed = {place for place in places_of(orders) if place[0] not in out}
    assert stayed <= places_of(result.orders)


def test_those_who_meet_are_replaced_or_moved_together_and_never_parted():
    both = weeks.wish(
        jobs=(weeks.job(crew=2, boat=True),),
        locks=(Lock("dario", 0, 600), Lock("wen", 0, 600)),
    )
    team = [weeks.shift(name, day) for name in ("dario", "wen") for day in (0, 1)]
    problem = weeks.week([both], team)
    orders = orders_of(problem, plan_week_greedily(problem))
    assert len(orders) == 2

    alone = repaired(without(problem, "dario", 0), orders, out={"site:1": 0})
    assert {day for _, day in places_of(alone.orders)} == {("dario", 1), ("wen", 1)}

    three = replace(problem, shifts=(*problem.shifts, weeks.shift("ines", 0)))
    helped = repaired(without(three, "dario", 0), orders, out={"site:1": 0})
    assert {day for _, day in places_of(helped.orders)} == {("ines", 0), ("wen", 0)}
    assert {v.start_min for visits in helped.orders.values() for v in visits} == {600}


def test_same_day_comes_before_a_shorter_way_on_another_day():
    moved = weeks.wish("site:1", 1)
    near = weeks.wish("site:2", 1, jobs=(weeks.job("ticket:2"),))
    team = [weeks.shift("dario", 0), weeks.shift("wen", 0), weeks.shift("wen", 1)]
    problem = weeks.week([moved, near], team)
    orders = {
        ("dario", 0): [_visit(moved)],
        ("wen", 1): [_visit(near)],
    }
    result = repaired(without(problem, "dario", 0), orders, out={"site:1": 0})

    assert ("site:1", ("wen", 0)) in places_of(result.orders)


def test_emergency_takes_the_place_of_the_mildest_work_of_its_day():
    slow = [
        weeks.wish(f"site:{n}", 1, jobs=(weeks.job(f"ticket:{n}", 200, harm),))
        for n, harm in ((1, Harm.COSMETIC), (2, Harm.ASSET))
    ]
    grave = weeks.wish("site:3", 1, jobs=(weeks.job("ticket:3", 120, Harm.FISH),))
    problem = weeks.week([*slow, grave], [weeks.shift("dario", 0), weeks.shift("dario", 1)])
    orders = {("dario", 0): [_visit(wish) for wish in slow]}
    result = repaired(problem, orders, out={"site:3": 0}, at_once=True)

    assert places_of(result.orders) == {
        ("site:3", ("dario", 0)),
        ("site:2", ("dario", 0)),
        ("site:1", ("dario", 1)),
    }


def _visit(wish):
    return Visit(wish, wish.jobs)
