"""A technician closes tickets at a pond: what he found, did and left, once and for all."""

import threading
import uuid
from datetime import date, timedelta

import pytest
from django.db import connection

from customers.kinds import MailTopic
from customers.models import Customer
from equipment.kinds import Moment, PositionKind
from equipment.models import Reading, ReadingSet, StateChange, System
from servicedesk import access, kinds
from servicedesk.actions.due import refresh_sites
from servicedesk.actions.tickets import cancel_ticket
from servicedesk.actions.visits.payload import NotYours, VisitRefused
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.models import (
    Defect,
    DueItem,
    OfficeTask,
    PartUsed,
    Ticket,
    Visit,
    Work,
)
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing, owed

pytestmark = pytest.mark.django_db


def test_a_filter_change_closes_its_ticket_and_moves_the_due_day():
    closing = Closing()
    refresh_sites([closing.site.pk], now=NOW)
    before = DueItem.objects.get(task=closing.task).due_on

    visit, new = closing.send()

    assert new
    closing.ticket.refresh_from_db()
    assert closing.ticket.end == kinds.TicketEnd.DONE
    work = Work.objects.get()
    assert (work.visit, work.outcome, work.found) == (visit, "done", {"condition": "wet"})
    assert work.done_at == make.MORNING + timedelta(minutes=12)
    used = PartUsed.objects.get()
    assert (used.part, used.quantity, used.work) == (closing.part, 1, work)
    reading = Reading.objects.get()
    assert (reading.typed_value, reading.set.moment) == ("6.4", Moment.AS_LEFT)
    assert list(visit.reading_sets.all()) == [reading.set]
    after = DueItem.objects.get(task=closing.task).due_on
    assert after > before
    assert (after - date(2026, 6, 1)).days == 120
    assert Ticket.objects.open().count() == 0


def test_the_same_closing_sent_three_times_is_one_visit_one_work_and_one_part():
    closing = Closing()
    payload = closing.payload()

    answers = [receive_visit(payload, user=closing.dario, now=NOW)[1] for _ in range(3)]

    assert answers == [True, False, False]
    assert (Visit.objects.count(), Work.objects.count(), PartUsed.objects.count()) == (1, 1, 1)
    assert (ReadingSet.objects.count(), StateChange.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_the_same_closing_arriving_at_once_by_two_connections_is_one_visit():
    closing = Closing()
    payload, answers = closing.payload(), []

    def send():
        try:
            answers.append(receive_visit(payload, user=closing.dario, now=NOW)[1])
        finally:
            connection.close()

    threads = [threading.Thread(target=send) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(answers) == [False, False, True]
    assert (Visit.objects.count(), PartUsed.objects.count()) == (1, 1)


def test_a_second_different_closing_of_a_ticket_waits_for_review_with_nothing_lost():
    closing, wen = Closing(), make.user(first_name="Wen")
    closing.on_route_of(wen)
    closing.send()

    second, new = closing.send(user=wen, SYSTEM__left__pressure__typed="6.9")

    assert new
    assert list(Work.objects.order_by("pk").values_list("state", flat=True)) == [
        kinds.WorkState.ACCEPTED,
        kinds.WorkState.REVIEW,
    ]
    assert second.reading_sets.get().readings.get().typed_value == "6.9"
    assert OfficeTask.objects.get().kind == kinds.OfficeTaskKind.REVIEW_CLOSING


def test_the_owners_report_is_owed_once_however_often_the_closing_arrives():
    closing = Closing()
    payload = closing.payload()
    for _ in range(3):
        receive_visit(payload, user=closing.dario, now=NOW)

    assert owed() == [MailTopic.VISIT_REPORT]


def test_a_second_closing_under_review_tells_the_owner_nothing():
    closing, wen = Closing(), make.user()
    closing.on_route_of(wen)
    closing.send()
    closing.send(user=wen)

    assert owed() == [MailTopic.VISIT_REPORT]


def test_a_ticket_that_went_to_another_route_meanwhile_is_still_taken():
    closing = Closing()
    day_pass = access.day_pass(closing.dario, closing.site)
    closing.stop.delete()
    closing.on_route_of(make.user())

    _, new = closing.send(stop="", site=str(closing.site.pk), **{"pass": day_pass})

    assert new
    assert Work.objects.get().state == kinds.WorkState.ACCEPTED


def test_a_ticket_that_was_cancelled_meanwhile_is_taken_and_the_office_decides():
    closing = Closing()
    cancel_ticket(closing.ticket, by=make.manager(), reason="sold", now=NOW)

    closing.send()

    assert Work.objects.get().outcome == kinds.Outcome.DONE
    assert "cancelled" in OfficeTask.objects.get().text


def test_another_technicians_ticket_is_refused():
    closing, wen = Closing(), make.user()

    with pytest.raises(NotYours, match="not on your route"):
        closing.send(user=wen)
    assert Visit.objects.count() == 0


def test_a_pass_for_one_site_opens_no_other():
    closing, wen = Closing(), make.user()
    other = access.day_pass(wen, make.site())

    with pytest.raises(NotYours):
        closing.send(user=wen, **{"pass": other})


def test_the_office_may_close_every_ticket():
    closing = Closing()
    assert closing.send(user=make.manager())[1]


def test_a_closing_that_bears_anothers_number_is_not_shown_to_him():
    closing, wen = Closing(), make.user()
    closing.on_route_of(wen)
    payload = closing.payload()
    receive_visit(payload, user=closing.dario, now=NOW)

    with pytest.raises(NotYours, match="Somebody else"):
        receive_visit(payload, user=wen, now=NOW)


def test_a_visit_typed_in_days_later_counts_from_the_day_it_happened():
    closing = Closing()
    friday = make.MORNING + timedelta(days=4)

    closing.send(now=friday)

    work = Work.objects.get()
    assert work.done_at == make.MORNING + timedelta(minutes=12)
    assert work.entered_at == friday
    assert (DueItem.objects.get(task=closing.task).due_on - date(2026, 6, 1)).days == 120


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("arrived_at", "2027-06-01T10:00", "This lies in the future."),
        ("arrived_at", "2019-06-01T10:00", "This is more than a year ago."),
        ("arrived_at", "2026-02-30T10:00", "is no date and time"),
        ("left_at", "2026-06-01T09:00", "You cannot leave before you come."),
        ("left_at", "2026-06-03T09:00", "This lies in the future."),
    ],
)
def test_an_impossible_time_is_refused_at_its_field(field, value, says):
    faults = Closing().refused(**{field: value})
    assert says in faults[field]


