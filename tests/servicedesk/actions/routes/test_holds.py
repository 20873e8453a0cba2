"""Closed roads, treatments and months without a van: no plan sends anybody there."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from customers.kinds import Role
from customers.models import Trail
from equipment.kinds import SystemState
from servicedesk.actions import holds
from servicedesk.actions.routes.horizon import problem_ahead
from servicedesk.actions.routes.hours import closed_areas
from servicedesk.actions.routes.week import read_week
from servicedesk.kinds import HoldKind
from servicedesk.models import Hold, OfficeTask
from servicedesk.planning.routing.barriers import Area, area_polygon
from servicedesk.planning.routing.solver import plan_week
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db
SUNDAY = MONDAY + timedelta(days=6)
RIVER = {"type": "LineString", "coordinates": [[-93.0, 44.5], [-93.0, 45.5]]}


@pytest.fixture(autouse=True)
def technician():
    weeks.firm()
    return make.technician()


def enter(kind, first=0, last=6, **fields):
    start = {"reason": "As told.", "by": make.manager(), "now": BEFORE}
    days = {"from_on": MONDAY + timedelta(days=first), "to_on": MONDAY + timedelta(days=last)}
    return holds.enter_hold(kind, **start | days | fields)


def ahead(**fields):
    return problem_ahead(read_week(MONDAY, today=TODAY), **fields)


def days_of(ticket, problem=None):
    (wish,) = [w for w in (problem or ahead()).wishes if w.key == f"site:{ticket.site_id}"]
    return {window.day for window in wish.windows}


def test_pond_that_a_herbicide_contractor_treats_is_left_alone_on_those_days():
    """The owner tells the dates of the treatment: no aeration work and no restart on them."""
    treated, other = weeks.ticket(0.1), weeks.ticket(0.2)
    enter(HoldKind.TREATMENT, 1, 3, site=treated.site)

    assert days_of(treated, ahead(weeks=1)) == {0, 4, 5, 6}
    assert days_of(other, ahead(weeks=1)) == set(range(7))


@pytest.mark.parametrize(
    ("first", "last", "open_days"),
    [
        ("11-25", "04-30", {0, 1}),  # over the turn of the year: from Wednesday on
        ("03-01", "11-24", {2, 3, 4, 5, 6}),  # to Tuesday
        ("03-01", "04-30", {0, 1, 2, 3, 4, 5, 6}),
        ("", "", {0, 1, 2, 3, 4, 5, 6}),
    ],
)
def test_site_at_the_end_of_a_lane_is_not_planned_while_no_van_gets_in(first, last, open_days):
    """Snow, mud and road limits in spring come back every year."""
    ticket = weeks.ticket()
    holds.set_days_without_van(
        ticket.site, first, last, "Road limits.", by=make.manager(), now=BEFORE
    )

    assert days_of(ticket, ahead(weeks=1)) == open_days


def test_site_without_vans_until_spring_is_left_out_with_a_reason():
    ticket = weeks.ticket()
    holds.set_days_without_van(ticket.site, "11-01", "04-30", "", by=make.manager(), now=BEFORE)

    plan = plan_week(ahead(), iterations=50)
    assert [(out.job, out.reason) for out in plan.left_out] == [(f"ticket:{ticket.pk}", "no_day")]


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [("11-31", "04-30", "no day 11-31"), ("11-01", "", "or neither"), ("1.11.", "04-30", "11-31|")],
)
def test_days_that_no_year_has_are_refused(first, last, says):
    with pytest.raises(holds.HoldRefused, match=says):
        holds.set_days_without_van(make.site(), first, last, "", by=make.manager(), now=BEFORE)


def test_two_sides_of_a_closed_bridge_become_two_clusters():
    """While the bridge is closed the far bank is driven to once, for everything there."""
    west = [weeks.ticket(site=make.site(lat=44.9 + n / 50, lon=-93.02)) for n in range(4)]
    east = [weeks.ticket(site=make.site(lat=44.9 + n / 50, lon=-92.98)) for n in range(4)]
    enter(HoldKind.NO_GO_AREA, area=RIVER, way_round_km=60)

    plan = plan_week(ahead(weeks=1), iterations=300)

    far_bank = {f"site:{ticket.site_id}" for ticket in east}
    stops = [[stop.wish in far_bank for stop in route.stops] for route in plan.routes]
    assert sum(map(len, stops)) == len(west) + len(east)
    crossings = [
        sum(a != b for a, b in zip([False, *day], [*day, False], strict=True)) for day in stops
    ]
    assert sum(crossings) == 2


def test_published_problem_and_the_weeks_ahead_know_the_closed_bridge():
    here = weeks.ticket(site=make.site(lat=44.9, lon=-93.02))
    there = weeks.ticket(site=make.site(lat=44.9, lon=-92.98))
    before = ahead().travel.hectometres
    enter(HoldKind.NO_GO_AREA, area=RIVER, way_round_km=60)
    problem = ahead()

    a, b = (
        next(w.place for w in problem.wishes if w.key == f"site:{t.site_id}") for t in (here, there)
    )
    assert problem.travel.hectometres[a, b] == before[a, b] + 600


def test_site_inside_a_closed_area_is_not_planned_before_it_opens():
    ticket = weeks.ticket()
    area = area_polygon(Area(ticket.site.lat, ticket.site.lon, 2))
    enter(HoldKind.NO_GO_AREA, 0, 2, area=area)

    assert days_of(ticket, ahead(weeks=1)) == {3, 4, 5, 6}


def test_road_that_is_told_twice_is_closed_once():
    for _ in range(2):
        enter(HoldKind.NO_GO_AREA, area=RIVER)

    assert len(closed_areas(read_week(MONDAY, today=TODAY))) == 1


def test_hold_that_is_ended_early_is_known_to_no_plan_and_stays_on_record():
    ticket = weeks.ticket()
    hold = enter(HoldKind.BLACKOUT, site=ticket.site)
    boss = make.manager()

    assert holds.end_hold(hold, by=boss, now=BEFORE)
    assert not holds.end_hold(hold, by=boss, now=BEFORE)
    assert days_of(ticket, ahead(weeks=1)) == set(range(7))
    assert Hold.objects.get().lifted_at == BEFORE
    assert list(Trail.objects.values_list("did", flat=True)) == [
        "entered a hold",
        "ended a hold early",
    ]


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"kind": HoldKind.TREATMENT}, "one site or one region"),
        ({"kind": HoldKind.NO_GO_AREA}, "where nobody gets through"),
        ({"kind": HoldKind.NO_GO_AREA, "area": RIVER, "last": -1}, "before the first"),
    ],
)
def test_hold_that_says_nothing_is_refused(fields, says):
    with pytest.raises(holds.HoldRefused, match=says):
        enter(**fields)
    assert not Hold.objects.exists()


def test_stops_that_a_hold_meets_are_those_inside_on_its_days():
    inside, outside = weeks.ticket(), weeks.ticket(0.3)
    done = weeks.ticket(site=inside.site, closed_at=BEFORE, end="done")
    monday, friday = (make.route(day=MONDAY + timedelta(days=n)) for n in (0, 4))
    met = make.stop(inside, route=monday)
    make.stop(outside, route=monday)
    make.stop(inside, route=friday)
    make.stop(done, route=make.route(day=MONDAY + timedelta(days=1)))
    area = area_polygon(Area(inside.site.lat, inside.site.lon, 2))
    closed = enter(HoldKind.NO_GO_AREA, 0, 2, area=area)
    treated = enter(HoldKind.TREATMENT, 0, 2, site=inside.site)

    assert holds.met_stops(closed, TODAY) == holds.met_stops(treated, TODAY) == [met]
    assert holds.met_stops(closed, MONDAY + timedelta(days=1)) == []
    assert date(2026, 11, 23) == MONDAY


def test_shape_typed_among_all_records_is_checked_like_one_that_is_pasted():
    hold = Hold(kind="no_go_area", from_on=MONDAY, to_on=SUNDAY, reason="Flood.")
    hold.area = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0]]]}

    with pytest.raises(ValidationError, match="ends at its first"):
        hold.full_clean(exclude=["by"])


def hot_ticket(region, slug="spring_restart", **fields):
    ticket = weeks.ticket(0.1, **fields)
    ticket.site.region = region
    ticket.site.save()
    ticket.task.slug = slug
    ticket.task.save()
    return ticket


def test_heat_hold_lets_nothing_start_in_its_region_and_other_work_go_on():
    region = make.region()
    start, filter_ = hot_ticket(region), hot_ticket(region, "filter_change", task=make.task())
    enter(HoldKind.HEAT, 0, 3, region=region)

    problem = ahead(weeks=1)
    assert days_of(start, problem) == {4, 5, 6}
    assert days_of(filter_, problem) == set(range(7))


def test_start_that_heat_keeps_waiting_all_week_holds_up_nothing_else_at_its_site():
    region = make.region()
    start = hot_ticket(region)
    other = make.ticket(site=start.site, task=make.task())
    enter(HoldKind.HEAT, -3, 9, region=region)

    (wish,) = ahead(weeks=1).wishes
    assert [job.key for job in wish.jobs] == [f"ticket:{other.pk}"]


def test_heat_hold_is_set_by_a_manager_and_raises_a_watch_of_its_ponds_until_it_is_ended():
    region = make.region()
    dead = make.system(site=make.site(region=region), state=SystemState.FAILED)
    make.system(site=make.site(region=region))
    make.system(site=make.site(region=make.region()), state=SystemState.FAILED)

    with pytest.raises(holds.HoldRefused, match="set by a manager"):
        enter(HoldKind.HEAT, region=region, by=make.user(Role.OFFICE))
    hold = enter(HoldKind.HEAT, region=region)

    ponds, stopped = OfficeTask.objects.order_by("pk")
    assert "looked at from the bank before sunrise (systems that run there: 1)" in ponds.text
    assert (stopped.site, stopped.urgent) == (dead.site, True)
    assert "a loaner within 48 hours" in stopped.text

    holds.end_hold(hold, by=make.manager(), now=BEFORE)
    assert not OfficeTask.objects.filter(handled_at=None).exists()
