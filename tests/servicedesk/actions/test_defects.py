"""What is to be mended has a ticket from the moment it is known, by the harm it may do."""

import uuid
from datetime import UTC, date, datetime

import pytest

from servicedesk.actions import defects
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.work import record_work, refuse_work
from servicedesk.kinds import DefectSign, Harm, TicketEnd
from servicedesk.models import Defect, OfficeTask, Task, Ticket
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 7, 6, 15, tzinfo=UTC)
KEY = uuid.UUID("7a3d2f16-50a5-4a04-8a22-6ff7d6d3a002")


@pytest.fixture
def system():
    load_task_defaults()
    return make.system()


def seen(at, sign=DefectSign.NOISE, *, key=KEY, **fields):
    start = {"text": "rattles", "seen_at": NOW, "system": at, "now": NOW}
    return defects.record_defect(uuid=key, site=at.site, sign=sign, **start | fields)


def mend(ticket, **fields):
    return record_work(
        uuid=uuid.uuid4(),
        task=ticket.task,
        place=ticket.place,
        ticket=ticket,
        done_at=NOW,
        now=NOW,
        user=make.user(),
        **fields,
    )


@pytest.mark.parametrize(
    ("sign", "urgent", "harm", "due_on"),
    [
        (DefectSign.TRIPPING_OUTLET, True, Harm.SAFETY, date(2026, 7, 6)),
        (DefectSign.SECOND_OPENING, True, Harm.SAFETY, date(2026, 7, 6)),
        (DefectSign.WATER_IN_HOUSING, False, Harm.SAFETY, date(2026, 7, 6)),
        (DefectSign.FISH_GASPING, True, Harm.FISH, date(2026, 7, 6)),
        (DefectSign.NO_BOIL, False, Harm.FISH, date(2026, 7, 6)),
        (DefectSign.NOISE, True, Harm.ASSET, date(2026, 7, 9)),
        (DefectSign.NOISE, False, Harm.ASSET, date(2026, 7, 20)),
    ],
)
def test_defect_opens_a_repair_by_the_harm_that_it_may_do(system, sign, urgent, harm, due_on):
    defect = seen(system, sign, urgent=urgent)

    ticket = Ticket.objects.open().get()
    assert ticket.task.harm == harm
    assert ticket.occasion == f"defect:{defect.pk}"
    assert ticket.due_when_opened_on == due_on
    assert ticket.because.endswith("seen on 6 July 2026. rattles")


def test_same_report_sent_twice_opens_one_ticket(system):
    seen(system)
    seen(system)

    assert Defect.objects.count() == Ticket.objects.count() == 1


def test_closing_the_ticket_marks_the_defect_mended_and_work_not_counted_opens_it_again(system):
    defect = seen(system)
    other = seen(system, key=uuid.uuid4())
    ticket = Ticket.objects.get(occasion=f"defect:{defect.pk}")
    work = mend(ticket)

    assert defects.settle_defects(system.site_id) == 1
    defect.refresh_from_db()
    assert (defect.mended_at, defect.mended_by_work) == (NOW, work)
    assert Defect.objects.get(pk=other.pk).mended_at is None
    assert defects.settle_defects() == 0

    refuse_work(work, now=NOW, by=make.manager())
    assert defects.settle_defects() == 1
    defect.refresh_from_db()
    assert (defect.mended_at, defect.mended_by_work) == (None, None)


def test_report_taken_back_ends_its_ticket_but_a_danger_stands(system):
    noise = seen(system)
    danger = seen(system, DefectSign.TRIPPING_OUTLET, key=uuid.uuid4())

    defects.take_back_defect(noise.uuid, now=NOW)
    defects.take_back_defect(danger.uuid, now=NOW)

    assert Ticket.objects.get(occasion=f"defect:{noise.pk}").end == TicketEnd.NOT_NEEDED
    assert Ticket.objects.open().get().occasion == f"defect:{danger.pk}"
    assert list(Defect.objects.filter(mended_at=None)) == [danger]


def test_firm_that_does_not_use_the_task_is_told_in_the_office(system):
    Task.objects.filter(slug="repair").update(active=False)

    seen(system)

    assert not Ticket.objects.exists()
    assert "To be mended: Noise" in OfficeTask.objects.get().text


def test_defect_of_a_site_without_a_system_has_its_ticket_at_the_site(system):
    seen(system, system=None)

    assert Ticket.objects.get().place_key == f"site:{system.site_id}"
