"""What a closing says of the system: found, left, started, tried, or not reached at all."""

from datetime import UTC, datetime

import pytest

from customers.kinds import MailTopic
from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk import kinds
from servicedesk.actions.due import refresh_sites
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.models import (
    Defect,
    DueItem,
    OfficeTask,
    PartUsed,
    StopTicket,
    SystemCheck,
    Ticket,
)
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing, owed

pytestmark = pytest.mark.django_db


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
