"""The office prints labels; a scan shows our people the system, and anybody else whom to call."""

import io
import re
from datetime import timedelta

import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from customers.kinds import Role
from servicedesk.actions import labels
from servicedesk.models import Alarm, Label, LabelReport, OfficeTask
from tests import make
from tests.servicedesk.test_codes import picture
from tests.servicedesk.test_photos import phone_photo
from tests.servicedesk.views.phone_day import today

pytestmark = pytest.mark.django_db


@pytest.fixture
def system():
    make.firm(emergency_phone="911")
    make.task(slug="repair_fish", name="Restore air", harm="fish")
    owner = make.customer(name="Halvorsen")
    site = make.site(
        owner=owner,
        name="Secret Lane 4",
        street="4 Secret Lane",
        town="Hidden Falls",
        way_in="Left of the barn",
        region=make.region(name="North"),
    )
    return make.system(key="A-17", name="Cabinet by the oak", site=site)


@pytest.fixture
def office(client):
    client.force_login(make.manager(email="priya@example.com"))
    return client


@pytest.fixture
def label(system):
    return labels.make_labels([system.pk], now=timezone.now())[system.pk]


def address(label):
    return reverse("label_page", args=[label.code])


def sheet(client, *systems, **fields):
    return client.post(
        "/labels/sheet/", {"system": [system.pk for system in systems], "sheet": "a4-21"} | fields
    )


def send(client, label, **fields):
    page = client.get(address(label))
    key = re.search(r'name="uuid" value="([^"]+)"', page.content.decode())[1]
    return client.post(address(label), {"uuid": key, "sign": "noise"} | fields)


def test_a_printed_label_says_firm_number_and_phone_and_its_code_leads_to_its_page(office, system):
    page = sheet(office, system).content.decode()
    for words in ["Alder &amp; Rill Pond Air", "A-17", "+1 202 555 0100", "Scan or call"]:
        assert words in page
    assert "Secret Lane" not in page[page.index("sheet a4-21") :]
    (found,) = zxingcpp.read_barcodes(picture(page[page.index("<svg viewBox") :]))
    assert found.text.endswith(address(Label.objects.get()))


def test_nothing_chosen_is_said(office, system):
    answer = office.post("/labels/sheet/", {"sheet": "a4-21"}, follow=True)
    assert "Choose at least one system." in answer.content.decode()
    assert not Label.objects.exists()


def test_all_that_are_not_printed_yet_are_laid_out_and_then_marked(office, system, label):
    other = make.system(key="B-2")
    labels.mark_printed([label.code], now=timezone.now())
    page = sheet(office, which="all", query="label=none")
    assert page.context["count"] == 1
    assert "B-2" in page.content.decode()
    office.post("/labels/printed/", {"codes": page.context["codes"]})
    assert Label.objects.get(system=other).printed_at
    assert "No system fits" in office.get("/labels/?label=none").content.decode()


def test_the_list_is_narrowed_by_region_and_words(office, system):
    make.system(key="B-2")
    region = system.site.region_id
    for query in [f"region={region}", "text=secret lane"]:
        page = office.get(f"/labels/?{query}").content.decode()
        assert "A-17" in page
        assert "B-2" not in page


def test_many_labels_take_as_many_queries_as_one(office, system, django_assert_max_num_queries):
    many = [system, *(make.system() for _ in range(30))]
    with django_assert_max_num_queries(12):
        assert sheet(office, *many).context["count"] == 31
    with django_assert_max_num_queries(12):
        office.get("/labels/")


def test_a_new_code_ends_the_old_label(office, system, label):
    office.get(f"/labels/{system.pk}/replace/")
    assert Label.objects.standing().get() == label  # looking changed nothing
    office.post(f"/labels/{system.pk}/replace/")
    assert office.get(address(label)).status_code == 404
    assert office.get(address(Label.objects.standing().get())).status_code == 302


@pytest.mark.parametrize("role", list(Role))
def test_our_people_come_to_the_system(client, system, label, role):
    client.force_login(make.user(role))
    assert client.get(address(label)).url == f"/systems/{system.pk}/"


