"""What the phone is told about the visits that it sends by itself."""

import json
import uuid

import pytest

from servicedesk.models import Visit
from tests import make
from tests.servicedesk.views.phone_day import Day

pytestmark = pytest.mark.django_db


@pytest.fixture
def day(client):
    return Day(client)


class Sent:
    """What the phone posts as JSON."""

    def __init__(self, day):
        self.day, self.ticket = day, str(day.ticket.pk)
        self.payload = {
            "uuid": str(uuid.uuid4()),
            "stop": str(day.stop.uuid),
            "works": {self.ticket: {"outcome": "done", "found": {"condition": "wet"}}},
            "systems": {
                str(day.ticket.system_id): {
                    "found_running": "yes",
                    "left_running": "yes",
                    "left": {"pressure": {"typed": "6.4", "unit": "psi"}},
                }
            },
        }

    def post(self, body=None):
        body = json.dumps(self.payload) if body is None else body
        return self.day.client.post("/day/visits/", body, content_type="application/json")


def test_the_phone_is_told_201_for_a_new_visit_and_200_for_a_known_one(day):
    sent = Sent(day)

    first, again = sent.post(), sent.post()

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["works"] == {sent.ticket: "accepted"}
    assert first.json()["visit"] == again.json()["visit"] == sent.payload["uuid"]
    assert Visit.objects.count() == 1


def test_the_phone_is_told_400_with_a_sentence_for_each_field(day):
    sent = Sent(day)
    system = str(day.ticket.system_id)
    sent.payload["systems"][system].pop("left_running")

    answer = sent.post()

    assert answer.status_code == 400
    assert list(answer.json()["faults"]) == [f"systems.{system}.left_running"]


@pytest.mark.parametrize("body", ["", "{", "[]", '"visit"', "[" * 100_000, "\x00"])
def test_the_phone_is_told_400_for_what_cannot_be_read(day, body):
    answer = Sent(day).post(body)

    assert answer.status_code == 400
    assert answer.json()["says"]


def test_the_phone_is_told_401_when_nobody_is_signed_in_and_403_for_anothers_ticket(day):
    sent = Sent(day)
    day.client.logout()
    assert sent.post().status_code == 401

    day.client.force_login(make.technician(shifts=False).user)
    answer = sent.post()
    assert answer.status_code == 403
    assert "not on your route" in answer.json()["says"]
    assert Visit.objects.count() == 0
