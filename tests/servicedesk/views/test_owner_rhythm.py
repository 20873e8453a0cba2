"""The pages behind the mail that asks an owner for what he looks after himself."""

from datetime import timedelta

import pytest
from django.utils import timezone

from customers.signed_links import make_link
from servicedesk.emails import links
from servicedesk.kinds import AnswerKind, DoneBy
from servicedesk.models import OwnerAnswer, Reminder, Work
from tests import make
from tests.servicedesk.emails import scenes
from tests.servicedesk.views.phone_day import today

pytestmark = pytest.mark.django_db


@pytest.fixture
def door():
    """The address of a link about pressing the test button, which is due."""
    contact = make.contact(name="Ines Halvorsen")
    now = timezone.now()
    scenes.owner_rhythm(contact)  # of June, when no ice is possible
    line = Reminder.objects.get()
    token = make_link(contact, links.OWN, f"own:{line.pk}", now + timedelta(days=60), now)
    return f"/o/{token}/"


def filled(client, address, **typed):
    form = client.get(address).context["form"]
    return client.post(address, {"uuid": str(form["uuid"].value())} | typed)


def test_page_offers_four_answers_and_looking_records_nothing(client, door):
    page = client.get(door).content.decode()

    for words in ("I did it myself", "Remind me in a week", "Call me", "Report a problem"):
        assert words in page
    for kind in links.OWN_ANSWERS:
        assert client.get(f"{door}{kind}/").status_code == 200
    assert not OwnerAnswer.objects.exists()


def test_i_did_it_is_recorded_as_the_owners_word(client, door):
    filled(client, f"{door}did_it_myself/", done_on=today().isoformat(), note="")

    page = client.get(door).content.decode()
    assert "You did it yourself." in page
    assert "pressing the test button of the outlet" in page
    work = Work.objects.get(done_by=DoneBy.OWNER)
    assert (work.verified, work.ticket) == (False, None)
    assert "was answered" in client.get(f"{door}remind_later/").content.decode()


def test_remind_me_later_is_recorded_once(client, door):
    address = f"{door}remind_later/"
    form = client.get(address).context["form"]
    typed = {"uuid": str(form["uuid"].value())}
    client.post(address, typed)
    client.post(address, typed)

    assert OwnerAnswer.objects.get().kind == AnswerKind.REMIND_LATER
    assert Reminder.objects.count() == 2
    assert "We remind you once more in a week." in client.get(door).content.decode()


@pytest.mark.parametrize("kind", ["call_me", "problem"])
def test_somebody_of_the_firm_hears_of_the_rest(client, door, kind):
    filled(client, f"{door}{kind}/", sign="noise", words="it hums")

    assert OwnerAnswer.objects.unhandled().get().kind == kind


def test_day_to_come_is_no_day_on_which_it_was_done(client, door):
    tomorrow = (timezone.localdate() + timedelta(days=2)).isoformat()

    assert filled(client, f"{door}did_it_myself/", done_on=tomorrow).status_code == 422
    assert not OwnerAnswer.objects.exists()
