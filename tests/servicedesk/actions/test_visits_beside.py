"""What a closing may say beside its ticket: other work, other people, dangers, open questions."""

from datetime import timedelta

import pytest

from customers.models import Hazard, Trail
from equipment.kinds import Moment
from equipment.models import Reading, ReadingSet
from servicedesk import access
from servicedesk.models import PartUsed, Visit, Work
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db


def test_a_task_that_nobody_had_planned_is_recorded_beside_the_planned_one():
    closing = Closing()
    check = make.task(
        slug="cabinet_check", place_kind="system", position_kind="", readings=["flow"]
    )

    closing.send(
        **{
            "extras.1.what": f"cabinet_check@system:{closing.system.pk}",
            "extras.1.note": "Vents were full of leaves.",
        }
    )

    extra = Work.objects.get(task=check)
    assert (extra.ticket, extra.system, extra.note) == (
        None,
        closing.system,
        "Vents were full of leaves.",
    )
    assert Work.objects.get(ticket=closing.ticket).outcome == "done"


def test_an_extra_task_that_another_ticket_waits_for_closes_it():
    closing = Closing()
    check = make.task(slug="cabinet_check", place_kind="system", position_kind="")
    waiting = make.ticket(at=closing.system, task=check)

    closing.send(**{"extras.1.what": f"cabinet_check@system:{closing.system.pk}"})

    waiting.refresh_from_db()
    assert waiting.end == "done"


@pytest.mark.parametrize(
    ("fields", "field", "says"),
    [
        ({"extras.1.note": "Swept."}, "extras.1.what", "Choose what you did."),
        ({"extras.1.what": "cabinet_check@system:999999"}, "extras.1", "There is no such ticket"),
        ({"hazards.1.note": "Bit me."}, "hazards.1.kind", "Choose what it is."),
        (
            {"hazards.1.kind": "dog", "hazards.1.until_on": "2001-01-01"},
            "hazards.1.until_on",
            "That day is over.",
        ),
    ],
)
def test_half_an_answer_comes_back_with_a_sentence_at_its_field(fields, field, says):
    assert says in Closing().refused(**fields)[field]


def test_whoever_was_there_too_is_named_and_may_read_the_visit():
    closing = Closing()
    wen = make.technician(user=make.user(), shifts=False).user
    gone = make.technician(user=make.user(is_active=False), shifts=False).user

    visit, _ = closing.send(**{f"helpers.{who.pk}": "yes" for who in (wen, gone, closing.dario)})

    assert list(visit.helpers.all()) == [wen]
    assert access.may_read_visit(wen, visit)
    assert not access.may_read_visit(gone, visit)


def test_a_danger_for_whoever_comes_next_is_noted_with_its_last_day_and_who_said_so():
    closing = Closing()
    until = (NOW + timedelta(days=90)).date()
    closing.send(
        **{
            "hazards.1.kind": "dog",
            "hazards.1.note": "Loose dog bit my left hand at the gate.",
            "hazards.1.until_on": until.isoformat(),
        }
    )

    hazard = Hazard.objects.get(site=closing.site)
    assert (hazard.kind, hazard.until_on) == ("dog", until)
    assert Trail.objects.get(did="hazard noted").by == closing.dario


def test_another_quantity_of_a_part_is_what_was_used():
    closing = Closing()
    closing.send(**{f"WORK__many__{closing.part.pk}": "3"})
    assert PartUsed.objects.get().quantity == 3


def measured_before(closing):
    at = make.MORNING - timedelta(days=60)
    before = ReadingSet.objects.create(
        system=closing.system, moment=Moment.AS_LEFT, taken_at=at, entered_at=at
    )
    Reading.objects.create(
        set=before, quantity="pressure", value=43_437, typed_value="6.3", typed_unit="psi"
    )


@pytest.mark.parametrize("unsure", [{"SYSTEM__left__pressure__answer": "later"}, {"away": "yes"}])
def test_an_odd_value_that_nobody_can_look_at_again_is_kept_as_doubtful(unsure):
    closing = Closing()
    measured_before(closing)

    closing.send(SYSTEM__left__pressure__typed="43.5", **unsure)

    kept = Reading.objects.latest("pk")
    assert (kept.typed_value, kept.typed_unit, kept.doubtful) == ("43.5", "psi", True)
    assert Visit.objects.count() == 1
