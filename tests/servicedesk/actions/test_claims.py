"""Reported twice in a row and seen by nobody of ours: one ticket to look, until it is seen.

That two words in a row send somebody is our own judgement, no source.
"""

import uuid
from datetime import UTC, datetime, timedelta

import pytest

from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.tickets import cancel_ticket, open_due_tickets
from servicedesk.actions.work import record_work, refuse_work, verify_work
from servicedesk.kinds import Clock, DoneBy, TicketEnd, Who
from servicedesk.models import OfficeTask, Task, Ticket, place_of
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)


@pytest.fixture
def job():
    """A filter change that its owner may do, due every 120 days."""
    load_task_defaults()
    return make.filter_position(), Task.objects.get(slug="filter_change")


def did(job, days_ago, *, by=DoneBy.OWNER, **fields):
    place, task = job
    start = {"uuid": uuid.uuid4(), "task": task, "place": place_of(place), "done_by": by}
    start |= {"done_at": NOW - timedelta(days=days_ago), "now": NOW}
    return record_work(**start | fields)


def looks():
    return Ticket.objects.open().filter(task__slug="claim_look")


def test_two_words_of_an_owner_in_a_row_open_one_ticket_to_look(job):
    did(job, 240)
    assert not looks().exists()

    did(job, 120)
    did(job, 1)

    ticket = looks().get()
    assert ticket.place_key == f"position:{job[0].pk}"
    assert "30 March 2026 and 28 July 2026" in ticket.because
    assert not OfficeTask.objects.exists()


def test_word_of_another_firm_counts_like_an_owners(job):
    did(job, 120, by=DoneBy.OTHER_FIRM)
    did(job, 1)

    assert looks().count() == 1


def test_work_of_ours_between_two_words_sends_nobody(job):
    did(job, 240)
    did(job, 120, by=DoneBy.TECHNICIAN)
    did(job, 1)

    assert not looks().exists()


def test_two_words_of_one_day_are_one(job):
    did(job, 1)
    did(job, 1 + 1 / 24)

    assert not looks().exists()


def test_order_in_which_words_come_in_plays_no_part(job):
    did(job, 1)
    did(job, 240)
    assert looks().exists()

    did(job, 120, by=DoneBy.TECHNICIAN)  # learnt late

    assert not looks().exists()


@pytest.mark.parametrize("which", [0, 1])
def test_word_that_is_seen_late_ends_the_ticket(job, which):
    words = [did(job, 120), did(job, 1)]

    verify_work(words[which], by=make.user(), now=NOW)

    ticket = Ticket.objects.get(task__slug="claim_look")
    assert (ticket.end, ticket.closed_at) == (TicketEnd.NOT_NEEDED, NOW)


def test_word_taken_back_ends_the_ticket_and_the_next_one_opens_another(job):
    did(job, 120)
    second = did(job, 1)

    refuse_work(second, now=NOW, reason="taken back by the owner")
    assert not looks().exists()

    did(job, 0)
    assert looks().count() == 1
    assert Ticket.objects.filter(task__slug="claim_look").count() == 2


def test_ticket_that_the_office_cancels_comes_back_only_with_the_next_word(job):
    did(job, 240)
    other = did(job, 120)
    cancel_ticket(looks().get(), by=make.manager(), reason="seen by phone video", now=NOW)

    verify_work(other, by=make.user(), now=NOW)
    refuse_work(other, now=NOW)
    assert not looks().exists()

    did(job, 60, now=NOW + timedelta(hours=1))
    assert looks().count() == 1


def test_nightly_round_leaves_the_ticket_open(job):
    did(job, 120)
    did(job, 1)

    open_due_tickets(clock=lambda: NOW + timedelta(days=1))

    assert looks().count() == 1


def test_what_owners_do_in_their_own_rhythm_sends_nobody(job):
    own = make.task(by_owner=True, clock=Clock.CAL, every=30)
    own.rhythms.update(who=Who.OWNER)

    for days_ago in (60, 30, 1):
        did((job[0], own), days_ago)

    assert not looks().exists()


def test_without_the_task_the_office_is_asked_once(job):
    Task.objects.filter(slug="claim_look").update(active=False)
    did(job, 120)
    did(job, 1)

    assert "Send somebody to look" in OfficeTask.objects.get(handled_at=None).text

    did(job, 0, by=DoneBy.TECHNICIAN)
    assert not OfficeTask.objects.filter(handled_at=None).exists()
