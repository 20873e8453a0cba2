"""What a visit said wrongly is put right with a reason; stock, ticket and report follow."""

from datetime import timedelta
from uuid import uuid4

import pytest

from customers.models import Trail
from servicedesk.actions.stock import count_stock, stock_now
from servicedesk.actions.visits.corrections import (
    Corrected,
    CorrectionRefused,
    DefectSaid,
    correct_visit,
)
from servicedesk.kinds import DefectSign
from servicedesk.models import Defect, PartUsed, Ticket, Visit
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=2)
DEFECT = {"defects.1.sign": "leak", "defects.1.text": "At the manifold."}


@pytest.fixture
def closing():
    closing = Closing()
    van = closing.dario.technician
    before = make.MORNING - timedelta(hours=1)
    count_stock(van, {closing.part: 5}, key=uuid4(), by=closing.dario, at=before, now=before)
    closing.send(**DEFECT)
    Visit.objects.update(report_owed_at=None)
    return closing


def put_right(right, because="He counted again."):
    return correct_visit(Visit.objects.get(), right, because=because, by=make.manager(), now=LATER)


def on_van(closing):
    return stock_now()[0][closing.dario.technician.pk, closing.part.pk]


@pytest.mark.parametrize(("many", "left"), [(3, 2), (0, 5)])
def test_a_part_that_was_counted_wrong_is_put_right_and_stock_and_report_follow(
    closing, many, left
):
    used = PartUsed.objects.get()
    assert on_van(closing) == 4

    assert put_right(Corrected(parts={used: many})) == 1

    assert on_van(closing) == left
    used.refresh_from_db()
    assert (used.quantity, used.struck_because) == (1, "He counted again.")
    assert [row.quantity for row in PartUsed.objects.standing()] == [many] * bool(many)
    assert Visit.objects.get().report_owed_at == LATER
    assert Trail.objects.get(did="corrected a part").after["because"] == "He counted again."


def test_a_part_that_was_forgotten_is_added(closing):
    gasket = make.part(number="GK-1")
    put_right(Corrected(added=(gasket, 2)))
    assert PartUsed.objects.get(part=gasket).work.ticket == closing.ticket


def test_a_defect_that_was_named_wrong_gets_the_right_name_and_the_right_ticket(closing):
    make.task(slug="repair", place_kind="system", position_kind="")
    danger = make.task(slug="repair_danger", place_kind="system", position_kind="")
    defect = Defect.objects.get()

    put_right(Corrected(defects={defect: DefectSaid(DefectSign.TRIPPING_OUTLET, "Twice.", True)}))

    new = Defect.objects.standing().get()
    assert (new.sign, new.text, new.urgent) == ("tripping_outlet", "Twice.", True)
    assert (new.seen_at, new.visit, new.mended_at) == (defect.seen_at, defect.visit, None)
    assert Ticket.objects.open().get(occasion=f"defect:{new.pk}").task == danger


def test_a_defect_that_was_none_is_struck_out_and_its_ticket_ends(closing):
    make.task(slug="repair", place_kind="system", position_kind="")
    closing.dario.refresh_from_db()
    defect = Defect.objects.get()
    put_right(Corrected(defects={defect: DefectSaid(DefectSign.NOISE, "", False)}))
    newer = Defect.objects.standing().get()
    ticket = Ticket.objects.open().get(occasion=f"defect:{newer.pk}")

    put_right(Corrected(defects={newer: None}), because="It was the pump next door.")

    ticket.refresh_from_db()
    assert (ticket.end, Defect.objects.standing().count()) == ("not_needed", 0)
    assert "the pump next door" in ticket.end_note


@pytest.mark.parametrize(
    ("many", "because", "says"), [(3, " ", "Say why"), (1, "No reason.", "Nothing is different")]
)
def test_without_a_reason_or_a_difference_nothing_is_changed(closing, many, because, says):
    with pytest.raises(CorrectionRefused, match=says):
        put_right(Corrected(parts={PartUsed.objects.get(): many}), because)
    assert Trail.objects.filter(did__startswith="corrected").count() == 0
