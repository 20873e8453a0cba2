"""Photos of a visit: each is kept once, before or after its visit, and only by who made it."""

import io
import uuid
from datetime import timedelta

import pytest
from PIL import Image

from servicedesk.actions.visits.payload import NotYours
from servicedesk.actions.visits.photos import keep_visit_photo, photo_key, tell_of_lost_photos
from servicedesk.models import OfficeTask, Photo, Visit
from servicedesk.photos import NotAPhoto
from tests import make
from tests.servicedesk.actions.closings import NOW, Closing

pytestmark = pytest.mark.django_db


def picture(shade=120):
    made = io.BytesIO()
    Image.new("L", (40, 30), shade).save(made, "JPEG")
    return made.getvalue()


def send(user, key, of, content=None):
    content = picture() if content is None else content
    file = io.BytesIO(content)
    return keep_visit_photo(key, of, file, len(content), by=user, now=make.MORNING)


def visit(user, key):
    return Visit.objects.create(
        uuid=key,
        site=make.site(),
        technician=user,
        arrived_at=make.MORNING,
        received_at=make.MORNING,
    )


def test_photo_that_comes_after_its_visit_joins_it_at_once():
    dario, of = make.user(), uuid.uuid4()
    made = visit(dario, of)

    photo, _ = send(dario, uuid.uuid4(), of)

    assert list(made.photos.all()) == [photo]


def test_photo_sent_again_is_kept_once_and_leaves_no_second_file():
    dario, of, key = make.user(), uuid.uuid4(), uuid.uuid4()

    first, again = send(dario, key, of), send(dario, key, of, picture(200))

    assert (first[1], again[1]) == (True, False)
    assert first[0] == again[0] == Photo.objects.get()


def test_photo_for_somebody_elses_visit_or_under_his_number_is_refused():
    dario, wen, of, key = make.user(), make.user(username="wen"), uuid.uuid4(), uuid.uuid4()
    visit(dario, of)
    send(dario, key, of)

    for number in (uuid.uuid4(), key):
        with pytest.raises(NotYours):
            send(wen, number, of)
    assert Photo.objects.count() == 1


def test_what_is_no_photo_is_refused_and_leaves_nothing():
    with pytest.raises(NotAPhoto):
        send(make.user(), uuid.uuid4(), uuid.uuid4(), b"no picture")
    assert Photo.objects.count() == 0


def test_same_picture_of_a_form_sent_twice_is_one_photo_and_another_is_another():
    of = uuid.uuid4()
    keys = [photo_key(of, io.BytesIO(picture(shade))) for shade in (120, 120, 130)]

    assert keys[0] == keys[1] != keys[2]
    assert photo_key(uuid.uuid4(), io.BytesIO(picture())) != keys[0]


def test_photo_whose_visit_never_comes_is_told_to_the_office_once_and_until_it_comes():
    closing, of = Closing(), uuid.uuid4()
    send(closing.dario, uuid.uuid4(), of)
    assert tell_of_lost_photos(now=NOW + timedelta(days=2)) == 0

    late = NOW + timedelta(days=3)
    assert (tell_of_lost_photos(now=late), tell_of_lost_photos(now=late)) == (1, 0)
    task = OfficeTask.objects.get(handled_at=None)
    assert str(closing.dario) in task.text

    closing.send(uuid=str(of), now=late)
    task.refresh_from_db()
    assert task.handled_note == "The visit came."
    assert tell_of_lost_photos(now=late) == 0
