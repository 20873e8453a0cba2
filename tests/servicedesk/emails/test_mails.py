"""What each mail must say and must never say, in both bodies; and what its headers are."""

import email
import email.policy
import re
from datetime import UTC, datetime
from html.parser import HTMLParser

import pytest

from customers.kinds import MailTopic
from customers.models import SiteSecret
from customers.signed_links import open_link
from equipment.kinds import PositionKind
from servicedesk.actions import reminders
from servicedesk.actions.matters import matter_of
from servicedesk.actions.reports import write_report
from servicedesk.emails import links
from servicedesk.kinds import NotDoneReason, Who
from servicedesk.models import Message, Visit
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay, published
from tests.servicedesk.emails import scenes

pytestmark = pytest.mark.django_db

TOPICS = list(scenes.SCENES)
WINTER = datetime(2026, 1, 20, 17, tzinfo=UTC)
NEVER = [  # what no mail says
    r"\bsafe\b",
    r"your fish are fine",
    r"no risk",
    r"\b4711\b",
    r"gate code",
    r"\b\d\d:\d\d\b(?<!12:00)",  # no exact minute of a visit
    r"\boffer\b|\bdiscount\b|\bsale\b",
    r"your fault|you failed|you forgot",
]
# A frightened owner must not be moved to switch, to go onto ice, into water, or into the wiring.
MOVES = [
    r"(?<!not )\bswitch (it|the system) (on|off)",
    r"\bturn (it|the system) (on|off)",
    r"(?<!never )(?<!not )\bgo (on|onto) (the )?ice",
    r"(?<!nobody )\b(get|go) into the water(?! for this)",
    r"\bopen the cabinet",
    r"\breset (it|the breaker)\b",
]


class Words(HTMLParser):
    def __init__(self):
        super().__init__()
        self.words, self.links, self.italic, self.skip = [], [], [], 0
        self.water = False

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        self.skip += tag in {"style", "title"}
        if tag == "a":
            self.links.append(given["href"])
        self.water = given.get("class") == "water"
        if self.water:
            assert "font-style:italic" in given["style"]

    def handle_endtag(self, tag):
        self.skip -= tag in {"style", "title"}
        self.water = False

    def handle_data(self, data):
        if not self.skip:
            self.words.append(data)
        if self.water:
            self.italic.append(data)


def mail_of(topic, *, contact=None, **more):
    contact = contact or make.contact(name="Ines Halvorsen")
    scenes.SCENES[topic](contact, **more)
    return sent()


def sent(now=make.MORNING):
    relay = Relay()
    assert reminders.send_queued_messages(clock=Clock(now), open_relay=relay) == 1
    return email.message_from_bytes(relay.taken[0], policy=email.policy.default)


def text_of(mail):
    return mail.get_body(["plain"]).get_content()


def html_of(mail):
    read = Words()
    read.feed(mail.get_body(["html"]).get_content())
    return read


def both(mail):
    return [" ".join(text_of(mail).split()), " ".join(" ".join(html_of(mail).words).split())]


@pytest.mark.parametrize("topic", TOPICS)
def test_subject_starts_with_the_name_of_the_water(topic):
    assert mail_of(topic)["Subject"].startswith("Mill Pond")


@pytest.mark.parametrize("topic", TOPICS)
def test_both_bodies_give_the_phone_and_name_the_reader(topic):
    for body in both(mail_of(topic)):
        assert "+1 202 555 0100" in body
        assert "Ines Halvorsen" in body
        assert "Alder & Rill Pond Air" in body  # not &amp;


@pytest.mark.parametrize("topic", TOPICS)
def test_no_mail_says_what_no_mail_may_say(topic):
    for body in both(mail_of(topic)):
        found = [words for words in NEVER + MOVES if re.search(words, body, re.IGNORECASE)]
        assert found == []


@pytest.mark.parametrize("topic", TOPICS)
def test_every_button_of_the_html_is_a_plain_address_in_the_text(topic):
    mail = mail_of(topic)
    buttons = [link for link in html_of(mail).links if link.startswith("http")]

    assert buttons
    assert [link for link in buttons if link not in text_of(mail)] == []


@pytest.mark.parametrize("topic", TOPICS)
def test_water_is_italic_in_the_html_and_needs_no_picture(topic):
    mail = mail_of(topic)

    assert set(html_of(mail).italic) == {"Mill Pond"}
    assert "<img" not in mail.get_body(["html"]).get_content()


