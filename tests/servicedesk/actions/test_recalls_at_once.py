"""Recalls, defects and the watch at the same moment, on real connections of their own."""

import uuid
from datetime import UTC, datetime

import pytest

from servicedesk.actions import recalls
from servicedesk.actions.defects import record_defect
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.watch import watch_silence
from servicedesk.kinds import DefectSign
from servicedesk.models import Defect, OfficeTask, RecallUnit, Reminder, Ticket
from tests import make
from tests.servicedesk.actions.test_at_once import at_once

pytestmark = pytest.mark.django_db(transaction=True)
NOW = datetime(2026, 7, 6, 15, tzinfo=UTC)


@pytest.fixture
def place():
    make.firm()
    load_task_defaults()
    owner = make.contact()
    return make.position(system=make.system(site=make.site(owner=owner.customer)))


def test_looks_for_new_units_at_once_list_tell_and_send_somebody_once(place):
    model = make.compressor_type()
    recalls.open_recall(
        name="Covers",
        notice="letter",
        what_to_do="New cover.",
        types=[model],
        by=make.manager(),
        now=NOW,
    )
    make.fit(make.component(type=model), place)

    at_once(*[lambda: recalls.look_again(now=NOW)] * 3)

    assert RecallUnit.objects.count() == Ticket.objects.count() == Reminder.objects.count() == 1


def test_same_report_arriving_at_once_is_one_defect_with_one_ticket(place):
    seen = {"uuid": uuid.uuid4(), "site": place.system.site, "system": place.system, "now": NOW}
    seen |= {"sign": DefectSign.NOISE, "seen_at": NOW}

    at_once(*[lambda: record_defect(**seen)] * 3)

    assert Defect.objects.count() == Ticket.objects.count() == 1


def test_watches_at_once_tell_of_a_silence_once(place):
    at_once(*[lambda: watch_silence(now=NOW)] * 3)

    assert OfficeTask.objects.count() == 1
