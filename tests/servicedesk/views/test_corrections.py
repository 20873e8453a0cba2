"""The page on which parts and defects of a visit are put right."""

from datetime import timedelta

import pytest
from django.urls import reverse

from servicedesk.models import PartUsed, Visit
from tests import make
from tests.servicedesk.views.phone_day import Day, text

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(client):
    """A closing of today with one part, and the address of its page."""
    day = Day(client)
    client.post(day.address, day.filled())
    return reverse("correct_visit", args=[Visit.objects.get().uuid])


def said(**changes):
    used = PartUsed.objects.standing().get()
    return {f"part_{used.pk}": "3", "because": "Three lay in the box."} | changes


def test_whoever_was_there_puts_a_part_right_on_the_same_day_and_both_are_shown(client, sent):
    page = client.post(sent, said(), follow=True)

    assert "Put right: 1 entry." in text(page)
    assert "Three lay in the box." in text(page)
    assert [row.quantity for row in PartUsed.objects.standing()] == [3]


def test_on_another_day_it_is_for_the_office(client, sent):
    Visit.objects.update(received_at=make.MORNING - timedelta(days=900))
    assert client.post(sent, said()).status_code == 403
    client.force_login(make.manager())
    assert client.post(sent, said()).status_code == 302


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"because": ""}, "This field is required."),
        ({"new_many": "2"}, "Choose which part it was."),
    ],
)
def test_what_is_missing_is_said_and_nothing_typed_is_lost(client, sent, changes, says):
    page = client.post(sent, said(**changes))
    assert page.status_code == 422
    assert says in text(page)
    assert 'value="3"' in text(page)
    assert PartUsed.objects.get().quantity == 1
