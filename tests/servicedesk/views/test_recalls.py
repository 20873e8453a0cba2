"""The sheet of a recall: who opens it, what it says of each unit, and its copy for others."""

import csv
import io
import uuid
from datetime import UTC, datetime
from urllib.parse import urlsplit

import pytest
from django.utils import timezone

from customers.kinds import Role
from customers.models import Ownership
from equipment.kinds import ComponentState
from servicedesk.actions import recalls
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.emails import links
from servicedesk.models import OwnerAnswer, RecallCampaign, RecallUnit, Reminder
from servicedesk.registers.sheets import plain
from tests import make

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 7, 6, 15, tzinfo=UTC)


@pytest.fixture
def model():
    make.firm()
    load_task_defaults()
    return make.compressor_type(model="P60")


def fitted(model, serial="4471"):
    owner = make.contact()
    unit = make.component(type=model, serial=serial)
    make.fit(unit, make.position(system=make.system(site=make.site(owner=owner.customer))))
    return unit


def opened(model, **fields):
    start = {"name": "Cracked covers", "notice": "letter of 2 July", "what_to_do": "New cover."}
    start |= {"types": [model], "by": make.manager(), "now": NOW}
    return recalls.open_recall(**start | fields)


def typed(model, **fields):
    start = {"name": "Cracked covers", "notice": "letter", "what_to_do": "New cover."}
    return start | {"types": [model.pk], "serial_from": "4400", "serial_to": "4499"} | fields


def test_manager_sees_how_many_are_meant_before_anybody_is_written_to(client, model):
    fitted(model)
    make.component(type=model, serial="", state=ComponentState.IN_SHOP)
    client.force_login(make.manager())

    page = client.post("/recalls/new/", typed(model, look="yes")).content.decode()

    assert "2 units are meant. Nothing is kept yet." in page
    assert "in the shop: 1" in page
    assert "cannot be read: 1" in page
    assert not RecallCampaign.objects.exists()
    answer = client.post("/recalls/new/", typed(model, open="yes"))
    assert answer.url == f"/recalls/{RecallCampaign.objects.get().pk}/"
    assert Reminder.objects.count() == 1


def test_refused_recall_keeps_what_was_typed(client, model):
    client.force_login(make.manager())

    answer = client.post("/recalls/new/", typed(model, serial_to="4300", look="yes"))

    assert answer.status_code == 400
    assert "The range ends before it begins." in answer.content.decode()
    assert 'value="Cracked covers"' in answer.content.decode()


@pytest.mark.parametrize("role", list(Role))
def test_all_staff_read_recalls_and_only_the_manager_opens_and_closes_them(client, model, role):
    fitted(model)
    campaign, unit = opened(model), RecallUnit.objects.get()
    client.force_login(make.user(role))
    manager, office = role == Role.MANAGER, role != Role.TECHNICIAN

    for address in ("/recalls/", f"/recalls/{campaign.pk}/", f"/recalls/{campaign.pk}/units.csv"):
        assert client.get(address).status_code == 200
    assert client.get("/recalls/new/").status_code == (200 if manager else 403)
    assert client.post("/recalls/new/", typed(model)).status_code == (200 if manager else 403)
    closing = client.post(f"/recalls/{campaign.pk}/close/")
    assert closing.status_code == (302 if manager else 403)
    for what in ("outcome", "serial"):
        answer = client.post(f"/recalls/units/{unit.pk}/{what}/", {})
        assert answer.status_code == (302 if office else 403)
    unit.refresh_from_db()
    assert unit.handled_at is None


def test_office_writes_down_what_became_of_a_unit(client, model):
    make.component(type=model, serial="4410", state=ComponentState.SPARE)
    campaign, unit = opened(model), RecallUnit.objects.get()
    client.force_login(make.user(Role.OFFICE))

    client.post(f"/recalls/units/{unit.pk}/outcome/", {"outcome": "mended", "note": "new cover"})

    page = client.get(f"/recalls/{campaign.pk}/").content.decode()
    assert "Mended" in page
    assert "new cover" in page
    again = client.post(f"/recalls/units/{unit.pk}/outcome/", {"outcome": "replaced"}, follow=True)
    assert "Nothing is changed" in again.content.decode()


def test_sheet_for_a_spreadsheet_names_every_unit_and_computes_nothing(client, model):
    fitted(model, "=4400+71")
    campaign = opened(model)
    client.force_login(make.manager())

    answer = client.get(f"/recalls/{campaign.pk}/units.csv")

    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0][2] == "serial"
    assert rows[1][2] == "'=4400+71"
    assert rows[1][4] == "installed"
    assert "waiting" in rows[1][11]


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1"])
def test_cell_that_would_be_computed_becomes_text(cell):
    assert plain(cell) == f"'{cell}"


def test_owner_of_a_pond_sold_apart_says_that_the_unit_was_replaced_and_the_office_sees_it(
    client, model
):
    old, new = make.contact(), make.contact(name="Wen Sorrel")
    site = make.site(owner=old.customer)
    system = make.system(site=site)
    pond = make.pond(site=site, name="Mill Pond")
    make.position("diffuser", system=system, pond=pond)
    Ownership.objects.create(customer=new.customer, pond=pond, from_on=make.LONG_AGO)
    make.fit(make.component(type=model, serial="4471"), make.position(system=system))
    opened(model)
    address = links.for_recall(Reminder.objects.get(), now=timezone.now())["already_replaced"]
    address = urlsplit(address).path

    page = client.get(address).content.decode()
    assert "Mill Pond" in page
    assert not OwnerAnswer.objects.exists()
    given = {"uuid": uuid.uuid4(), "words": "by the shop in town"}
    said = client.post(address, given, follow=True).content.decode()

    assert "You say that it has been replaced already." in said
    client.force_login(make.manager())
    first_page = client.get("/").content.decode()
    assert "says that the unit has been replaced already" in first_page
    assert "by the shop in town" in first_page


@pytest.mark.parametrize("units", [1, 3])
def test_sheet_reads_the_database_as_often_for_one_unit_as_for_three(
    client, model, units, django_assert_max_num_queries
):
    for number in range(units):
        fitted(model, f"44{number:02d}")
    campaign = opened(model)
    client.force_login(make.manager())

    with django_assert_max_num_queries(11):
        client.get(f"/recalls/{campaign.pk}/")
    with django_assert_max_num_queries(6):
        client.get("/recalls/")
