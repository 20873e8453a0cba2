"""A day without stops leads to the next one that has some."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from tests import make
from tests.servicedesk.actions.routes import weeks

pytestmark = pytest.mark.django_db
SATURDAY = date(2035, 6, 2)
MONDAY = SATURDAY + timedelta(days=2)


@pytest.fixture
def dario():
    weeks.firm()
    return make.technician(user=make.user(username="dario"))


def day_of(person, day, published=True):
    at = make.MORNING.replace(year=day.year, month=day.month, day=day.day)
    route = make.route(technician=person, day=day, published_at=at if published else None)
    make.stop(weeks.ticket(), route=route, arrive_at=at, leave_at=at + timedelta(hours=1))


def saturday(client, user):
    client.force_login(user)
    return client.get(reverse("my_day"), {"on": SATURDAY.isoformat()}).content.decode()


def test_saturday_leads_a_technician_to_his_monday(client, dario):
    other = make.technician()
    day_of(other, SATURDAY + timedelta(days=1))
    day_of(dario, MONDAY)
    day_of(dario, MONDAY + timedelta(days=1))
    shown = saturday(client, dario.user)

    assert f'?on={MONDAY.isoformat()}">Next stops: ' in shown


def test_day_that_is_not_published_is_not_led_to(client, dario):
    day_of(dario, MONDAY, published=False)

    assert "Next stops" not in saturday(client, dario.user)
