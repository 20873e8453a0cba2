"""The register on its page: looked over, loaded, or refused with every faulty cell."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.urls import reverse

from customers.kinds import Role
from equipment.models import System
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.registers import columns, kept
from tests import make
from tests.servicedesk.registers.sheets import csv_file, row

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(client):
    load_task_defaults()
    make.firm()
    client.force_login(make.user(Role.OFFICE))
    return client


def upload(client, content, name="register.csv"):
    return client.post(reverse("load_register"), {"file": SimpleUploadedFile(name, content)})


def test_page_describes_every_column_and_gives_the_template(office):
    page = office.get(reverse("load_register")).content.decode()

    assert [name for name in columns.NAMES if f">{name}" not in page] == []
    for kind in ["csv", "xlsx"]:
        assert office.get(reverse("register_template", args=[kind])).status_code == 200
    assert office.get("/import/template.pdf").status_code == 404


def test_faultless_file_is_looked_over_then_loaded_and_forgotten(office):
    looked = upload(office, csv_file([row()]).read())
    page = office.get(looked.url)
    assert "Would write" in page.content.decode()
    assert not System.objects.exists()

    loaded = office.post(looked.url)

    assert loaded.status_code == 302
    assert System.objects.get().key == "A1"
    assert office.post(looked.url).url == reverse("load_register")
    assert list(kept.FOLDER.iterdir()) == []


def test_faulty_file_is_answered_with_row_column_and_what_to_do(office):
    answer = upload(office, csv_file([row(), row(2, installed_on="2026-02-30")]).read())

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Row 3" in page
    assert "installed_on" in page
    assert "There is no day 2026-02-30" in page


def test_file_that_is_no_register_is_refused_with_a_sentence(office):
    answer = upload(office, b"\x89PNG\r\n\0\0", "pond.csv")

    assert answer.status_code == 422
    assert "neither a CSV nor an XLSX" in answer.content.decode()


def test_file_changed_on_the_way_is_not_loaded(office):
    looked = upload(office, csv_file([row()]).read())
    next(kept.FOLDER.iterdir()).write_bytes(csv_file([row(2)]).read())

    assert office.post(looked.url).url == reverse("load_register")
    assert not System.objects.exists()


@pytest.mark.parametrize("name", ["load_register", "register_template"])
def test_technician_loads_no_register(client, name):
    client.force_login(make.user())
    address = reverse(name, args=["csv"] if name == "register_template" else [])

    assert client.get(address).status_code == 403


def test_command_loads_a_file_and_refuses_one_with_status_2(tmp_path, capsys):
    load_task_defaults()
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_bytes(csv_file([row()]).read())
    bad.write_bytes(csv_file([row(2, latitude="north")]).read())

    out = io.StringIO()
    call_command("import_register", good, "--dry-run", stdout=out)
    assert not System.objects.exists()
    call_command("import_register", good, stdout=out)
    with pytest.raises(CommandError, match=r"row 2, latitude: .north. is not a number") as refused:
        call_command("import_register", bad, stdout=out)

    assert System.objects.get().key == "A1"
    assert refused.value.returncode == 2
    with pytest.raises(CommandError, match="cannot be opened"):
        call_command("import_register", tmp_path / "none.csv")
