"""Calendar text read back by the icalendar library; check rows: test_calculate_command.py."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from icalendar.parser import Contentline

from servicedesk.planning import invitations

letters = st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp"))


@given(st.text(letters, max_size=300))
def test_folded_line_keeps_its_characters_and_its_length(text):
    folded = invitations.folded(f"SUMMARY:{text}")

    assert all(len(line) <= 75 for line in folded.split(b"\r\n"))
    assert Contentline.from_ical(folded.decode()) == f"SUMMARY:{text}"


def test_cancelled_visit_says_so_and_keeps_its_uid():
    mail = invitations.invitation_mail(invitations.EXAMPLE, "CANCEL")

    calendar = Calendar.from_ical(mail.get_payload()[1].get_content())
    event = calendar.walk("VEVENT")[0]
    assert (calendar["method"], event["status"], event["uid"]) == (
        "CANCEL",
        "CANCELLED",
        "ticket-1@example.com",
    )


def test_change_of_words_alone_asks_nobody_to_decide_anew():
    assert invitations.sequence_after(3, "SUMMARY,LOCATION") == 3
    assert invitations.sequence_after(3, "summary, dtstart") == 4


@pytest.mark.parametrize("url", ["http://example.com/u", "https://example.com/a b", "mailto:x@y"])
def test_address_that_no_mail_program_may_press_is_refused(url):
    with pytest.raises(ValueError, match="https"):
        invitations.unsubscribe_headers(url)
