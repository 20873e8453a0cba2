"""What the server lets a phone keep, and what it tells the phone of itself."""

import gzip
import io
import json
import uuid
from datetime import timedelta

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from servicedesk import offline
from servicedesk.models import Photo, Visit
from tests import make
from tests.servicedesk.views.phone_day import Day, Fields, text, today
from tests.servicedesk.views.test_phone_sends import Sent

pytestmark = pytest.mark.django_db
MOST_BYTES = 25_000  # of all page scripts, packed


@pytest.fixture
def day(client):
    return Day(client, stops=2)


def pages(day):
    stops = [reverse("day_stop", args=[stop.uuid]) for stop in day.stops]
    return ["/day/", *stops, day.address, f"{day.address}not-done/"]


def picture():
    made = io.BytesIO()
    Image.new("L", (40, 30), 120).save(made, "JPEG")
    return made.getvalue()


def test_pages_of_todays_own_route_may_be_kept_until_the_night_after(client, day):
    for address in pages(day):
        user, on, seconds = client.get(address)[offline.KEEP].split("/")
        assert (int(user), on) == (day.dario.pk, f"{today()}"), address
        assert 4 * 3600 <= int(seconds) <= 28 * 3600


def test_another_day_and_another_persons_day_are_not_kept(client, day):
    on = (today() - timedelta(days=1)).isoformat()
    assert offline.KEEP not in client.get("/day/", {"on": on})
    client.force_login(make.manager())
    for address in pages(day):
        assert offline.KEEP not in client.get(address), address
    day.route.day = today() - timedelta(days=1)
    day.route.save()
    client.force_login(day.dario)
    assert offline.KEEP not in client.get(reverse("day_stop", args=[day.stop.uuid]))


def test_page_that_carries_a_message_is_not_kept_and_one_fetched_to_be_kept_takes_none(client, day):
    client.post(day.address, day.filled())

    kept = client.get("/day/", headers={offline.KEEPING: "yes"})
    assert offline.KEEP in kept
    assert "1 ticket closed." not in text(kept)
    read = client.get("/day/")
    assert "1 ticket closed." in text(read)
    assert offline.KEEP not in read


def test_day_names_every_page_that_a_pond_without_signal_will_need(client, day):
    asked = client.get("/day/").context["keep"]

    assert set(asked) >= set(pages(day))
    assert [address for address in asked if client.get(address).status_code != 200] == []


def test_worker_names_the_files_and_changes_with_them(client, day, monkeypatch):
    worker = client.get("/day/worker.js")
    assert worker["Content-Type"].startswith("text/javascript")
    assert "no-cache" in worker["Cache-Control"]
    named = json.loads(text(worker).split("ASSETS = ")[1].split(";\n")[0])
    page = text(client.get("/day/"))
    assert [
        address for address in named if address.endswith("icon.svg") or address in page
    ] == named

    monkeypatch.setattr(offline, "edition", lambda: "another")
    assert client.get("/day/worker.js").content != worker.content


def test_worker_and_manifest_hold_nothing_of_the_firms_ponds_and_need_no_session(day):
    stranger = Client()
    manifest = stranger.get("/day/app.webmanifest")

    assert manifest.json()["start_url"] == "/day/"
    for icon in manifest.json()["icons"]:
        name = icon["src"].split("?")[0].removeprefix("/static/")
        with Image.open(finders.find(name)) as image:
            assert icon["sizes"] == "{}x{}".format(*image.size)
    for page in (manifest, stranger.get("/day/worker.js")):
        assert page.status_code == 200
        assert "Quill Mere" not in text(page)


def test_session_says_who_sends_and_with_what_token_and_tells_one_who_left_apart(day):
    phone = Client(enforce_csrf_checks=True)
    phone.force_login(day.dario)
    says = phone.get("/day/session/").json()
    assert says["user"] == day.dario.pk
    assert abs(timezone.now() - timezone.datetime.fromisoformat(says["now"])) < timedelta(minutes=1)

    sent = json.dumps(Sent(day).payload)
    kinds = {"content_type": "application/json"}
    assert phone.post("/day/visits/", sent, **kinds).status_code == 403
    taken = phone.post("/day/visits/", sent, headers={"X-CSRFToken": says["token"]}, **kinds)
    assert taken.status_code == 201

    assert Client().get("/day/session/").status_code == 401
    day.dario.is_active = False
    day.dario.save()
    assert phone.get("/day/session/").status_code == 403