def test_a_technician_whose_stop_it_is_today_comes_to_his_stop(client, system, label):
    technician = make.technician(shifts=False)
    route = make.route(technician=technician, day=today())
    stop = make.stop(site=system.site, route=route)
    client.force_login(technician.user)
    assert client.get(address(label)).url == reverse("day_stop", args=[stop.uuid])


def test_a_code_typed_in_small_letters_opens_too(client, label):
    assert client.get(address(label).lower()).status_code == 200


def test_a_stranger_reads_whom_to_call_and_nothing_of_owner_place_or_way_in(client, label):
    page = client.get(address(label)).content.decode()
    for words in ["+1 202 555 0100", "A-17", "911", "Do not go in after them"]:
        assert words in page
    for words in ["Halvorsen", "Secret", "Hidden", "barn", "oak", "North"]:
        assert words not in page


def test_looking_records_nothing(client, label):
    client.get(address(label))
    client.head(address(label))
    assert not LabelReport.objects.exists()
    assert not OfficeTask.objects.exists()


def test_a_firm_without_an_emergency_number_says_which_to_call(client, label):
    make.firm(emergency_phone="")
    assert "that of the country you are in" in client.get(address(label)).content.decode()


def test_a_report_is_answered_with_what_to_do_and_stands_on_the_first_page(client, label):
    manager = make.manager(email="priya@example.com")
    answer = send(client, label, sign="fish_gasping", words="All at the top", phone="555")
    page = client.get(answer.url).content.decode()
    assert "Change nothing on the system. Call us now." in page
    assert Alarm.objects.get().to_address == "priya@example.com"
    client.force_login(manager)
    first = client.get("/").content.decode()
    assert "Unverified, from the label of A-17" in first
    assert "All at the top" in first


def test_a_report_without_a_choice_is_asked_for_it(client, label):
    answer = client.post(address(label), {"words": "Help"})
    assert answer.status_code == 422
    assert "Help" in answer.content.decode()
    assert not LabelReport.objects.exists()


def test_a_photo_loses_where_it_was_taken_and_only_our_people_see_it(
    client, label, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path
    file = io.BytesIO(phone_photo())
    file.name = "pond.jpg"
    send(client, label, photo=file)
    photo = LabelReport.objects.get().photo
    with photo.file.open() as kept, Image.open(kept) as image:
        assert dict(image.getexif()) == {}
    assert client.get(reverse("photo", args=[photo.uuid])).status_code == 302
    client.force_login(make.manager())
    assert reverse("photo", args=[photo.uuid]) in client.get("/").content.decode()


def test_a_file_that_is_no_photo_is_refused_and_the_words_stay(client, label):
    file = io.BytesIO(b"not a picture")
    file.name = "pond.jpg"
    answer = send(client, label, photo=file, words="It hums")
    assert answer.status_code == 422
    assert "It hums" in answer.content.decode()


def test_the_sixth_report_within_an_hour_is_asked_to_call(client, label):
    for _ in range(5):
        assert send(client, label).status_code == 302
    answer = send(client, label)
    assert answer.status_code == 429
    assert "was not kept" in answer.content.decode()
    LabelReport.objects.update(sent_at=timezone.now() - timedelta(hours=2))
    assert send(client, label).status_code == 302


def test_the_address_of_a_sender_is_not_kept(client, label):
    send(client, label)
    assert "127.0.0.1" not in LabelReport.objects.get().sender


def test_an_unknown_code_says_whom_to_call(client, label):
    answer = client.get("/q/NOTACODE22/")
    assert answer.status_code == 404
    assert "+1 202 555 0100" in answer.content.decode()


def test_a_report_is_shown_under_its_own_label_alone(client, label, system):
    answer = send(client, label)
    other = labels.make_labels([make.system().pk], now=timezone.now())
    code = next(iter(other.values())).code
    assert client.get(answer.url.replace(label.code, code)).status_code == 404


def test_a_form_from_elsewhere_is_refused(label):
    client = Client(enforce_csrf_checks=True)
    assert client.post(address(label), {"sign": "noise"}).status_code == 403
