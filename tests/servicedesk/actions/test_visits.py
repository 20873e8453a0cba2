"""A technician closes tickets at a pond: what he found, did and left, once and for all."""

import threading
import uuid
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection

from customers.kinds import MailTopic
from customers.models import Customer
from equipment.kinds import Moment, PartRole, PositionKind, SystemState
from equipment.models import Reading, ReadingSet, StateChange, System
from servicedesk import access, kinds
from servicedesk.actions.due import refresh_sites
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.tickets import cancel_ticket
from servicedesk.actions.visits.payload import NotYours, VisitRefused
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.models import (
    Defect,
    DueItem,
    OfficeTask,
    PartUsed,
    Reminder,
    StopTicket,
    SystemCheck,
    Ticket,
    Visit,
    Work,
)
from tests import make

NOW = make.MORNING + timedelta(hours=1)
pytestmark = pytest.mark.django_db


class Closing:
    """A filter-change ticket on Dario's route of today, and what he sends for it."""

    def __init__(self, *, state=SystemState.RUNNING, task=None, at=None):
        owner = make.contact().customer
        self.site = make.site(owner=owner)
        self.system = make.system(site=self.site, state=state)
        self.position = make.filter_position(of=self.system)
        fitted = self.position.serves.fittings.get().component.type
        self.part = make.part_for(fitted, PartRole.FILTER_ELEMENT).part
        self.task = task or make.task(
            part_roles=[PartRole.FILTER_ELEMENT], readings=["pressure"], slug="filter_change"
        )
        self.ticket = make.ticket(at=at or self.position, task=self.task)
        self.dario = make.user()
        self.stop = self.on_route_of(self.dario)

    def on_route_of(self, user, **fields):
        technician = make.technician(user=user, shifts=False)
        return make.stop(self.ticket, route=make.route(technician=technician, **fields))

    def payload(self, **changes):
        """A full closing; changes are given by the names of the fields."""
        work, system = f"works.{self.ticket.pk}", f"systems.{self.system.pk}"
        flat = {
            "uuid": str(uuid.uuid4()),
            "stop": str(self.stop.uuid),
            "arrived_at": make.MORNING.isoformat(),
            "left_at": (make.MORNING + timedelta(minutes=12)).isoformat(),
            f"{work}.outcome": "done",
            f"{work}.found.condition": "wet",
            f"{work}.parts.{self.part.pk}": "1",
            f"{system}.found_running": "yes",
            f"{system}.left_running": "yes",
            f"{system}.left.pressure.typed": "6.4",
            f"{system}.left.pressure.unit": "psi",
        }
        for name, value in changes.items():
            name = name.replace("__", ".").replace("WORK", work).replace("SYSTEM", system)
            flat[name] = value
        payload = {}
        for name, value in flat.items():
            *path, last = name.split(".")
            node = payload
            for step in path:
                node = node.setdefault(step, {})
            node[last] = value
        return payload

    def send(self, *, user=None, now=NOW, **changes):
        return receive_visit(self.payload(**changes), user=user or self.dario, now=now)

    def refused(self, **changes):
        """The sentences, by field, of a closing that is not taken; nothing is written."""
        with pytest.raises(VisitRefused) as refusal:
            self.send(**changes)
        assert (Visit.objects.count(), Work.objects.count()) == (0, 0)
        assert (ReadingSet.objects.count(), SystemCheck.objects.count()) == (0, 0)
        short = {f"works.{self.ticket.pk}": "WORK", f"systems.{self.system.pk}": "SYSTEM"}
        return {
            next((name.replace(a, b) for a, b in short.items() if a in name), name): fault.says
            for name, fault in refusal.value.faults.items()
        }

    def state(self, at=NOW):
        return System.objects.with_state(at).get(pk=self.system.pk).state_now


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


def owed():
    """The topics of what owners are told."""
    return sorted(Reminder.objects.values_list("topic", flat=True))


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


def test_the_owner_is_told_that_his_system_stands_still():
    Closing().send(SYSTEM__left_running="no", SYSTEM__left_off_reason="failed")

    assert owed() == [MailTopic.SYSTEM_OFF, MailTopic.VISIT_REPORT]