@pytest.mark.parametrize("topic", TOPICS)
def test_mail_has_one_main_button(topic):
    html = mail_of(topic).get_body(["html"]).get_content()

    assert html.count('class="button main"') == 1


def test_letter_of_two_parts_has_one_main_button_and_the_subject_of_the_first():
    contact = make.contact()
    scenes.visit_proposed(contact)
    visit = make.visit(site=contact.customer.ownerships.get().site)
    reminders.owe(
        contact, MailTopic.VISIT_REPORT, f"visit:{visit.pk}", now=make.MORNING, visit=visit
    )
    mail = sent()

    assert mail.get_body(["html"]).get_content().count('class="button main"') == 1
    assert mail["Subject"].startswith("Mill Pond: visit planned")
    assert "We have been to your water." in text_of(mail)


def test_proposal_gives_day_half_day_zone_person_preparation_and_cost():
    mail = mail_of(MailTopic.VISIT_PROPOSED)
    wanted = [
        "Wednesday, 3 June 2026",
        "in the morning (before 12:00 CDT, America/Chicago time)",
        "Dario Lund",
        "a new air filter",
        "keep the dog indoors",
        "Nothing beyond what you have agreed with us is done or charged",
    ]
    for body in both(mail):
        assert [words for words in wanted if words not in body] == []
    offered = {link.rstrip("/").rpartition("/")[2] for link in html_of(mail).links}
    assert {"confirm", "another_day", "did_it_myself", "problem"} <= offered


def test_visit_is_told_in_the_zone_of_the_site_not_of_the_reader():
    contact = make.contact(time_zone="Europe/Lisbon")

    assert "CDT, America/Chicago time" in text_of(
        mail_of(MailTopic.VISIT_PROPOSED, contact=contact)
    )


def test_task_that_owners_may_not_do_offers_no_did_it_myself():
    contact = make.contact()
    _site, _system, at = scenes.place(contact)
    stop = published(make.ticket(at=at, task=make.task(by_owner=False)))
    reminders.queue_visit_proposals([stop.route], now=make.MORNING)

    assert "did_it_myself" not in text_of(sent())


def test_owner_task_names_the_part_and_puts_the_plug_back_at_once():
    for body in both(mail_of(MailTopic.OWNER_TASK_DUE)):
        assert "Part that fits: F-" in body
        assert "Put the plug back at once" in body
        assert "If it is off, or trips, leave it as it is and call us" in body
        assert "nobody in the water" in body


def test_outlet_test_is_told_in_its_own_steps():
    contact = make.contact()
    _site, system, _at = scenes.place(contact)
    task = {"position_kind": PositionKind.GFCI, "owner_name": "pressing the test button"}
    ticket = scenes.ticket_at(make.position(PositionKind.GFCI, system=system), **task)
    ticket.task.rhythms.update(who=Who.OWNER)
    make.due_item(ticket)
    reminders.queue_owner_tasks_due(clock=lambda: make.MORNING)

    text = text_of(sent())
    assert "Press the reset button at once" in text
    assert "Pull the plug" not in text


@pytest.mark.parametrize(
    ("units", "pressure"), [("us", "6.4\u00a0psi"), ("metric", "44.1\u00a0kPa")]
)
def test_report_says_what_was_found_done_left_measured_and_next_in_the_readers_units(
    units, pressure
):
    contact = make.contact(units=units)
    mail = mail_of(MailTopic.VISIT_REPORT, contact=contact)
    wanted = [
        "a new air filter (found wet)",
        "Cabinet at the mill was running when we left.",
        f"Pressure: {pressure}",
        "an unusual noise",
        "a new air filter: about",
    ]
    for body in (text_of(mail), "".join(html_of(mail).words)):
        assert [words for words in wanted if words not in body] == []


@pytest.mark.parametrize("reason", NotDoneReason)
def test_mail_about_work_not_done_gives_reason_next_step_and_cost(reason):
    for body in both(mail_of(MailTopic.NOT_DONE, reason=reason)):
        assert "Why: " in body
        assert "You are not charged for this journey." in body


def test_locked_out_of_a_confirmed_visit_the_cost_is_settled_with_the_owner():
    for body in both(mail_of(MailTopic.NOT_DONE, confirmed=True)):
        assert "You had confirmed this visit." in body
        assert "You are not charged" not in body


def test_system_off_says_leave_it_and_in_summer_nothing_of_ice():
    for body in both(mail_of(MailTopic.SYSTEM_OFF)):
        assert "Do not switch it on yourself." in body
        assert "Nobody knows since when." in body
        assert "skinned over" not in body


