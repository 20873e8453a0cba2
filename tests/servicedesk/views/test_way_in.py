"""Hours in which an owner is there, as the office enters them."""

from datetime import time

import pytest
from django.urls import reverse

from customers.models import OwnerHours
from tests import make
from tests.servicedesk.actions.routes import weeks

pytestmark = pytest.mark.django_db
WAY = {"act": "way", "way_in": "", "vehicle_note": "", "notice_h": "0", "power_from": ""}


@pytest.fixture
def site(client):
    weeks.firm()
    client.force_login(make.manager())
    return make.site()


def send(client, site, **hours):
    return client.post(reverse("way_in", args=[site.pk]), WAY | hours)


def kept(site):
    rows = OwnerHours.objects.filter(site=site).order_by("weekday", "comes")
    return [(row.weekday, row.comes, row.leaves) for row in rows]


def test_owner_is_there_before_and_after_work(client, site):
    hours = {"comes_2": "07:00", "leaves_2": "08:30", "comes_2_2": "17:00", "leaves_2_2": "19:00"}
    assert send(client, site, **hours).status_code == 302

    assert kept(site) == [(2, time(7), time(8, 30)), (2, time(17), time(19))]
    shown = client.get(reverse("way_in", args=[site.pk])).content.decode()
    assert 'name="comes_2_2" value="17:00"' in shown
    assert 'name="comes_2_3"' in shown  # another one may always be added
    more = hours | {"comes_2_3": "12:00", "leaves_2_3": "12:30"}
    assert send(client, site, **more).status_code == 302
    assert len(kept(site)) == 3


@pytest.mark.parametrize(
    ("second", "said"),
    [
        ({"comes_2_2": "08:00", "leaves_2_2": "09:00"}, "overlaps another one of the day"),
        ({"comes_2_2": "17:00"}, "Enter both times, or neither."),
        ({"comes_2_2": "17:00", "leaves_2_2": "16:00"}, "The time ends before it begins."),
    ],
)
def test_second_time_that_cannot_be_is_refused_and_stays_typed(client, site, second, said):
    answer = send(client, site, comes_2="07:00", leaves_2="08:30", **second)

    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert f'value="{second["comes_2_2"]}"' in answer.content.decode()
    assert kept(site) == []


def test_times_that_touch_are_two(client, site):
    hours = {"comes_2": "07:00", "leaves_2": "08:30", "comes_2_2": "08:30", "leaves_2_2": "09:00"}

    assert send(client, site, **hours).status_code == 302
    assert len(kept(site)) == 2