def test_a_system_left_off_needs_a_reason():
    assert Closing().refused(SYSTEM__left_running="no") == {
        "SYSTEM.left_off_reason": "Say why it stays off. The office is told at once."
    }


@pytest.mark.parametrize(
    ("reason", "state"),
    [("failed", SystemState.FAILED), ("owner_wish", SystemState.SHUT_OTHER)],
)
def test_a_system_left_off_changes_its_state_and_calls_for_a_follow_up(reason, state):
    closing = Closing()
    restart = make.task(
        slug="post_outage_restart",
        clock=kinds.Clock.EVENT,
        every=None,
        unit="",
        place_kind=kinds.PlaceKind.SYSTEM,
        position_kind="",
        harm=kinds.Harm.FISH,
    )
    restart.rhythms.update(condition={"event": "stopped"})

    closing.send(SYSTEM__left_running="no", SYSTEM__left_off_reason=reason)

    assert closing.state() == state
    check = SystemCheck.objects.get()
    assert (check.found_running, check.left_running, check.left_off_reason) == (True, False, reason)
    told = OfficeTask.objects.get(kind=kinds.OfficeTaskKind.LEFT_OFF)
    assert told.urgent
    assert Ticket.objects.open().get().task == restart
    item = DueItem.objects.get(task=closing.task)
    assert item.paused


def test_leaving_must_be_answered():
    assert Closing().refused(SYSTEM__left_running="") == {
        "SYSTEM.left_running": "Is it running as you leave? This must be answered."
    }


def test_a_system_found_off_is_started_only_with_a_named_manager_and_the_caution_read():
    closing = Closing()
    started = {"SYSTEM__found_running": "no", "SYSTEM__left_running": "yes"}

    faults = closing.refused(**started)
    assert set(faults) == {"SYSTEM.approved_by", "SYSTEM.caution_read"}
    colleague = closing.refused(
        **started, SYSTEM__approved_by=str(make.user().pk), SYSTEM__caution_read="yes"
    )
    assert set(colleague) == {"SYSTEM.approved_by"}

    priya = make.manager()
    closing.send(**started, SYSTEM__approved_by=str(priya.pk), SYSTEM__caution_read="yes")

    assert closing.state() == SystemState.RUNNING
    assert closing.state(make.MORNING) == SystemState.SHUT_OTHER
    assert SystemCheck.objects.get().start_approved_by == priya
    assert StateChange.objects.latest("at").approved_by == priya


def test_a_system_found_off_may_be_left_off_and_is_off_since_the_day_somebody_names():
    closing = Closing()

    closing.send(
        SYSTEM__found_running="no",
        SYSTEM__left_running="no",
        SYSTEM__left_off_reason="found_off",
        SYSTEM__off_since_on="2026-05-20",
    )

    assert closing.state(datetime(2026, 5, 19, tzinfo=UTC)) == SystemState.RUNNING
    assert closing.state(datetime(2026, 5, 21, tzinfo=UTC)) == SystemState.SHUT_OTHER


def test_a_winter_rest_that_goes_on_is_no_news():
    closing = Closing(state=SystemState.SHUT_WINTER)

    closing.send(
        SYSTEM__found_running="no", SYSTEM__left_running="no", SYSTEM__left_off_reason="winter"
    )

    assert StateChange.objects.count() == 1
    assert OfficeTask.objects.count() == 0
    assert owed() == [MailTopic.VISIT_REPORT]


def test_could_not_tell_is_no_way_round_the_approval_of_a_start():
    closing = Closing(state=SystemState.FAILED)

    faults = closing.refused(SYSTEM__found_running="unclear")

    assert faults["SYSTEM.found_running"].startswith("Our record says that it stood still")


def test_a_system_that_runs_against_the_record_is_recorded_as_found_running():
    closing = Closing(state=SystemState.SHUT_OTHER)

    closing.send()

    assert closing.state() == SystemState.RUNNING
    assert "Found running" in StateChange.objects.latest("pk").reason


