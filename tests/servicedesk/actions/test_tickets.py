"""A ticket opens with its window, once, and goes when it is not needed."""

from datetime import UTC, date, datetime, timedelta

import pytest

from customers.models import Ownership
from equipment.kinds import SystemState
from servicedesk.actions.due import refresh_all
from servicedesk.actions.states import record_state
from servicedesk.actions.tickets import (
    TicketRefused,
    cancel_ticket,
    open_due_tickets,
    postpone_ticket,
    waive_ticket,
    withdraw_decision,
)
from servicedesk.kinds import DecisionKind, PlaceKind, TicketEnd
from servicedesk.models import (
    Decision,
    DueItem,
    OfficeTask,
    Route,
    Stop,
    StopTicket,
    Ticket,
    place_of,
)
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)


def open_at(now):
    return open_due_tickets(clock=lambda: now)


def due_filter(days_ago=115, task=None, of=None):
    filter_ = make.filter_position(of)
    make.work(filter_, task or make.task(), done_at=NOW - timedelta(days=days_ago))
    refresh_all(now=NOW)
    return filter_


def shut(system, at=NOW):
    record_state(system, at=at, state=SystemState.SHUT_WINTER, now=NOW, reason="winter")


def test_ticket_opens_when_its_window_does_and_says_why():
    filter_ = due_filter(days_ago=99)  # 21 days before its day
    assert open_at(NOW - timedelta(days=1)) == (0, 0)

    assert open_at(NOW) == (1, 0)

    ticket = Ticket.objects.get()
    assert ticket.place_key == f"position:{filter_.pk}"
    assert ticket.due_when_opened_on == NOW.date() + timedelta(days=21)
    assert ticket.because.startswith("120 running days since the filter change")


def test_window_opens_by_the_day_at_the_site():
    due_filter(days_ago=99)
    before_midnight = datetime(2026, 11, 25, 5, 30, tzinfo=UTC)  # 24 November in Chicago

    assert open_at(before_midnight).opened == 0


def test_ticket_opens_once_however_often_the_job_runs():
    due_filter()

    assert [open_at(NOW).opened for _ in range(3)] == [1, 0, 0]
    assert Ticket.objects.count() == 1


def test_one_customers_forty_ponds_have_a_ticket_each():
    owner, task = make.customer(), make.task()
    for _ in range(40):
        site = make.site(owner=owner)
        make.work(make.filter_position(make.system(site=site)), task, done_at=NOW - timedelta(115))
    refresh_all(now=NOW)

    assert open_at(NOW).opened == 40
    assert Ticket.objects.values("site").distinct().count() == 40
    assert Ownership.objects.filter(customer=owner).count() == 40


def test_two_systems_of_one_pond_have_a_ticket_each_at_one_site():
    site = make.site()
    task = make.task()
    for days in (115, 110):
        due_filter(days, task, make.system(site=site))

    open_at(NOW)

    assert set(Ticket.objects.values_list("site_id", flat=True)) == {site.pk}
    assert Ticket.objects.count() == 2


def test_winter_takes_the_filters_ticket_off_the_list():
    filter_ = due_filter()
    open_at(NOW)

    shut(filter_.system)

    ticket = Ticket.objects.get()
    assert (ticket.end, ticket.closed_at) == (TicketEnd.NOT_NEEDED, NOW)
    assert "shut for winter" in ticket.end_note


def test_ticket_on_todays_route_stays_until_the_technician_was_there():
    filter_ = due_filter()
    open_at(NOW)
    ticket = Ticket.objects.get()
    route = Route.objects.create(
        technician=make.technician(), day=date(2026, 11, 25), published_at=NOW
    )
    stop = Stop.objects.create(
        route=route, site=ticket.site, number=1, arrive_at=NOW, leave_at=NOW + timedelta(hours=1)
    )
    StopTicket.objects.create(stop=stop, ticket=ticket)

    shut(filter_.system)
    ticket.refresh_from_db()
    assert ticket.closed_at is None

    open_at(NOW + timedelta(days=1))
    ticket.refresh_from_db()
    assert ticket.end == TicketEnd.NOT_NEEDED


def test_ticket_that_was_opened_by_hand_is_left_alone():
    make.ticket(occasion="defect:7")

    assert open_at(NOW).not_needed == 0