def test_nothing_can_have_been_done_before_anything_stood_there():
    closing = Closing()
    System.objects.update(installed_on=date(2026, 5, 30), commissioned_on=None)

    faults = closing.refused(arrived_at="2026-05-20T10:00", left_at="2026-05-20T11:00")

    assert faults["arrived_at"].startswith("Nothing stood here before 2026-05-30.")


def test_the_phones_clock_is_measured_against_the_servers():
    visit, _ = Closing().send(phone_at=(NOW + timedelta(minutes=3)).isoformat())
    assert visit.phone_clock_off_s == 180


def test_a_reading_beyond_the_hard_limit_is_refused_at_its_field():
    faults = Closing().refused(SYSTEM__left__pressure__typed="640")
    assert faults["SYSTEM.left.pressure.typed"].startswith("Pressure must lie between 0 and 150")


def test_a_reading_that_is_asked_for_may_be_left_out_with_a_reason_only():
    closing = Closing()
    faults = closing.refused(SYSTEM__left__pressure__typed="")
    assert list(faults) == ["SYSTEM.left.pressure.typed"]

    closing.send(SYSTEM__left__pressure__typed="", SYSTEM__skipped_because="no gauge or meter here")
    assert Reading.objects.get().skipped_because == "no gauge or meter here"


def test_another_unit_is_asked_about_and_stored_as_the_technician_says():
    closing = Closing()
    make_last = ReadingSet.objects.create(
        system=closing.system,
        moment=Moment.AS_LEFT,
        taken_at=make.MORNING - timedelta(days=100),
        entered_at=make.MORNING,
    )
    Reading.objects.create(set=make_last, quantity="pressure", value=43_437, typed_unit="psi")

    with pytest.raises(VisitRefused) as refusal:
        closing.send(SYSTEM__left__pressure__typed="43.5")
    fault = next(iter(refusal.value.faults.values()))
    assert (fault.question, fault.meant_unit) == (True, "kPa")

    closing.send(SYSTEM__left__pressure__typed="43,5", SYSTEM__left__pressure__answer="unit:kPa")
    kept = Reading.objects.latest("pk")
    assert (kept.value, kept.typed_value, kept.typed_unit) == (43_500, "43,5", "kPa")


def test_what_was_done_without_a_ticket_is_recorded_as_well():
    closing = Closing()
    extra = make.task(
        slug="cabinet_check", place_kind=kinds.PlaceKind.SYSTEM, position_kind="", name="Cabinet"
    )
    key = f"cabinet_check@system:{closing.system.pk}"

    closing.send(**{f"works__{key}__outcome": "done"})

    assert Work.objects.get(task=extra).ticket is None


def test_bubbles_as_found_and_something_to_mend_are_kept():
    closing = Closing()
    plate = make.position(PositionKind.DIFFUSER, system=closing.system)

    closing.send(
        **{
            f"SYSTEM__found__bubbles:{plate.pk}__typed": "2",
            "defects__1__sign": "weak_boil",
            "defects__1__text": "D3",
        }
    )

    found = Reading.objects.get(quantity="bubbles")
    assert (found.value, found.position, found.set.moment) == (2, plate, Moment.AS_FOUND)
    assert Defect.objects.get().sign == kinds.DefectSign.WEAK_BOIL


@pytest.mark.parametrize(
    "payload",
    [
        [],
        "visit",
        {"uuid": "x"},
        {"uuid": str(uuid.uuid4())},
        {"uuid": str(uuid.uuid4()), "works": {"1": "done"}},
        {"uuid": str(uuid.uuid4()), "stop": "not a number", "works": [1]},
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(payload):
    with pytest.raises(VisitRefused):
        receive_visit(payload, user=make.manager(), now=NOW)
    assert Customer.objects.count() == 0
