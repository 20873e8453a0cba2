"""Records of handing over: begun, closed, listed, and what follows a change or a move."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from customers.kinds import Role
from equipment.kinds import PositionKind, SystemState
from equipment.models import Configuration, ConfigurationLine, Position, System
from servicedesk.models import Commissioning
from tests import make
from tests.servicedesk.actions.commissioning import handing_over as hand
from tests.servicedesk.actions.commissioning.handing_over import NOW
from tests.servicedesk.views.commissioning.pages import address, text

pytestmark = pytest.mark.django_db


def test_one_button_puts_a_complete_system_into_service(client, dario, system):
    hand.complete(system)
    page = client.get(address(system))
    assert "Put it into service" in text(page)

    at = timezone.localtime(NOW, page.context["sheet"].zone)
    System.objects.update(installed_on=hand.INSTALLED_ON)
    answer = client.post(
        f"{address(system)}in-service/",
        {"at": f"{at:%Y-%m-%dT%H:%M}", "state": SystemState.RUNNING},
    )

    assert answer.status_code == 302
    record = Commissioning.objects.get()
    assert (record.in_service_by, record.in_service_at) == (dario, NOW)
    assert "by the word of Dario Lund" in text(client.get(address(system)))
    assert client.get(address(system, "site")).url == address(system)


def test_incomplete_system_is_not_put_into_service_by_whoever_knows_the_address(
    client, dario, system
):
    answer = client.post(
        f"{address(system)}in-service/", {"at": "2026-06-01T12:00", "state": "running"}
    )

    assert answer.status_code == 400
    assert Commissioning.objects.open().exists()


def test_office_plans_a_system_by_the_name_of_its_pond(client, dario):
    client.force_login(make.user(Role.OFFICE))
    pond = make.pond(name="Sedge Pond")
    sent = {"key": "A-7", "name": "", "installed_on": "2027-04-01", "pond": "sedge pond"}

    answer = client.post("/systems/new/", sent)

    system = System.objects.get(key="A-7")
    assert answer.url == address(system)
    assert (system.name, system.site) == ("Sedge Pond", pond.site)
    twin = make.pond(name="Sedge Pond")
    answer = client.post("/systems/new/", sent | {"key": "A-8"})
    assert f"{twin.key} (" in text(answer)


def test_system_of_the_register_is_handed_over_once_somebody_begins_the_record(client, dario):
    old = make.system(state=SystemState.INSTALLED)
    running = make.system()

    assert "Begin the record" not in text(client.get(address(old)))  # a technician looks
    client.force_login(make.manager())
    assert "without a commissioning record" in text(client.get(address(running)))
    client.post(f"{address(old)}begin/")
    client.post(f"{address(running)}begin/")

    assert [record.system for record in Commissioning.objects.all()] == [old]


def test_lists_lead_to_what_is_handed_over(client, dario, system):
    client.force_login(make.manager())

    assert address(system) in text(client.get("/systems/"))
    first = text(client.get("/"))
    assert "Being handed over" in first
    assert "things are missing before it may go into service" in first
    assert address(system) in text(client.get(f"/systems/{system.pk}/"))


def test_first_page_asks_as_much_for_one_handing_over_as_for_ten(client, dario, system):
    client.force_login(make.manager())

    def asked():
        with CaptureQueriesContext(connection) as queries:
            assert client.get("/").status_code == 200
        return len(queries)

    hand.complete(system, leaving_out=[hand.papers])
    one = asked()
    for number in range(9):
        hand.complete(hand.planned(key=f"B-{number}"), leaving_out=[hand.papers])

    assert asked() == one <= 30


def test_record_asks_no_more_for_ten_plates_than_for_one(client, dario, system):
    hand.complete(system)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address(system)).status_code == 200
        return len(queries)

    one = asked()
    sheet = hand.read(system)
    for number in range(9):
        plate = make.position(
            PositionKind.DIFFUSER, system=system, pond=sheet.ponds[0], label=f"E{number}"
        )
        ConfigurationLine.objects.create(
            configuration=sheet.configuration, position=plate, depth_m=2
        )

    assert asked() == one <= 30


def test_office_begins_a_configuration_and_leaves_alone_what_did_not_change(client, dario, system):
    client.force_login(make.manager())
    hand.lines(system, by=dario, now=NOW)
    plate = hand.read(system).plates[0]
    url = f"/systems/{system.pk}/configuration/"
    form = client.get(url).context["form"]
    sent = {"name": "winter shallow", "because": "plates raised", "settles": "on"}
    sent["from_on"] = f"{hand.INSTALLED_ON + timedelta(days=3):%Y-%m-%d}"
    for name in form.ASKED:
        field = form[f"{name}_{plate.pk}"]
        widget = field.field.widget
        if hasattr(widget, "decompress"):
            parts = widget.decompress(field.value())
            sent |= {f"{field.html_name}_{n}": part for n, part in enumerate(parts)}
        else:
            sent[field.html_name] = field.value()
    sent |= {f"in_use_{plate.pk}": "on", f"check_valve_at_{plate.pk}": "diffuser"}

    refused = client.post(url, sent)
    assert "Nothing differs" in text(refused)
    answer = client.post(url, sent | {f"depth_m_{plate.pk}_0": "4"})

    assert answer.status_code == 302
    new = Configuration.objects.latest("from_on").lines.get()
    assert (new.depth_m, new.line_length_m, new.bore_m) == (pytest.approx(1.2192), 60.0, 0.0159)


def test_office_moves_a_system_and_both_ponds_tell_where_it_is(client, dario):
    client.force_login(make.manager())
    system = make.system()
    old, new = make.pond(site=system.site, name="Mill Pond"), make.pond(name="Heron Pond")
    make.position(PositionKind.DIFFUSER, system=system, pond=old, label="D1")
    at = timezone.localtime(timezone.now() - timedelta(hours=3), ZoneInfo(system.site.time_zone))

    answer = client.post(
        f"/systems/{system.pk}/move/", {"pond": new.key, "at": f"{at:%Y-%m-%dT%H:%M}"}
    )

    assert answer.url == address(system)
    assert Position.objects.lying().get(system=system).pond == new
    assert system.key in text(client.get(f"/ponds/{new.pk}/"))
    assert '<span class="water">Heron Pond</span>' in text(client.get(f"/systems/{system.pk}/"))