def trip_test():
    return make.task(
        slug="gfci_test",
        name="Trip test",
        clock=kinds.Clock.CAL,
        place_kind=kinds.PlaceKind.SYSTEM,
        position_kind="",
    )


class TripClosing(Closing):
    def __init__(self):
        super().__init__()
        self.ticket = make.ticket(at=self.system, task=trip_test())
        StopTicket.objects.create(stop=self.stop, ticket=self.ticket)

    def payload(self, **changes):
        tested = {"WORK__found__trip": "tripped"}
        return super().payload(**tested | changes)


def test_a_trip_test_is_not_closed_until_running_is_seen_again_or_it_is_left_off():
    closing = TripClosing()

    faults = closing.refused(SYSTEM__left_running="")
    assert faults["SYSTEM.left_running"].startswith("The test stopped the system. Reset")

    closing.send(SYSTEM__left_running="yes")
    closing.ticket.refresh_from_db()
    assert closing.ticket.end == kinds.TicketEnd.DONE


def test_a_trip_test_may_be_closed_with_the_system_left_off_for_a_reason():
    closing = TripClosing()

    closing.send(SYSTEM__left_running="no", SYSTEM__left_off_reason="electrical")

    assert closing.state() == SystemState.FAILED


@pytest.mark.parametrize("trip", ["did_not_trip", "no_reset"])
def test_an_outlet_that_fails_its_test_leaves_the_system_unplugged(trip):
    closing = TripClosing()

    faults = closing.refused(WORK__found__trip=trip)
    assert "protects nobody" in faults["SYSTEM.left_running"]

    closing.send(
        WORK__found__trip=trip, SYSTEM__left_running="no", SYSTEM__left_off_reason="electrical"
    )
    defect = Defect.objects.get()
    assert (defect.sign, defect.urgent) == (kinds.DefectSign.TRIPPING_OUTLET, True)


def not_done(reason, **changes):
    """Nothing but the reason is said; the system was not looked at."""
    start = {"WORK__outcome": "not_done", "WORK__not_done_reason": reason}
    start |= {"SYSTEM__found_running": "", "SYSTEM__left_running": ""}
    start |= {"SYSTEM__left__pressure__typed": ""}
    return start | changes


def test_a_locked_gate_leaves_the_due_day_as_it_was_and_flags_the_way_in():
    closing = Closing()
    refresh_sites([closing.site.pk], now=NOW)
    before = DueItem.objects.get(task=closing.task).due_on

    closing.send(**not_done("no_access", WORK__note="gate code is wrong"))

    assert DueItem.objects.get(task=closing.task).due_on == before
    closing.ticket.refresh_from_db()
    assert closing.ticket.closed_at is None
    task = OfficeTask.objects.get()
    assert (task.kind, "gate code is wrong" in task.text) == ("mend_access", True)
    assert SystemCheck.objects.count() == 0
    assert PartUsed.objects.count() == 0
    assert owed() == [MailTopic.NOT_DONE]


def test_a_part_missing_on_the_van_makes_the_revisit_free_and_counts_as_a_kit_fault():
    closing = Closing()

    closing.send(**not_done("part_missing"))

    closing.ticket.refresh_from_db()
    assert closing.ticket.no_charge
    assert OfficeTask.objects.filter(kind=kinds.OfficeTaskKind.KIT_FAULT).count() == 1


def test_a_danger_that_kept_the_technician_away_is_to_be_mended_and_has_its_ticket():
    closing = Closing()
    load_task_defaults()

    closing.send(**not_done("unsafe"))

    defect = Defect.objects.get()
    assert (defect.sign, defect.urgent) == (kinds.DefectSign.OTHER, True)
    assert Ticket.objects.open().filter(occasion=f"defect:{defect.pk}").exists()
    assert OfficeTask.objects.get().urgent


def test_not_done_needs_a_reason():
    faults = Closing().refused(**not_done(""))
    assert faults == {"WORK.not_done_reason": "Say why it was not done."}


def test_found_off_as_a_reason_needs_the_answer_that_it_was_off():
    faults = Closing().refused(**not_done("found_off"))
    assert faults == {"SYSTEM.found_running": "You found it off: answer no here."}


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
