"""The office reads every mail, sees what became of it, and decides about the unsure ones."""

import email
import re
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from django.urls import reverse
from django.utils import timezone

from customers.kinds import Role
from customers.models import Trail
from servicedesk.actions import reminders
from servicedesk.actions.alarms import raise_alarm
from servicedesk.kinds import MessageState, OfficeTaskKind
from servicedesk.models import Alarm, Message, OfficeTask, OwnerAnswer
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay, owed_report
from tests.servicedesk.emails import scenes

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(client):
    make.firm()
    client.force_login(make.user(Role.OFFICE))
    return client


def read(client, name, *args):
    return client.get(reverse(name, args=args))


def test_list_shows_mails_with_reader_state_and_what_is_owed(office):
    make.message(subject="Mill Pond: visit on Tuesday")
    make.message(state=MessageState.FAILED, last_error="mailbox full")
    owed_report()
    shown = read(office, "messages").content.decode()

    for words in ["Mill Pond: visit on Tuesday", "Ines Halvorsen", "Waiting", "Failed"]:
        assert words in shown
    assert "mailbox full" in shown
    assert "Owed, and in no mail yet" in shown


def alarm(name, **fields):
    site = make.site(name=name)
    raise_alarm(
        key=name,
        kind=OfficeTaskKind.CHECK_IN,
        site=site,
        subject=f"Not back: Dario, alone at {name}",
        text="Call now.",
        now=timezone.now() - fields.pop("before", timedelta()),
    )
    Alarm.objects.filter(office_task__site=site).update(**fields)


def test_list_shows_alarms_to_our_own_people_and_what_became_of_each(office):
    make.user(Role.MANAGER, username="priya", email="priya@example.com")
    alarm("Mill Lane", sent_at=timezone.now(), attempts=1)
    alarm("Heron Row", attempts=3, last_error="the mail server is away")
    alarm("Quill Way")
    alarm("Sedge Lane", before=timedelta(hours=25))
    shown = read(office, "messages").content.decode().partition("Alarms to our own people")[2]

    states = re.findall(r"alone at ([^<]+)</h3>.*?<div class=.side.>.*?</svg>([^<]+)", shown, re.S)
    assert [(name, state.strip()) for name, state in states] == [
        ("Quill Way", "Waiting"),
        ("Heron Row", "Not taken yet"),
        ("Mill Lane", "Sent"),
        ("Sedge Lane", "Never went out"),
    ]
    assert "3 attempts: the mail server is away" in shown
    assert "priya@example.com" in shown
    assert "Call now." in shown


@pytest.mark.parametrize("rows", [1, 30])
def test_list_asks_the_database_equally_often(office, rows, django_assert_max_num_queries):
    for row in range(rows):
        make.message()
        alarm(f"Lane {row}")
    with django_assert_max_num_queries(11):
        assert read(office, "messages").status_code == 200


def test_list_is_narrowed_by_state_and_text(office):
    make.message(subject="Heron Pond: our visit")
    make.message(subject="Mill Pond: our visit", state=MessageState.CANCELLED)
    shown = office.get(reverse("messages"), {"state": "cancelled", "text": "pond"}).content.decode()

    assert "Mill Pond" in shown
    assert "Heron Pond" not in shown


def test_file_outbox_is_read_with_links_that_work(office, client, settings, tmp_path):
    settings.MAIL_FILES = tmp_path
    settings.PUBLIC_ADDRESS = "http://testserver"
    scenes.visit_report(make.contact())
    reminders.send_queued_messages(clock=Clock())
    message = Message.objects.get()
    shown = read(office, "message", message.pk).content.decode()
    token = shown.partition("http://testserver/o/")[2][:22]

    assert len(token) == 22
    assert f'href="http://testserver/o/{token}/' in shown
    assert "Alder &amp; Rill Pond Air" in shown


def test_with_a_mail_server_the_owners_links_are_hidden(office, settings):
    settings.SMTP = urlsplit("smtp://127.0.0.1:25")
    relay = Relay()
    scenes.visit_report(make.contact())
    reminders.send_queued_messages(clock=Clock(), open_relay=relay)
    token = email.message_from_bytes(relay.taken[0]).get_payload()[0].get_payload()
    token = token.partition("/o/")[2][:22]
    pk = Message.objects.get().pk
    shown = (
        read(office, "message", pk).content.decode()
        + read(office, "message_html", pk).content.decode()
    )

    assert token not in shown
    assert "/o/\u2026/" in shown


def test_html_of_a_mail_may_carry_style_and_nothing_that_acts(office):
    scenes.visit_report(make.contact())
    reminders.send_queued_messages(clock=Clock(), open_relay=Relay())
    answer = read(office, "message_html", Message.objects.get().pk)
    policy = answer["Content-Security-Policy"]

    assert "script-src 'none'" in policy
    assert "sandbox" in policy
    assert "style-src 'unsafe-inline'" in policy
    assert "Mill Pond" in answer.content.decode()


def test_unsure_mail_is_sent_once_more_by_a_decision_that_is_kept(office):
    owed_report()
    reminders.send_queued_messages(clock=Clock(), open_relay=Relay())
    message = Message.objects.get()
    Message.objects.update(state=MessageState.UNSURE, sent_at=None, day_on=None)
    office.post(reverse("message_again", args=[message.pk]))
    relay = Relay()

    clock = Clock(message.made_at + timedelta(days=4000))
    assert reminders.send_queued_messages(clock=clock, open_relay=relay) == 1
    assert email.message_from_bytes(relay.taken[0])["Message-ID"] == message.message_id
    assert Trail.objects.get().did == "mail sent again"


def test_failed_mail_that_was_settled_by_phone_is_not_sent(office):
    message = make.message(state=MessageState.FAILED)
    OfficeTask.objects.create(
        kind="phone_owner",
        text="Phone",
        key=f"undelivered:{message.pk}",
        opened_at=make.MORNING,
    )
    office.post(reverse("message_settled", args=[message.pk]), {"note": "told by phone"})

    message.refresh_from_db()
    assert message.state == MessageState.SUPPRESSED
    assert "told by phone" in message.last_error
    assert OfficeTask.objects.get().handled_at


def test_decision_about_a_mail_that_waits_for_none_changes_nothing(office):
    message = make.message(state=MessageState.SENT, sent_at=make.MORNING)
    answer = office.post(reverse("message_again", args=[message.pk]), follow=True)

    assert "nothing to decide" in answer.content.decode()
    assert Message.objects.get().state == MessageState.SENT


@pytest.mark.parametrize("name", ["message", "message_html", "message_again", "message_settled"])
def test_technician_reads_and_decides_no_mail(client, name):
    message = make.message(state=MessageState.FAILED)
    client.force_login(make.user())
    address = reverse(name, args=[message.pk])
    answer = client.get(address) if name in {"message", "message_html"} else client.post(address)

    assert answer.status_code == 403
    assert read(client, "messages").status_code == 403


def test_every_unhandled_answer_stands_on_the_first_page_until_it_is_handled(office):
    contact = make.contact(name="Ines Halvorsen")
    kinds = list(OwnerAnswer._meta.get_field("kind").choices)
    for kind in kinds:
        make.answer(contact, kind[0])
    assert read(office, "home").content.decode().count("Ines Halvorsen") >= len(kinds)
    assert OwnerAnswer.objects.unhandled().count() == len(kinds)
    for answer in OwnerAnswer.objects.all():
        office.post(reverse("handle_answer", args=[answer.pk]))

    assert OwnerAnswer.objects.unhandled().count() == 0
