"""What a system does is dated; a stop is followed up, and a start has a name."""

from datetime import UTC, date, datetime, timedelta

import pytest

from customers.models import Trail
from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk.actions.states import StateRefused, record_state, strike_state
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.tickets import postpone_ticket, waive_ticket
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import DueItem, OfficeTask, Restart, Task, Ticket
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def filter_():
    load_task_defaults()
    filter_ = make.filter_position()
    make.work(filter_, Task.objects.get(slug="filter_change"), done_at=NOW - timedelta(days=115))
    return filter_


def stop(system, at=NOW - HOUR, state=SystemState.FAILED, **fields):
    return record_state(system, at=at, state=state, now=NOW, reason="no air", **fields)


def start(system, **fields):
    fields = {"reason": "no meter at hand; water mixed all day by wind"} | fields
    return record_state(
        system, at=NOW, state=SystemState.RUNNING, now=NOW, by=make.user(), **fields
    )


def test_start_without_readings_of_the_water_says_why(filter_):
    stop(filter_.system)
    named = {"approved_by": make.manager(), "caution_read": True}

    with pytest.raises(StateRefused, match="reason for a start without readings"):
        start(filter_.system, reason=" ", **named)
    start(filter_.system, **named)

    assert Restart.objects.get().override_reason.startswith("no meter at hand")


def test_system_left_off_pauses_its_clocks_and_has_a_follow_up_at_once(filter_):
    stop(filter_.system)

    ticket = Ticket.objects.open().get(task__slug="post_outage_restart")
    office = OfficeTask.objects.get()
    assert ticket.occasion == "stopped:20261125T170000"
    assert ticket.due_when_opened_on == date(2026, 11, 25)
    assert (office.kind, office.urgent) == (OfficeTaskKind.LEFT_OFF, True)
    assert DueItem.objects.get(position=filter_, task__slug="filter_change").paused


def test_follow_up_goes_when_the_system_runs_again(filter_):
    stop(filter_.system)

    start(filter_.system, approved_by=make.manager(), caution_read=True)

    assert not Ticket.objects.open().filter(task__slug="post_outage_restart").exists()
    assert not DueItem.objects.get(position=filter_, task__slug="filter_change").paused


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({}, "Leave it off"),
        ({"approved_by": "technician", "caution_read": True}, "manager"),
        ({"approved_by": "manager"}, "caution"),
    ],
)
def test_system_found_off_is_not_started_without_a_managers_name_and_the_caution(
    filter_, fields, says
):
    stop(filter_.system)
    people = {"manager": make.manager, "technician": make.user}
    if "approved_by" in fields:
        fields = fields | {"approved_by": people[fields["approved_by"]]()}

    with pytest.raises(StateRefused, match=says):
        start(filter_.system, **fields)

    assert StateChange.objects.filter(state=SystemState.RUNNING).count() == 1


def test_start_is_recorded_with_the_name_that_answers_for_it(filter_):
    stop(filter_.system)
    manager = make.manager()

    change = start(filter_.system, approved_by=manager, caution_read=True)

    assert change.approved_by == manager
    assert Trail.objects.order_by("-pk")[0].after["caution_read"] is True


def test_start_by_somebody_else_is_recorded_with_how_we_know(filter_):
    stop(filter_.system)
    with pytest.raises(StateRefused, match="who started it"):
        start(filter_.system, started_by_us=False, reason="")

    assert start(filter_.system, started_by_us=False, reason="owner phoned").pk


def test_stop_found_out_in_november_counts_from_june(filter_):
    record_state(
        filter_.system,
        at=datetime(2026, 9, 3, 12, tzinfo=UTC),
        state=SystemState.SHUT_OTHER,
        now=NOW,
        reason="owner says it has been off since September",
    )

    item = DueItem.objects.get(position=filter_, task__slug="filter_change")
    assert item.because.startswith("Paused since 3 September 2026, switched off, with 88 running")


def test_same_state_sent_twice_is_recorded_once(filter_):
    first = stop(filter_.system)

    assert stop(filter_.system) == first
    assert StateChange.objects.count() == 2


def test_stop_seen_again_is_the_same_stop(filter_):
    stop(filter_.system)

    stop(filter_.system, at=NOW)

    assert Ticket.objects.open().get(task__slug="post_outage_restart").occasion == (
        "stopped:20261125T170000"
    )


def test_correction_moves_the_stop_and_keeps_both_rows(filter_):
    first = stop(filter_.system)

    stop(filter_.system, at=NOW - timedelta(days=10), corrects=first)

    ticket = Ticket.objects.open().get(task__slug="post_outage_restart")
    assert ticket.occasion == "stopped:20261115T180000"
    assert StateChange.objects.count() == 3
    with pytest.raises(StateRefused, match="corrected before"):
        stop(filter_.system, at=NOW, corrects=first)


