"""Jobs and closings that run at the same moment, on real connections of their own."""

import threading
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection

from servicedesk.actions.due import refresh_all
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.actions.work import record_work
from servicedesk.models import DueItem, OfficeTask, Ticket, Work
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)


def at_once(*calls):
    """Run calls in threads that start together; what they raise is raised here."""
    gate, raised = threading.Barrier(len(calls)), []

    def run(call):
        try:
            gate.wait()
            call()
        except Exception as error:
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[call]) for call in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if raised:
        raise raised[0]


@pytest.fixture
def filters():
    task = make.task()
    filters = [make.filter_position() for _ in range(5)]
    for filter_ in filters:
        make.work(filter_, task, done_at=NOW - timedelta(days=115))
    return filters


def closing(ticket, **fields):
    return {
        "uuid": uuid.uuid4(),
        "task": ticket.task,
        "place": ticket.place,
        "ticket": ticket,
        "done_at": NOW,
        "now": NOW,
    } | fields


def test_refreshes_at_once_leave_one_item_each(filters):
    at_once(*[lambda: refresh_all(now=NOW)] * 3)

    assert DueItem.objects.count() == len(filters)


def test_jobs_at_once_open_one_ticket_each(filters):
    refresh_all(now=NOW)

    at_once(*[lambda: open_due_tickets(clock=lambda: NOW)] * 4)

    assert Ticket.objects.count() == len(filters)


def test_one_closing_sent_by_two_requests_at_once_is_recorded_once(filters):
    refresh_all(now=NOW)
    open_due_tickets(clock=lambda: NOW)
    sent = closing(Ticket.objects.first())

    at_once(*[lambda: record_work(**sent)] * 3)

    assert Work.objects.filter(uuid=sent["uuid"]).count() == 1


def test_two_phones_at_once_have_one_closing_counted_and_one_reviewed(filters):
    refresh_all(now=NOW)
    open_due_tickets(clock=lambda: NOW)
    ticket = Ticket.objects.first()
    sent = [closing(ticket, note=note) for note in ("Dario", "Wen")]

    at_once(*[lambda one=one: record_work(**one) for one in sent])

    states = Work.objects.filter(ticket=ticket).values_list("state", flat=True)
    assert sorted(states) == ["accepted", "review"]
    assert OfficeTask.objects.count() == 1


def test_closing_while_the_jobs_run_leaves_no_stale_day_and_no_new_ticket(filters):
    refresh_all(now=NOW)
    open_due_tickets(clock=lambda: NOW)
    ticket = Ticket.objects.first()

    at_once(
        lambda: record_work(**closing(ticket)),
        lambda: refresh_all(now=NOW),
        lambda: open_due_tickets(clock=lambda: NOW),
    )

    item = DueItem.objects.get(place_key=ticket.place_key)
    assert item.due_on == NOW.date() + timedelta(days=120)
    assert not Ticket.objects.open().filter(place_key=ticket.place_key).exists()
