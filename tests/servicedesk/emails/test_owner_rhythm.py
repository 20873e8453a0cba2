"""The mail that asks an owner for what he looks after himself, in both bodies."""

import pytest

from customers.kinds import MailTopic
from tests import make
from tests.servicedesk.emails.test_mails import both, mail_of

pytestmark = pytest.mark.django_db
BOTH = ("filter_check", "gfci_test")


def bodies(jobs):
    return both(mail_of(MailTopic.OWNER_RHYTHM, jobs=jobs))


def test_outlet_is_reset_once_only_and_nothing_is_unplugged_for_it():
    for body in bodies(["gfci_test"]):
        assert "pressing the test button of the outlet" in body
        assert "Press reset once only, never a second time." in body
        assert "Touch nothing more, and call us." in body
        assert "Pull the plug" not in body


def test_filter_is_looked_at_with_the_plug_out_and_the_wires_covered():
    for body in bodies(["filter_check"]):
        assert "Pull the plug of the running system." in body
        assert "Leave closed whatever covers wires." in body
        assert "reset" not in body


@pytest.mark.parametrize("jobs", [BOTH, BOTH[:1]])
def test_each_thing_has_its_own_four_answers(jobs):
    for body in bodies(jobs):
        for words in (
            "I did it",
            "Remind me in a week",
            "Have somebody come",
            "Report a problem",
        ):
            assert body.count(words) == len(jobs)


def test_off_or_tripped_system_is_left_and_called_about_and_nobody_goes_onto_ice():
    for body in bodies(BOTH):
        assert "If it is off, or trips, leave it as it is and call us." in body
        assert "By daylight, with dry hands, on dry ground and with nobody in the water" in body
        assert "Never go onto ice or into the water for this." in body


def test_subject_begins_with_the_water_and_names_the_job():
    mail = mail_of(MailTopic.OWNER_RHYTHM, contact=make.contact(), jobs=["gfci_test"])

    assert mail["Subject"] == "Mill Pond: time for pressing the test button of the outlet"