def test_decision_about_a_stop_follows_when_the_stop_is_dated_anew(filter_):
    first = stop(filter_.system)
    ticket = Ticket.objects.open().get(task__slug="post_outage_restart")
    until = NOW.date() + timedelta(days=5)
    postpone_ticket(ticket, until_on=until, by=make.manager(), reason="owner away", now=NOW)

    second = stop(filter_.system, at=NOW - timedelta(days=10), corrects=first)
    stop(filter_.system, at=NOW - timedelta(days=8), corrects=second)

    item = DueItem.objects.get(task__slug="post_outage_restart")
    assert (item.occasion, item.due_on) == ("stopped:20261117T180000", until)
    ticket.refresh_from_db()
    assert (ticket.occasion, ticket.closed_at) == (item.occasion, None)


def test_stop_that_began_earlier_than_first_seen_keeps_what_was_decided(filter_):
    stop(filter_.system)
    ticket = Ticket.objects.open().get(task__slug="post_outage_restart")
    waive_ticket(ticket, by=make.manager(), reason="to be scrapped", now=NOW)

    stop(filter_.system, at=NOW - timedelta(days=10), state=SystemState.SHUT_OTHER)

    assert not DueItem.objects.filter(task__slug="post_outage_restart").exists()
    assert not Ticket.objects.open().filter(task__slug="post_outage_restart").exists()


def test_follow_up_that_is_done_stays_done_when_its_stop_is_dated_anew(filter_):
    first = stop(filter_.system)
    ticket = Ticket.objects.open().get(task__slug="post_outage_restart")
    make.work(filter_.system, ticket.task, occasion=ticket.occasion, done_at=NOW)

    stop(filter_.system, at=NOW - timedelta(days=10), corrects=first)

    assert not Ticket.objects.open().filter(task__slug="post_outage_restart").exists()


def test_decision_about_another_stop_does_not_follow(filter_):
    stop(filter_.system, at=NOW - timedelta(days=20))
    ticket = Ticket.objects.open().get(task__slug="post_outage_restart")
    waive_ticket(ticket, by=make.manager(), reason="started by the owner", now=NOW)
    record_state(
        filter_.system,
        at=NOW - timedelta(days=10),
        state=SystemState.RUNNING,
        now=NOW,
        started_by_us=False,
        reason="the owner",
    )

    stop(filter_.system)

    assert Ticket.objects.open().filter(task__slug="post_outage_restart").exists()


def test_office_that_phoned_about_a_stop_is_not_asked_again_when_it_is_dated_anew(filter_):
    first = stop(filter_.system)
    OfficeTask.objects.update(handled_at=NOW, handled_note="phoned")

    stop(filter_.system, at=NOW - timedelta(days=10), corrects=first)

    office = OfficeTask.objects.get()
    assert (office.handled_note, "15 November 2026" in office.text) == ("phoned", True)


def test_struck_out_stop_never_was(filter_):
    change = stop(filter_.system)

    strike_state(change, by=make.manager(), reason="other cabinet", now=NOW)

    assert not DueItem.objects.get(position=filter_, task__slug="filter_change").paused
    assert not Ticket.objects.open().filter(task__slug="post_outage_restart").exists()


@pytest.mark.parametrize(
    ("at", "says"),
    [
        (NOW + HOUR, "future"),
        (datetime(2024, 12, 1, tzinfo=UTC), "was installed on 1 January 2025"),
    ],
)
def test_state_at_an_impossible_time_is_refused(filter_, at, says):
    with pytest.raises(StateRefused, match=says):
        stop(filter_.system, at=at)


def test_old_stop_that_ended_calls_nobody(filter_):
    record_state(
        filter_.system,
        at=NOW - timedelta(days=200),
        state=SystemState.FAILED,
        now=NOW,
        reason="from the old book",
    )
    record_state(
        filter_.system,
        at=NOW - timedelta(days=190),
        state=SystemState.RUNNING,
        now=NOW,
        started_by_us=False,
        reason="from the old book",
    )

    assert not OfficeTask.objects.exists()
    assert not Ticket.objects.open().filter(task__slug="post_outage_restart").exists()


def test_office_is_told_of_a_stop_once_and_until_it_runs(filter_):
    first = stop(filter_.system)
    stop(filter_.system, at=NOW - timedelta(days=10), corrects=first)
    assert OfficeTask.objects.filter(handled_at=None).count() == 1

    start(filter_.system, approved_by=make.manager(), caution_read=True)

    assert not OfficeTask.objects.filter(handled_at=None).exists()