def test_system_off_where_ice_may_be_says_keep_off():
    scenes.system_off(make.contact(), now=WINTER)
    for body in both(sent(WINTER)):
        assert "The open place in the ice may have skinned over" in body
        assert "It is weak and can look sound" in body
        assert "Keep everyone off, and leave the signs until the ice is gone" in body


@pytest.mark.parametrize("topic", [MailTopic.NOT_DONE, MailTopic.SYSTEM_OFF])
def test_mail_about_a_part_of_a_visit_leads_to_its_whole_report(topic):
    mail = mail_of(topic)
    address = text_of(mail).partition("The whole report, and as PDF:")[2].split()[0]
    assert address in html_of(mail).links

    link = open_link(address.split("/")[-2], links.REPORT, make.MORNING)
    assert matter_of(link, now=make.MORNING).writing
    write_report(Visit.objects.get(), now=make.MORNING)

    assert matter_of(link, now=make.MORNING).report.visit == Visit.objects.get()


def test_mail_names_no_report_before_its_visit_counts():
    scenes.not_done(make.contact())
    Visit.objects.update(accepted_at=None)

    for body in both(sent()):
        assert "whole report" not in body


def test_names_with_signs_of_html_are_shown_as_they_are():
    contact = make.contact(name="Ines <b>O'Hara & Sons")
    mail = mail_of(MailTopic.VISIT_REPORT, contact=contact)

    assert "Hello Ines <b>O'Hara & Sons," in text_of(mail)
    assert "Hello Ines <b>O'Hara & Sons," in "".join(html_of(mail).words)


def test_gate_code_of_the_site_is_in_no_mail():
    contact = make.contact()
    scenes.visit_proposed(contact)
    site = contact.customer.ownerships.get().site
    site.way_in = "Past the barn"
    site.save()
    SiteSecret.objects.create(site=site, kind="gate_code", text="77#31", entered_at=make.MORNING)

    assert "77#31" not in text_of(sent())


def test_headers_say_automatic_where_to_answer_and_who_writes():
    mail = mail_of(MailTopic.VISIT_PROPOSED)

    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["Reply-To"].addresses[0].addr_spec == "office@example.com"
    assert mail["Message-ID"] == Message.objects.get().message_id
    assert mail["Date"].datetime == make.MORNING


@pytest.mark.parametrize("topic", [MailTopic.VISIT_PROPOSED, MailTopic.OWNER_TASK_DUE])
def test_reminder_over_https_can_be_stopped_at_one_click_and_the_line_is_not_folded(
    topic, settings
):
    settings.PUBLIC_ADDRESS = "https://service.a-rather-long-name-of-a-host.example.com"
    relay = Relay()
    scenes.SCENES[topic](make.contact())
    reminders.send_queued_messages(clock=Clock(), open_relay=relay)

    line = rb"^List-Unsubscribe: <https://[^\r\n>]+/o/[\w-]{22}/unsubscribe/>\r$"
    assert re.search(line, relay.taken[0], re.MULTILINE)
    assert b"\r\nList-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n" in relay.taken[0]


@pytest.mark.parametrize(
    ("topic", "address"),
    [
        (MailTopic.VISIT_PROPOSED, "http://127.0.0.1:8000"),
        (MailTopic.VISIT_REPORT, "https://service.example.com"),
        (MailTopic.SYSTEM_OFF, "https://service.example.com"),
    ],
)
def test_reports_warnings_and_plain_http_offer_no_one_click(topic, address, settings):
    settings.PUBLIC_ADDRESS = address

    assert mail_of(topic)["List-Unsubscribe"] is None


def test_newline_in_a_name_makes_no_header():
    mail = mail_of(MailTopic.VISIT_REPORT, contact=make.contact(name="Ines\r\nBcc: x@example.com"))

    assert mail["Bcc"] is None
    assert mail["To"].addresses[0].display_name == "Ines Bcc: x@example.com"


def test_lines_of_the_bytes_keep_within_what_mail_servers_take():
    relay = Relay()
    scenes.visit_report(make.contact())
    reminders.send_queued_messages(clock=Clock(), open_relay=relay)
    lines = relay.taken[0].split(b"\r\n")

    assert max(map(len, lines)) <= 998  # RFC 5322, section 2.1.1
    assert all(byte < 128 for byte in relay.taken[0])  # no server has to know 8 bits
