"""The outbox against a real mail server, with workers at once, and with files in its place."""

import email
import email.policy
import threading
import time
from datetime import UTC, datetime
from urllib.parse import urlsplit

import pytest
from django.db import connections
from django.db.models.functions import Now

from customers.models import Contact
from servicedesk.actions import reminders
from servicedesk.actions.reminders import send
from servicedesk.kinds import MessageState
from servicedesk.models import Message
from tests import make
from tests.servicedesk.actions.outbox import Clock, owed_report

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def sink(smtp_sink, settings):
    settings.SMTP = urlsplit(smtp_sink.url)
    return smtp_sink


def run(clock=None):
    return reminders.send_queued_messages(clock=clock or Clock())


def numbers(mails):
    return [email.message_from_bytes(mail.content)["Message-ID"] for mail in mails]


def test_mail_arrives_with_both_bodies_at_its_reader(sink):
    contact = make.contact()
    owed_report(contact=contact)

    assert run() == 1
    (mail,) = sink.mails
    read = email.message_from_bytes(mail.content, policy=email.policy.default)
    assert mail.recipients == (contact.email,)
    assert mail.sender == "service@example.com"
    assert [part.get_content_type() for part in read.iter_parts()] == ["text/plain", "text/html"]
    assert Message.objects.get().last_code == 250


def test_two_workers_at_once_send_each_mail_once(sink):
    for _number in range(12):
        owed_report()
    start = threading.Barrier(2)

    def work():
        start.wait()
        try:
            run()
        finally:
            connections.close_all()

    workers = [threading.Thread(target=work) for _worker in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()

    assert len(sink.mails) == 12
    assert len(set(numbers(sink.mails))) == 12
    assert set(Message.objects.values_list("state", flat=True)) == {MessageState.SENT}


def test_address_that_the_server_refuses_is_dead_and_the_others_get_theirs(sink):
    gone, here = make.contact(), make.contact()
    sink.refused[gone.email] = "550 5.1.1 no such mailbox"
    for contact in (gone, here):
        owed_report(contact=contact)

    assert run() == 1
    assert [mail.recipients for mail in sink.mails] == [(here.email,)]
    assert Contact.objects.get(address_dead_at__isnull=False) == gone


def test_server_that_says_later_gets_the_same_bytes_later(sink):
    owed_report()
    clock = Clock()
    sink.answers.append("451 4.3.0 try again")
    run(clock)
    before = bytes(Message.objects.get().frozen)
    clock.go(minutes=2)

    assert run(clock) == 1
    assert bytes(Message.objects.get().frozen) == before
    assert numbers(sink.mails) == [Message.objects.get().message_id]


def test_server_that_is_gone_costs_no_attempt_and_the_mail_goes_when_it_is_back(sink, settings):
    owed_report()
    real, settings.SMTP = settings.SMTP, urlsplit("smtp://127.0.0.1:9")  # nobody listens there
    assert run() == 0
    assert Message.objects.get().attempts == 0
    settings.SMTP = real

    assert run() == 1


def test_answer_that_does_not_come_is_doubted_and_resent_once(sink, settings):
    owed_report()
    settings.SMTP_TIMEOUT_S = 0.3
    sink.lag_s = 0.8
    clock = Clock()
    run(clock)
    assert Message.objects.get().unsure_attempts == 1
    for _again in range(3):
        clock.go(minutes=2)
        run(clock)
    time.sleep(1)  # the server's own answers, which nobody waits for any more

    message = Message.objects.get()
    assert message.state == MessageState.UNSURE
    assert numbers(sink.mails) == [message.message_id] * 2


def test_without_a_mail_server_mails_become_files_each_once(settings, tmp_path):
    settings.MAIL_FILES = tmp_path / "outbox"
    owed_report()

    assert (run(), run()) == (1, 0)
    (path,) = settings.MAIL_FILES.iterdir()
    read = email.message_from_bytes(path.read_bytes())
    assert read["Message-ID"] == Message.objects.get().message_id
    assert path.name == read["Message-ID"].strip("<>").partition("@")[0] + ".eml"


def test_folder_that_cannot_be_written_costs_no_mail(settings, tmp_path):
    (tmp_path / "taken").write_text("a file where a folder should be")
    settings.MAIL_FILES = tmp_path / "taken"
    owed_report()

    assert run() == 0
    assert Message.objects.get().state == MessageState.QUEUED


def test_copy_of_the_database_opens_no_owners_page(sink):
    owed_report()
    run()
    message = Message.objects.get()
    kept = bytes(message.frozen) + message.text.encode() + message.html.encode()
    read = email.message_from_bytes(sink.mails[0].content, policy=email.policy.default)
    token = read.get_body(["plain"]).get_content().partition("/o/")[2][:22]

    assert len(token) == 22
    assert token.encode() not in kept


def test_lease_is_measured_by_the_clock_of_the_database(sink):
    """The worker's own clock is in June; the lease is not."""
    owed_report()
    message_at = make.MORNING
    send.gather_lines(now=message_at)
    (pk,) = send.claim(make.uuid.uuid4(), now=message_at)

    left = Message.objects.filter(pk=pk, lease_until__gt=Now(), lease_until__lt=Now() + send.LEASE)
    assert left.exists()
    assert Message.objects.get().lease_until.date() == datetime.now(UTC).date()
