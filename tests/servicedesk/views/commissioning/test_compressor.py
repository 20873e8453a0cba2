"""The compressor of a handing over: new in the register, from the shelf, or elsewhere."""

import pytest

from equipment.models import Component
from tests import make
from tests.servicedesk.actions.commissioning import handing_over as hand
from tests.servicedesk.views.commissioning.pages import send, text

pytestmark = pytest.mark.django_db


def test_new_model_of_compressor_joins_the_register(client, dario, system):
    answer = send(
        client,
        system,
        "compressor",
        model="",
        maker="Quillworks",
        model_name="V-3",
        compressor_kind="vane",
        pressure_max_pa_0="10",
        serial="V77",
        point_no_hour_meter="on",
    )

    assert answer.status_code == 302
    unit = hand.read(system).compressor.component
    assert (str(unit.type), unit.serial) == ("Quillworks V-3", "V77")
    assert unit.type.pressure_max_pa == pytest.approx(68_948, abs=1)


def test_unit_from_the_shelf_is_the_same_unit_with_its_hours(client, dario, system):
    kind = hand.read(system).compressor.component.type
    shelf = make.component(type=kind, serial="P900", hours_before=4200)

    send(client, system, "compressor", serial="p900", hours_before="4200")

    assert hand.read(system).compressor.component == shelf
    assert Component.objects.filter(type=kind).count() == 1


def test_number_that_sits_elsewhere_is_asked_about(client, dario, system):
    kind = hand.read(system).compressor.component.type
    make.fit(make.component(type=kind, serial="P901"), make.position())

    answer = send(client, system, "compressor", serial="P901")

    assert "Two units of one number do exist" in text(answer)
