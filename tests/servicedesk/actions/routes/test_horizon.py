"""What the planner is told of the weeks after the one it plans, and what it learns from each."""

from datetime import timedelta

import pytest

from servicedesk.actions.routes import hands
from servicedesk.actions.routes.horizon import problem_ahead
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.week import read_week
from servicedesk.models import Absence, DueItem, Hold, Ticket, WeekDetours, place_of
from tests import make
from tests.servicedesk.actions.routes import weeks
from tests.servicedesk.actions.routes.weeks import BEFORE, MONDAY, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def dario():
    weeks.firm()
    return make.technician()


def ahead():
    return problem_ahead(read_week(MONDAY, today=TODAY))


def due_later(days, task=None, **fields):
    place = place_of(make.filter_position())
    on = MONDAY + timedelta(days=days)
    start = {"opens_on": on - timedelta(days=5), "due_on": on, "because": "120 running days"}
    start |= {"closes_on": on + timedelta(days=14), "task": task or make.task()}
    return DueItem.objects.create(**place | start | fields)


def test_three_weeks_of_shifts_without_the_days_of_absence(dario):
    away = MONDAY + timedelta(days=8)
    Absence.objects.create(technician=dario, from_on=away, to_on=away)

    assert [s.day for s in ahead().shifts] == [d for d in range(21) if d % 7 < 5 and d != 8]


def test_open_ticket_may_be_done_in_each_week_until_its_tolerance_ends():
    weeks.ticket()  # due on Monday, 14 days of tolerance, every 120 days

    (wish,) = ahead().wishes
    assert {w.day // 7 for w in wish.windows} == {0, 1, 2}
    assert (wish.jobs[0].closes_day, wish.jobs[0].every_days) == (14, 120)


def test_work_that_opens_in_two_weeks_is_seen_from_then_on_and_makes_no_ticket():
    item = due_later(19)

    (wish,) = ahead().wishes
    assert [(job.key, job.opens_day) for job in wish.jobs] == [(f"due:{item.pk}", 14)]
    assert (wish.jobs[0].days_late, wish.jobs[0].closes_day) == (-19, 33)
    assert Ticket.objects.count() == 0


@pytest.mark.parametrize(
    "fields", [{"paused": True}, {"opens_on": MONDAY + timedelta(days=21)}], ids=["rest", "far"]
)
def test_work_at_rest_or_beyond_the_three_weeks_is_not_seen(fields):
    due_later(26, **fields)

    assert ahead().wishes == ()


def test_work_with_a_ticket_is_not_counted_twice():
    ticket = weeks.ticket()
    make.due_item(ticket, closes_on=MONDAY + timedelta(days=9))

    (wish,) = ahead().wishes
    assert [(job.key, job.closes_day) for job in wish.jobs] == [(f"ticket:{ticket.pk}", 9)]


def test_site_is_closed_in_a_later_week_while_it_is_held():
    ticket = weeks.ticket()
    next_week = MONDAY + timedelta(days=7)
    Hold.objects.create(
        kind="blackout",
        site=ticket.site,
        from_on=next_week,
        to_on=next_week + timedelta(days=6),
        reason="a wedding",
    )

    assert {w.day // 7 for w in ahead().wishes[0].windows} == {0, 2}


def test_promise_keeps_its_week():
    weeks.ticket(
        promised_from=BEFORE + timedelta(days=5), promised_until=BEFORE + timedelta(days=5, hours=2)
    )

    assert {w.day for w in ahead().wishes[0].windows} == {1}


def test_infested_water_and_the_roads_of_a_region_are_told_to_the_planner():
    hills = make.region(road_factor=1.6)
    site = make.site(region=hills)
    make.pond(site=site, invasive="milfoil")
    weeks.ticket(site=site)

    problem = ahead()
    (wish,) = problem.wishes
    assert wish.infested
    assert problem.places[wish.place].road_factor == 1.6


def test_published_week_says_what_coming_to_each_site_would_have_added(dario):
    near = make.site(lat=44.95, lon=-93.0)
    on_the_way = make.site(lat=44.925, lon=-93.1)
    hands.place_by_hand(
        weeks.ticket(site=near), technicians=[dario], day=MONDAY, start=None, today=TODAY
    )
    publish_week(MONDAY, by=None, today=TODAY, now=BEFORE)

    found = WeekDetours.objects.get(monday_on=MONDAY).hm
    assert found[str(near.pk)] > 300  # the whole way out and back
    assert found[str(on_the_way.pk)] <= 2


def test_planner_learns_from_past_weeks():
    ticket = weeks.ticket()
    for n, hm in ((1, 70), (2, 30)):
        monday = MONDAY - timedelta(weeks=n)
        WeekDetours.objects.create(monday_on=monday, hm={str(ticket.site_id): hm})

    assert ahead().wishes[0].detours_hm == (30, 70)


@pytest.mark.parametrize("count", [2, 12])
def test_number_of_queries_does_not_grow_with_the_work(count, django_assert_max_num_queries):
    for n in range(count):
        weeks.ticket(0.02 * n)
        due_later(10 + n % 10)

    with django_assert_max_num_queries(42):
        ahead()
