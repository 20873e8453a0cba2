"""Which open work gets into the problem of a week, and with which hours."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from customers.models import OpeningHours
from servicedesk import kinds
from servicedesk.actions.routes import hands
from servicedesk.actions.routes.week import read_week
from servicedesk.actions.routes.wishes import problem_as_it_stands, problem_to_plan
from servicedesk.models import Absence, Decision, DueItem, Hold, Route, Stop, StopTicket, place_of
from servicedesk.planning.routing.problem import Lock, Window
from tests import make

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 11, 23)


@pytest.fixture
def firm():
    return make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)


@pytest.fixture
def technician(firm):
    return make.technician()


def problem(today=MONDAY):
    return problem_to_plan(read_week(MONDAY, today=today))


def filter_at(site, **fields):
    return make.ticket(at=make.filter_position(make.system(site=site)), **fields)


def test_tickets_of_two_systems_at_one_site_are_one_stop(technician):
    site = make.site()
    tickets = [filter_at(site), filter_at(site)]

    (wish,) = problem().wishes
    assert wish.key == f"site:{site.pk}"
    assert [job.key for job in wish.jobs] == [f"ticket:{ticket.pk}" for ticket in tickets]
    assert wish.windows == tuple(Window(day) for day in range(7))


def test_ticket_says_how_late_it_is_and_until_when_it_is_in_tolerance(technician):
    ticket = make.ticket(due_when_opened_on=MONDAY - timedelta(days=12))

    (wish,) = problem().wishes
    assert ticket.task.late_days == 14
    assert wish.jobs[0].days_late == 12
    assert wish.good_until_day == 2


def test_day_and_tolerance_come_from_the_due_item_where_there_is_one(technician):
    ticket = make.ticket(due_when_opened_on=MONDAY - timedelta(days=40))
    DueItem.objects.create(
        **ticket.place,
        task=ticket.task,
        opens_on=MONDAY,
        due_on=MONDAY,
        closes_on=MONDAY + timedelta(days=3),
        because="It was postponed.",
    )

    (wish,) = problem().wishes
    assert (wish.jobs[0].days_late, wish.good_until_day) == (0, 3)


def test_closed_ticket_is_no_work(technician):
    make.ticket(closed_at=make.MORNING, end=kinds.TicketEnd.DONE)

    assert problem().wishes == ()


def test_work_of_the_office_is_in_no_plan_and_by_hand_one_person_does_it(technician):
    ticket = make.ticket(task=make.task(crew=0))
    assert problem().wishes == ()

    hands.place_by_hand(ticket, technicians=[technician], day=MONDAY, start=None, today=MONDAY)
    assert [job.people for wish in problem().wishes for job in wish.jobs] == [1]


def test_shift_is_the_technicians_own_with_all_skills_below(firm):
    technician = make.technician(
        skill=kinds.Skill.REBUILD,
        licensed_electrician=True,
        boat=True,
        start_lat=45.5,
        start_lon=-93.5,
    )

    found = problem()
    assert len(found.shifts) == 5
    first = found.shifts[0]
    assert (first.technician, first.day, first.from_min, first.until_min) == (
        str(technician.pk),
        0,
        450,
        960,
    )
    assert first.skills == set(kinds.Skill)
    assert first.boat
    assert found.name_of(first.technician) == str(technician)
    assert found.places[first.home].latitude == 45.5


def test_nobody_works_while_away_nor_on_days_gone_by(technician):
    Absence.objects.create(
        technician=technician, from_on=MONDAY + timedelta(days=2), to_on=MONDAY + timedelta(days=3)
    )

    assert [shift.day for shift in problem(today=MONDAY + timedelta(days=1)).shifts] == [1, 4]


def test_opening_hours_are_read_by_the_clock_of_the_site(technician):
    site = make.site(time_zone="America/New_York")
    OpeningHours.objects.create(site=site, weekday=2, opens=time(9), closes=time(12))
    filter_at(site)

    (wish,) = problem().wishes
    assert wish.windows == (Window(1, 8 * 60, 11 * 60),)  # an hour earlier in Chicago


def test_blackout_closes_the_site_for_its_days(technician):
    ticket = make.ticket()
    Hold.objects.create(
        kind=kinds.HoldKind.BLACKOUT,
        site=ticket.site,
        reason="A wedding.",
        from_on=MONDAY,
        to_on=MONDAY + timedelta(days=3),
    )

    (wish,) = problem().wishes
    assert [window.day for window in wish.windows] == [4, 5, 6]


def test_hold_of_a_region_counts_and_a_lifted_one_does_not(technician):
    region = make.region()
    filter_at(make.site(region=region))
    filter_at(make.site())
    fields = {"kind": kinds.HoldKind.BLACKOUT}
    fields |= {"from_on": MONDAY, "to_on": MONDAY + timedelta(days=6)}
    Hold.objects.create(region=region, reason="A derby.", **fields)
    Hold.objects.create(region=region, reason="Lifted.", lifted_at=make.MORNING, **fields)

    assert [len(wish.windows) for wish in problem().wishes] == [0, 7]


def test_promised_time_is_the_only_one(technician):
    start = datetime(2026, 11, 24, 15, 0, tzinfo=UTC)  # 09:00 in Chicago
    make.ticket(promised_from=start, promised_until=start + timedelta(hours=2))

    (wish,) = problem().wishes
    assert wish.windows == (Window(1, 540, 1440, starts_by_min=660),)


def test_ticket_promised_for_a_later_week_waits_for_it(technician):
    start = datetime(2026, 12, 2, 15, 0, tzinfo=UTC)
    make.ticket(promised_from=start, promised_until=start + timedelta(hours=2))

    assert problem().wishes == ()


@pytest.mark.parametrize(
    ("until", "days"),
    [(MONDAY + timedelta(days=3), [3, 4, 5, 6]), (MONDAY + timedelta(days=9), None)],
)
def test_postponed_ticket_is_not_planned_before_its_day(technician, until, days):
    ticket = make.ticket()
    Decision.objects.create(
        **ticket.place,
        task=ticket.task,
        kind=kinds.DecisionKind.POSTPONED,
        from_on=MONDAY,
        until_on=until,
        reason="The owner is away.",
        by=make.manager(),
        decided_at=make.MORNING,
    )

    found = [[window.day for window in wish.windows] for wish in problem().wishes]
    assert found == ([days] if days else [])


def due_soon(site, due_in_days, *, for_two=False, **fields):
    task = make.task(every=120, crew=2 if for_two else 1)
    place = place_of(make.filter_position(make.system(site=site)))
    due_on = MONDAY + timedelta(days=due_in_days)
    return DueItem.objects.create(
        **place,
        task=task,
        because="120 days in operation.",
        **{
            "opens_on": due_on - timedelta(days=21),
            "due_on": due_on,
            "closes_on": due_on + timedelta(days=14),
        }
        | fields,
    )


def test_work_due_soon_is_pulled_forward_where_a_ticket_is_open(technician):
    ticket = make.ticket()
    soon = due_soon(ticket.site, 20)
    due_soon(make.site(), 20)

    (wish,) = problem().wishes
    assert [(job.key, job.pulled_forward) for job in wish.jobs] == [
        (f"ticket:{ticket.pk}", False),
        (f"due:{soon.pk}", True),
    ]


@pytest.mark.parametrize(
    "fields",
    [
        {"paused": True},
        {"due_on": MONDAY + timedelta(days=31), "closes_on": MONDAY + timedelta(days=50)},
        {"opens_on": MONDAY + timedelta(days=8)},
    ],
    ids=["paused", "beyond the horizon", "its ticket would be closed again"],
)
def test_work_that_is_not_due_soon_enough_stays_away(technician, fields):
    ticket = make.ticket()
    due_soon(ticket.site, 20, **fields)

    (wish,) = problem().wishes
    assert len(wish.jobs) == 1


def test_work_due_soon_goes_along_where_two_meet(technician):
    ticket = make.ticket(task=make.task(crew=2))
    soon = due_soon(ticket.site, 20)

    (wish,) = problem().wishes
    assert [(job.key, job.people) for job in wish.jobs] == [
        (f"ticket:{ticket.pk}", 2),
        (f"due:{soon.pk}", 1),
    ]


def test_work_for_two_comes_along_only_where_two_meet(technician):
    alone, meet = make.ticket(), make.ticket(task=make.task(crew=2))
    for ticket in (alone, meet):
        due_soon(ticket.site, 20, for_two=True)

    people = {wish.key: sorted(job.people for job in wish.jobs) for wish in problem().wishes}
    assert people == {f"site:{alone.site_id}": [1], f"site:{meet.site_id}": [2, 2]}


def test_meeting_on_drafts_holds_its_minute_and_is_free_when_planned_anew(technician):
    ticket = make.ticket(task=make.task(crew=2))
    other = make.technician()
    for one in (technician, other):
        stop_on(one, MONDAY, ticket)

    (wish,) = problem().wishes
    assert (wish.locks, wish.pins) == ((), ())
    (stands,) = problem_as_it_stands(read_week(MONDAY, today=MONDAY))[0].wishes
    assert stands.locks == ()
    assert set(stands.pins) == {Lock(str(technician.pk), 0, 600), Lock(str(other.pk), 0, 600)}


def test_second_person_is_wanted_where_one_was_placed_by_hand(technician):
    ticket = make.ticket(task=make.task(crew=2))
    stop_on(technician, MONDAY, ticket, by_hand=True)

    (wish,) = problem().wishes
    assert (wish.locks, wish.jobs[0].people) == ((Lock(str(technician.pk), 0),), 2)


def test_work_from_a_boat_ends_by_sunset_and_begins_after_sunrise(technician):
    site = make.site(lat=44.95, lon=-93.09)
    make.ticket(at=make.filter_position(make.system(site=site)), task=make.task(needs_boat=True))
    bank = make.ticket()

    by_key = {wish.key: wish.windows[0] for wish in problem().wishes}
    light = by_key[f"site:{site.pk}"]
    # the sun is up from 07:20:53 to 16:36:21: astral 3.2, sun(Observer(44.95, -93.09), that day)
    assert (light.boat_from_min, light.boat_until_min) == (7 * 60 + 21, 16 * 60 + 36)
    assert by_key[f"site:{bank.site_id}"].boat_until_min == 24 * 60


def stop_on(technician, day, ticket, *, published=False, **fields):
    route, _ = Route.objects.get_or_create(
        technician=technician,
        day=day,
        defaults={"published_at": make.MORNING if published else None},
    )
    at = datetime.combine(day, time(16), tzinfo=UTC)  # 10:00 in Chicago
    stop = Stop.objects.create(
        route=route,
        site=ticket.site,
        number=1,
        arrive_at=at,
        leave_at=at + timedelta(minutes=30),
        **fields,
    )
    StopTicket.objects.create(stop=stop, ticket=ticket)
    return stop


def test_published_day_is_kept_with_its_tickets(technician):
    stop_on(technician, MONDAY, make.ticket(), published=True)

    found = problem()
    assert found.wishes == ()
    assert [shift.day for shift in found.shifts] == [1, 2, 3, 4]


def test_published_ticket_that_was_not_done_is_planned_again(technician):
    stop_on(technician, MONDAY, make.ticket(), published=True)

    assert len(problem(today=MONDAY + timedelta(days=1)).wishes) == 1


def test_draft_stop_may_move_and_one_placed_by_hand_keeps_its_day(technician):
    stop_on(technician, MONDAY, make.ticket())
    other = make.technician()
    stop_on(other, MONDAY, make.ticket(), by_hand=True)

    assert [wish.locks for wish in problem().wishes] == [(), (Lock(str(other.pk), 0),)]


def test_pair_placed_by_hand_keeps_its_minute(technician):
    ticket = make.ticket(task=make.task(crew=2))
    other = make.technician()
    for one in (technician, other):
        stop_on(one, MONDAY, ticket, by_hand=True)

    (wish,) = problem().wishes
    assert set(wish.locks) == {Lock(str(technician.pk), 0, 600), Lock(str(other.pk), 0, 600)}


def test_ticket_on_a_draft_of_another_week_is_not_planned_twice(technician):
    stop_on(technician, MONDAY + timedelta(days=7), make.ticket())

    assert problem().wishes == ()


@pytest.mark.parametrize("count", [1, 12])
def test_problem_is_read_with_the_same_number_of_queries(
    technician, count, django_assert_max_num_queries
):
    for _ in range(count):
        due_soon(make.ticket().site, 20)

    with django_assert_max_num_queries(20):
        assert len(problem().wishes) == count
