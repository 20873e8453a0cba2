"""Work gets in once, resets its clock, and what it was not is followed up."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from servicedesk.actions.due import refresh_systems
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.actions.work import (
    WorkRefused,
    accept_work,
    record_work,
    refuse_work,
    verify_work,
)
from servicedesk.kinds import (
    DoneBy,
    NotDoneReason,
    OfficeTaskKind,
    Outcome,
    TicketEnd,
    WorkState,
)
from servicedesk.models import DueItem, OfficeTask, PartUsed, Ticket, Work, place_of
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
LAST = NOW - timedelta(days=115)


@pytest.fixture
def due_filter():
    """A filter in its window, with its open ticket."""
    filter_ = make.filter_position()
    task = make.task(by_owner=True)
    make.work(filter_, task, done_at=LAST)
    refresh_systems([filter_.system_id], now=NOW)
    open_due_tickets(clock=lambda: NOW)
    return Ticket.objects.get()


def closing(ticket, **fields):
    start = {"uuid": uuid.uuid4(), "task": ticket.task, "place": ticket.place, "ticket": ticket}
    start |= {"done_at": NOW - timedelta(hours=1), "now": NOW, "user": make.user()}
    return start | fields


def not_done(ticket, reason, **fields):
    return record_work(
        **closing(ticket, outcome=Outcome.NOT_DONE, not_done_reason=reason, **fields)
    )


def due_on():
    return DueItem.objects.get().due_on


def test_closing_moves_the_due_day_and_takes_the_ticket_off_the_list(due_filter):
    record_work(**closing(due_filter))

    due_filter.refresh_from_db()
    assert (due_filter.end, due_filter.closed_at) == (TicketEnd.DONE, NOW)
    assert due_on() == NOW.date() + timedelta(days=120)
    assert not Ticket.objects.open().exists()


def test_closing_sent_three_times_is_recorded_once(due_filter):
    part = make.part()
    sent = closing(due_filter, found={"filter": "wet"}, parts={part: 1})

    works = {record_work(**sent | {"now": NOW + timedelta(hours=n)}).pk for n in range(3)}

    assert len(works) == 1
    assert Work.objects.filter(ticket=due_filter).count() == 1
    assert PartUsed.objects.count() == 1


def test_same_number_with_other_content_is_refused_and_changes_nothing(due_filter):
    sent = closing(due_filter)
    record_work(**sent)

    with pytest.raises(WorkRefused, match="other content"):
        record_work(**sent | {"note": "other"})

    assert Work.objects.filter(ticket=due_filter).count() == 1


def test_second_different_closing_waits_for_review_and_loses_nothing(due_filter):
    first = record_work(**closing(due_filter, found={"filter": "wet"}))
    second = record_work(
        **closing(due_filter, found={"filter": "clean"}, done_at=NOW - timedelta(minutes=5))
    )

    assert (first.state, second.state) == (WorkState.ACCEPTED, WorkState.REVIEW)
    assert second.found == {"filter": "clean"}
    assert OfficeTask.objects.get().kind == OfficeTaskKind.REVIEW_CLOSING


def test_accepted_review_counts_in_place_of_the_first(due_filter):
    first = record_work(**closing(due_filter, done_at=NOW - timedelta(days=3)))
    second = record_work(**closing(due_filter, done_at=NOW - timedelta(days=1)))

    accept_work(second, by=make.manager(), now=NOW)

    first.refresh_from_db()
    assert first.state == WorkState.REFUSED
    assert due_on() == second.done_at.date() + timedelta(days=120)
    assert OfficeTask.objects.get().handled_at == NOW


def test_refused_review_stays_on_record_and_counts_for_nothing(due_filter):
    record_work(**closing(due_filter, done_at=NOW - timedelta(days=3)))
    second = record_work(**closing(due_filter))

    refuse_work(second, by=make.manager(), now=NOW)

    second.refresh_from_db()
    assert second.state == WorkState.REFUSED
    assert due_on() == NOW.date() - timedelta(days=3) + timedelta(days=120)


def test_closing_of_a_cancelled_ticket_is_taken_and_the_office_decides(due_filter):
    Ticket.objects.update(closed_at=NOW, end=TicketEnd.CANCELLED)

    work = record_work(**closing(due_filter))

    assert work.state == WorkState.ACCEPTED
    assert "cancelled" in OfficeTask.objects.get().text
    assert due_on() == NOW.date() + timedelta(days=120)


def test_work_without_a_ticket_closes_the_open_one_of_its_task_and_place(due_filter):
    record_work(**closing(due_filter) | {"ticket": None})

    due_filter.refresh_from_db()
    assert due_filter.end == TicketEnd.DONE


def test_locked_gate_leaves_the_due_day_and_has_the_way_in_mended(due_filter):
    before = due_on()

    not_done(due_filter, NotDoneReason.NO_ACCESS, note="gate code wrong")

    due_filter.refresh_from_db()
    office = OfficeTask.objects.get()
    assert (due_on(), due_filter.closed_at, due_filter.no_charge) == (before, None, False)
    assert office.kind == OfficeTaskKind.MEND_ACCESS
    assert "gate code wrong" in office.text


def test_missing_part_is_a_fault_of_the_kit_and_the_next_trip_is_free(due_filter):
    not_done(due_filter, NotDoneReason.PART_MISSING)

    due_filter.refresh_from_db()
    assert due_filter.no_charge
    assert OfficeTask.objects.get().kind == OfficeTaskKind.KIT_FAULT


def test_danger_calls_the_office_at_once(due_filter):
    not_done(due_filter, NotDoneReason.NOT_SAFE_TO_WORK)

    assert OfficeTask.objects.get().urgent


@pytest.mark.parametrize("reason", list(NotDoneReason))
def test_work_not_done_keeps_ticket_and_due_day(due_filter, reason):
    before = due_on()

    not_done(due_filter, reason)

    due_filter.refresh_from_db()
    assert (due_on(), due_filter.closed_at) == (before, None)


def test_owner_who_did_it_himself_resets_the_clock_until_somebody_looks(due_filter):
    contact = make.contact()

    work = record_work(**closing(due_filter, done_by=DoneBy.OWNER, contact=contact, user=None))

    item = DueItem.objects.get()
    due_filter.refresh_from_db()
    assert (work.verified, item.verify) == (False, True)
    assert item.due_on == NOW.date() + timedelta(days=120)
    assert due_filter.end == TicketEnd.DONE

    verify_work(work, by=make.manager(), now=NOW)

    assert not DueItem.objects.get().verify


def test_owner_who_takes_it_back_has_the_ticket_again(due_filter):
    before = due_on()
    work = record_work(**closing(due_filter, done_by=DoneBy.OWNER, user=None))

    refuse_work(work, now=NOW + timedelta(hours=3))

    due_filter.refresh_from_db()
    assert (due_on(), due_filter.closed_at, due_filter.end) == (before, None, "")


def test_technician_who_comes_after_an_owners_word_is_no_second_closing(due_filter):
    record_work(**closing(due_filter, done_by=DoneBy.OWNER, user=None))

    work = record_work(**closing(due_filter))

    assert work.state == WorkState.ACCEPTED
    assert not DueItem.objects.get().verify


def test_owner_cannot_do_what_is_not_for_owners():
    filter_ = make.filter_position()
    task = make.task(by_owner=False)

    with pytest.raises(WorkRefused, match="not a task for owners"):
        record_work(
            uuid=uuid.uuid4(),
            task=task,
            place=place_of(filter_),
            done_at=NOW,
            now=NOW,
            done_by=DoneBy.OWNER,
        )

    assert not Work.objects.exists()


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"done_at": NOW + timedelta(minutes=6)}, "still to come"),
        ({"outcome": Outcome.NOT_DONE}, "why"),
        ({"not_done_reason": NotDoneReason.WEATHER}, "no reason"),
    ],
)
def test_work_that_makes_no_sense_is_refused_with_what_to_do(due_filter, fields, says):
    with pytest.raises(WorkRefused, match=says):
        record_work(**closing(due_filter, **fields))

    assert not Work.objects.filter(ticket=due_filter).exists()


def test_ticket_of_another_place_is_refused(due_filter):
    with pytest.raises(WorkRefused, match="another task or place"):
        record_work(**closing(due_filter) | {"place": place_of(make.filter_position())})


def test_work_logged_six_days_late_counts_from_its_day(due_filter):
    record_work(**closing(due_filter, done_at=NOW - timedelta(days=6)))

    assert due_on() == date(2026, 11, 19) + timedelta(days=120)


def test_phone_whose_clock_is_some_minutes_ahead_resets_the_clock_at_once(due_filter):
    record_work(**closing(due_filter, done_at=NOW + timedelta(minutes=4)))

    assert due_on() == NOW.date() + timedelta(days=120)
    assert open_due_tickets(clock=lambda: NOW).opened == 0
