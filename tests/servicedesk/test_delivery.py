"""What goes over the line is small, and nothing goes twice that a browser has."""

import gzip

import pytest
from django.http import HttpResponse
from django.urls import reverse

from servicedesk.middleware import SmallOnTheLine

pytestmark = pytest.mark.django_db
STYLE = "/static/servicedesk/sheet.css"
TAKES = {"Accept-Encoding": "gzip, deflate, br"}


@pytest.fixture(autouse=True)
def files_as_they_stand_in_the_program(settings):
    """With workers they are gathered by `prepare`, which no test has called."""
    settings.WHITENOISE_USE_FINDERS = True


def body(answer):
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def test_page_goes_packed_to_a_browser_that_unpacks_and_plain_to_any_other(client):
    plain = client.get(reverse("sign_in"))
    packed = client.get(reverse("sign_in"), headers=TAKES)

    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert len(packed.content) < 0.7 * len(plain.content)
    assert b"</html>" in gzip.decompress(packed.content)
    assert "Accept-Encoding" in plain.headers["Vary"]


def test_style_sheet_goes_packed_and_is_not_sent_again_while_it_is_the_same(client):
    plain = body(client.get(STYLE))
    packed = client.get(STYLE, headers=TAKES)
    assert gzip.decompress(body(packed)) == plain

    again = client.get(STYLE, headers=TAKES | {"If-None-Match": packed.headers["ETag"]})
    other = client.get(STYLE, headers=TAKES | {"If-None-Match": 'W/"of-yesterday"'})

    assert (again.status_code, body(again)) == (304, b"")
    assert (other.status_code, gzip.decompress(body(other))) == (200, plain)


def test_picture_goes_as_it_is_with_its_length(client):
    picture = client.get("/static/servicedesk/icon-512.png", headers=TAKES)

    assert "Content-Encoding" not in picture.headers
    assert int(picture.headers["Content-Length"]) == len(body(picture))


def test_part_of_a_file_goes_as_it_is(rf):
    part = HttpResponse(b"a" * 500, status=206, content_type="text/css")
    sent = SmallOnTheLine(lambda request: part)(rf.get(STYLE, headers=TAKES))

    assert sent.content == b"a" * 500


@pytest.mark.parametrize(
    ("kind", "packed"),
    [
        ("text/calendar; charset=utf-8", True),
        ("application/json", True),
        ("application/gpx+xml", True),
        ("image/svg+xml", True),
        ("image/jpeg", False),
        ("application/pdf", False),
        ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", False),
    ],
)
def test_text_is_packed_and_what_is_packed_already_is_not(kind, packed):
    assert bool(SmallOnTheLine.PACKED.match(kind)) == packed
