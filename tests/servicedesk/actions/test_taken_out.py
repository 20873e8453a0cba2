"""A plate that was taken out of a pond is nobody's matter there any more."""

import pytest

from customers.models import Ownership, SignedLink
from equipment.kinds import PositionKind, PositionUse
from servicedesk.actions.matters import NotTheirs, matter_of
from servicedesk.forms.closing import ClosingForm
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db


def plate(system, water, **fields):
    return make.position(PositionKind.DIFFUSER, system=system, pond=water, **fields)


def test_closing_asks_at_the_waters_in_which_plates_lie_now():
    closing = Closing()
    here, before = (make.pond(site=closing.site, name=name) for name in ("Upper", "Lower"))
    plate(closing.system, here, label="D1")
    plate(closing.system, here, label="D2", use=PositionUse.PARKED)
    plate(closing.system, before, label="D3", use=PositionUse.REMOVED)

    form = ClosingForm(
        closing.ticket, [closing.ticket], user=closing.dario, now=NOW, today=NOW.date()
    )

    assert form.ponds == [here]


@pytest.mark.parametrize(("use", "theirs"), [("in_use", True), ("removed", False)])
def test_owner_of_a_pond_answers_for_a_system_only_while_a_plate_of_it_lies_there(use, theirs):
    farm, neighbour = make.contact(), make.contact(name="Wen Sorrel")
    site = make.site(owner=farm.customer)
    system, water = make.system(site=site), make.pond(site=site)
    Ownership.objects.create(customer=neighbour.customer, pond=water, from_on=make.LONG_AGO)
    plate(system, water, use=PositionUse(use))
    link = SignedLink(about=f"system:{system.pk}", contact=neighbour)

    if theirs:
        assert matter_of(link, now=NOW).system == system
    else:
        with pytest.raises(NotTheirs):
            matter_of(link, now=NOW)