def test_closing_of_an_earlier_format_is_understood_and_of_a_later_one_kept_waiting(day):
    sent = Sent(day)
    sent.payload["format"] = 99
    assert sent.post().status_code == 422
    assert Visit.objects.count() == 0

    sent.payload["format"] = 1
    assert sent.post().status_code == 201
    del sent.payload["format"]  # the first phones named none
    assert sent.post().status_code == 200


def test_phone_is_told_what_became_of_each_photo(client, day):
    address = reverse("receive_photo", args=[uuid.uuid4()])

    def send(content=None, of=None, by=address):
        query = f"?visit={of or uuid.UUID(int=7)}"
        return client.post(by + query, picture() if content is None else content, "image/jpeg")

    first, again = send(), send()
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["photo"] == again.json()["photo"] == address.split("/")[-2]
    assert client.post(address, picture(), "image/jpeg").status_code == 400
    other = reverse("receive_photo", args=[uuid.uuid4()])
    refused = send(b"no picture", by=other)
    assert refused.status_code == 400
    assert "cannot be read as a photo" in refused.json()["says"]
    client.force_login(make.user(username="wen"))
    assert send().status_code == 409
    client.logout()
    assert send(by=other).status_code == 401
    assert Photo.objects.count() == 1


def test_photos_that_come_before_their_visit_join_it_but_not_somebody_elses(client, day):
    sent, own = Sent(day), uuid.uuid4()
    query = f"?visit={sent.payload['uuid']}"
    client.post(reverse("receive_photo", args=[own]) + query, picture(), "image/jpeg")
    client.force_login(make.user(username="wen"))
    other = reverse("receive_photo", args=[uuid.uuid4()])
    assert client.post(other + query, picture(), "image/jpeg").status_code == 201
    client.force_login(day.dario)

    assert sent.post().status_code == 201

    assert [photo.uuid for photo in Visit.objects.get().photos.all()] == [own]
    assert Photo.objects.count() == 2


def test_form_without_script_brings_photos_and_a_refused_one_loses_none(client, day):
    data = day.filled()
    left = f"systems.{day.ticket.system_id}.left_running"
    file = io.BytesIO(picture())
    file.name = "pond.jpg"

    refused = client.post(day.address, data | {left: "", "photos": file})
    assert refused.status_code == 400
    assert "1 photo is kept already." in text(refused)
    again = Fields(refused).data
    again.pop("photos", None)
    client.post(day.address, again | {left: "yes"})

    photo = Photo.objects.get()
    assert photo.visit == Visit.objects.get()
    shown = client.get(reverse("day_visit", args=[photo.visit.uuid]))
    assert reverse("photo", args=[photo.uuid]) in text(shown)


def test_refused_times_of_a_phone_stand_on_the_page_as_on_the_wall_at_the_site(client, day):
    data = day.filled() | {"arrived_at": "2199-06-01T12:30:00Z", "left_at": "2199-06-01T12:40:00Z"}

    page = client.post(day.address, data)

    assert page.status_code == 400
    assert 'value="2199-06-01T07:30"' in text(page)  # Chicago keeps five hours less in summer


def test_clock_that_was_off_is_shown_beside_what_the_phone_sent(client, day):
    sent = Sent(day)
    sent.payload["phone_at"] = (timezone.now() + timedelta(minutes=12)).isoformat()
    sent.post()

    page = text(client.get(reverse("day_visit", args=[sent.payload["uuid"]])))
    assert "The clock of the phone was 12 minutes off (ahead)." in page


def test_scripts_of_a_day_page_stay_small(client, day):
    names = [name for name in offline.SCRIPTS if f"/{name}" in text(client.get(day.address))]
    packed = [len(gzip.compress(offline._content(name))) for name in names]
    worker = len(gzip.compress(client.get("/day/worker.js").content))

    assert len(names) == 6
    assert sum(packed) + worker < MOST_BYTES