def test_postponed_ticket_closes_and_opens_again_before_its_new_day():
    due_filter()
    open_at(NOW)
    manager = make.manager()

    postpone_ticket(
        Ticket.objects.get(), until_on=date(2027, 2, 1), by=manager, reason="owner away", now=NOW
    )

    item = DueItem.objects.get()
    assert item.due_on == date(2027, 2, 1)
    assert f"by {manager}: owner away" in item.because
    assert not Ticket.objects.open().exists()
    assert open_at(NOW + timedelta(days=50)).opened == 1


def test_postponement_of_some_days_keeps_the_ticket():
    due_filter()
    open_at(NOW)

    postpone_ticket(
        Ticket.objects.get(), until_on=date(2026, 12, 5), by=make.manager(), reason="rain", now=NOW
    )

    assert Ticket.objects.open().count() == 1


def test_withdrawn_postponement_puts_everything_back():
    due_filter()
    open_at(NOW)
    before = DueItem.objects.get().due_on
    decision = postpone_ticket(
        Ticket.objects.get(), until_on=date(2027, 2, 1), by=make.manager(), reason="x", now=NOW
    )

    withdraw_decision(decision, now=NOW)

    assert DueItem.objects.get().due_on == before
    assert Ticket.objects.open().count() == 1


def test_waived_occasion_opens_no_second_ticket_and_the_next_is_in_sight():
    due_filter()
    open_at(NOW)
    before = DueItem.objects.get().due_on

    waive_ticket(Ticket.objects.get(), by=make.manager(), reason="pond drained", now=NOW)

    assert Ticket.objects.get().end == TicketEnd.NOT_NEEDED
    assert DueItem.objects.get().due_on == before + timedelta(days=120)
    assert open_at(NOW).opened == 0


def test_cancelled_ticket_does_not_come_back_by_the_next_round():
    due_filter()
    open_at(NOW)

    cancel_ticket(Ticket.objects.get(), by=make.manager(), reason="double", now=NOW)

    assert open_at(NOW).opened == 0
    assert Ticket.objects.get().end == TicketEnd.CANCELLED


def test_cancelling_a_ticket_whose_day_moved_away_leaves_the_next_day_as_it_is():
    filter_ = due_filter()
    open_at(NOW)
    ticket = Ticket.objects.get()
    make.work(filter_, ticket.task, done_at=NOW)
    refresh_all(now=NOW)
    before = DueItem.objects.get().due_on

    cancel_ticket(ticket, by=make.manager(), reason="was done", now=NOW)

    assert DueItem.objects.get().due_on == before
    assert not Decision.objects.exists()


def test_blocked_task_opens_no_ticket():
    filter_ = due_filter()
    task = DueItem.objects.get().task
    Decision.objects.create(
        **place_of(filter_),
        task=task,
        kind=DecisionKind.BLOCKED,
        from_on=date(2026, 12, 1),
        reason="bridge closed",
        by=make.manager(),
        decided_at=NOW,
    )
    refresh_all(now=NOW)

    assert open_at(NOW).opened == 0


@pytest.mark.parametrize(
    ("reason", "until", "says"),
    [("", date(2027, 1, 1), "reason"), ("rain", date(2026, 11, 25), "after today")],
)
def test_decision_without_sense_is_refused_and_nothing_is_written(reason, until, says):
    due_filter()
    open_at(NOW)

    with pytest.raises(TicketRefused, match=says):
        postpone_ticket(
            Ticket.objects.get(), until_on=until, by=make.manager(), reason=reason, now=NOW
        )

    assert not Decision.objects.exists()


def test_closed_ticket_cannot_be_postponed():
    ticket = make.ticket(closed_at=NOW, end=TicketEnd.DONE)

    with pytest.raises(TicketRefused, match="closed already"):
        postpone_ticket(
            ticket, until_on=date(2027, 1, 1), by=make.manager(), reason="rain", now=NOW
        )


def test_work_without_a_crew_is_a_task_of_the_office_and_is_said_once():
    make.system()
    make.task(crew=0, place_kind=PlaceKind.SITE, position_kind="", clock="cal", every=30)
    refresh_all(now=NOW)

    open_at(NOW)
    open_at(NOW)

    assert not Ticket.objects.exists()
    assert OfficeTask.objects.count() == 1


@pytest.mark.parametrize("systems", [3, 30])
def test_opening_asks_the_database_the_same_number_of_times(systems, django_assert_num_queries):
    task = make.task()
    for _ in range(systems):
        make.work(make.filter_position(), task, done_at=NOW - timedelta(days=115))
    refresh_all(now=NOW)

    with django_assert_num_queries(11):
        assert open_at(NOW).opened == systems

    with django_assert_num_queries(3):  # a round that finds nothing to do
        open_at(NOW)
