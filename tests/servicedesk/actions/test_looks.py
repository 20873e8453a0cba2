"""A look closed at the pond stores what was seen: a serial number, or whether work was done."""

import uuid
from datetime import timedelta

import pytest

from servicedesk.actions import recalls
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.visits.payload import VisitRefused
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.actions.work import record_work
from servicedesk.kinds import DoneBy, RecallOutcome, WorkState
from servicedesk.models import DueItem, OfficeTask, RecallUnit, Task, Ticket, Work, place_of
from tests import make

pytestmark = pytest.mark.django_db
NOW = make.MORNING + timedelta(hours=1)


@pytest.fixture
def unit():
    """A unit on the list of a recall of 4400 to 4499, whose number nobody has read yet."""
    make.firm()
    load_task_defaults()
    model = make.compressor_type(model="P60")
    system = make.system(site=make.site(owner=make.contact().customer))
    make.fit(make.component(type=model, serial=""), make.position(system=system))
    recalls.open_recall(
        name="Cracked covers",
        notice="maker's letter of 2 May 2026",
        what_to_do="The cover is replaced.",
        types=[model],
        serial_from="4400",
        serial_to="4499",
        by=make.manager(),
        now=make.MORNING,
    )
    return RecallUnit.objects.get()


def close(ticket, **found):
    """Dario closes a ticket on his route of today."""
    dario = make.user()
    technician = make.technician(user=dario, shifts=False)
    stop = make.stop(ticket, route=make.route(technician=technician))
    payload = {
        "uuid": str(uuid.uuid4()),
        "stop": str(stop.uuid),
        "arrived_at": make.MORNING.isoformat(),
        "left_at": (make.MORNING + timedelta(minutes=12)).isoformat(),
        "works": {str(ticket.pk): {"outcome": "done", "found": found}},
        "systems": {str(ticket.system_id): {"found_running": "yes", "left_running": "yes"}},
    }
    return receive_visit(payload, user=dario, now=NOW)


def test_number_read_in_the_range_is_stored_and_the_repair_is_opened(unit):
    close(unit.ticket, serial="4471")

    unit.refresh_from_db()
    assert (unit.component.serial, unit.must_look) == ("4471", False)
    assert unit.ticket.task.slug == "recall_check"
    assert unit.ticket.closed_at is None


def test_number_read_outside_the_range_settles_the_unit(unit):
    close(unit.ticket, serial="5120")

    unit.refresh_from_db()
    assert (unit.component.serial, unit.outcome) == ("5120", RecallOutcome.NOT_AFFECTED)
    assert not Ticket.objects.open().filter(occasion__startswith="recall:").exists()


@pytest.mark.parametrize(
    ("found", "says"),
    [({"unreadable": "yes"}, "nobody can read"), ({"serial": "44?1"}, "does not tell")],
)
def test_number_that_tells_nothing_leaves_the_unit_to_a_person(unit, found, says):
    close(unit.ticket, **found)

    unit.refresh_from_db()
    assert (unit.must_look, unit.handled_at) == (True, None)
    assert says in OfficeTask.objects.get(key=f"recall-read:{unit.pk}").text


@pytest.mark.parametrize("found", [{}, {"serial": "4471", "unreadable": "yes"}])
def test_look_that_does_not_say_what_was_read_is_not_taken(unit, found):
    with pytest.raises(VisitRefused) as refusal:
        close(unit.ticket, **found)

    assert list(refusal.value.faults) == [f"works.{unit.ticket_id}.found.serial"]
    assert not Work.objects.exists()


@pytest.fixture
def look():
    """The ticket to look at a filter change that the owner reported twice."""
    make.firm()
    load_task_defaults()
    filter_, task = make.filter_position(), Task.objects.get(slug="filter_change")
    for days_ago in (150, 30):
        record_work(
            uuid=uuid.uuid4(),
            task=task,
            place=place_of(filter_),
            done_by=DoneBy.OWNER,
            done_at=NOW - timedelta(days=days_ago),
            now=NOW,
        )
    return Ticket.objects.get(task__slug="claim_look")


def test_reported_work_that_is_seen_counts_as_seen(look):
    assert DueItem.objects.get(task__slug="filter_change").verify

    close(look, claim="as_told")

    assert not Work.objects.filter(task__slug="filter_change", verified=False).exists()
    assert not DueItem.objects.get(task__slug="filter_change").verify
    assert not Ticket.objects.open().filter(task__slug="claim_look").exists()


def test_reported_work_that_was_not_done_counts_for_nothing(look):
    close(look, claim="not_so")

    states = set(Work.objects.filter(task__slug="filter_change").values_list("state", flat=True))
    assert states == {WorkState.REFUSED}
    assert not Ticket.objects.open().filter(task__slug="claim_look").exists()
    assert Ticket.objects.open().filter(task__slug="filter_change").exists()


def test_look_at_reported_work_says_what_was_seen(look):
    with pytest.raises(VisitRefused, match="was it done as reported"):
        close(look)
