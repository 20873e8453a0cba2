"""Photos of a handing over: kept, refused and shown."""

from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from servicedesk.models import Photo
from tests.servicedesk.actions.commissioning import handing_over as hand
from tests.servicedesk.views.commissioning.pages import jpeg, send, text

pytestmark = pytest.mark.django_db


def test_photo_is_kept_even_where_the_rest_of_the_page_is_wrong(client, dario, system):
    answer = send(client, system, "electrics", hours_per_day="25", photo_cabinet_open=jpeg())

    assert answer.status_code == 400
    photo = Photo.objects.get()
    assert (photo.kind, photo.by, photo.commissioning.system) == ("cabinet_open", dario, system)
    assert Path(photo.file.path).read_bytes()[:3] == b"\xff\xd8\xff"


def test_file_that_is_no_photo_is_refused_beside_its_field(client, dario, system):
    file = SimpleUploadedFile("plan.pdf", b"%PDF-1.7", "application/pdf")

    answer = send(client, system, "electrics", photo_cabinet_open=file)

    assert "as JPEG, PNG or WebP" in text(answer)
    assert not Photo.objects.exists()


def test_photo_is_shown_to_the_firms_people_alone(client, dario, system):
    photo = hand.show(system, "boil", by=dario)
    url = f"/photos/{photo.uuid}/"

    shown = client.get(url)
    assert b"".join(shown.streaming_content)[:3] == b"\xff\xd8\xff"
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert "private" in shown["Cache-Control"]
    assert shown["X-Content-Type-Options"] == "nosniff"
    client.logout()
    assert client.get(url).status_code == 302


def test_photo_whose_file_is_gone_is_not_found(client, dario, system):
    photo = hand.show(system, "boil", by=dario)
    Path(photo.file.path).unlink()

    assert client.get(f"/photos/{photo.uuid}/").status_code == 404
