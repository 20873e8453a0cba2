"""One mail at a time through the outbox: what is claimed, frozen, checked again and booked."""

import email
import email.policy

import pytest
from django.db.models.functions import Now

from customers.actions import stop_mail
from customers.kinds import ContactState, MailTopic
from customers.models import Contact
from servicedesk.actions import reminders
from servicedesk.actions.reminders import send
from servicedesk.emails.relay import Answer, Verdict, meaning
from servicedesk.kinds import MessageState, OfficeTaskKind, TicketEnd
from servicedesk.models import Message, OfficeTask, Reminder
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay, owed_report, owed_task

pytestmark = pytest.mark.django_db


def run(relay, clock=None):
    return reminders.send_queued_messages(clock=clock or Clock(), open_relay=relay)


def opened(content):
    return email.message_from_bytes(content, policy=email.policy.default)


def lapse():
    """The worker died: its lease is over."""
    Message.objects.filter(state=MessageState.SENDING).update(lease_until=Now() - send.LEASE)


class Killed(BaseException):
    """As by SIGKILL: nothing of ours runs after it."""


def killed():
    raise Killed


def test_owed_line_goes_out_once():
    owed_report()
    relay = Relay()

    assert (run(relay), run(relay)) == (1, 0)
    assert len(relay.taken) == 1
    assert Message.objects.get().state == MessageState.SENT


def test_line_is_owed_once_for_its_period():
    contact = make.contact()
    visit = owed_report(contact=contact)
    reminders.owe(
        contact, MailTopic.VISIT_REPORT, f"visit:{visit.pk}", now=make.MORNING, visit=visit
    )

    assert Reminder.objects.count() == 1


def test_worker_that_died_before_the_bytes_is_followed_by_another():
    owed_report()
    relay = Relay()
    relay.before_data = killed
    with pytest.raises(Killed):
        run(relay)
    Message.objects.update(data_at=None)  # as if it had died one line earlier
    relay.before_data = lambda: None

    assert run(relay) == 0  # the lease still holds
    lapse()
    assert run(relay) == 1
    assert len(relay.taken) == 1


def test_mail_of_which_nobody_can_tell_is_sent_again_once_with_the_same_bytes():
    owed_report()
    relay = Relay()
    relay.after_data = killed
    for _attempt in range(2):
        with pytest.raises(Killed):
            run(relay)
        lapse()
    relay.after_data = lambda: None

    assert run(relay) == 0
    assert len(relay.taken) == 2
    assert relay.taken[0] == relay.taken[1]
    assert Message.objects.get().state == MessageState.UNSURE
    assert OfficeTask.objects.get().kind == OfficeTaskKind.PHONE_OWNER


def test_ticket_that_closes_before_the_bytes_cancels_the_mail():
    ticket = owed_task()
    relay = Relay()

    def close(to):
        type(ticket).objects.update(closed_at=make.MORNING, end=TicketEnd.DONE)
        return Answer(Verdict.TAKEN, 250)

    relay.envelope = close

    assert run(relay) == 0
    assert relay.taken == []
    assert Message.objects.get().state == MessageState.CANCELLED
    assert Reminder.objects.get().dropped_because == "the ticket is closed"


@pytest.mark.parametrize(
    "end",
    [
        lambda contact: stop_mail(contact, MailTopic.OWNER_TASK_DUE, at=make.MORNING, how="phone"),
        lambda contact: Contact.objects.update(state=ContactState.DECEASED),
        lambda contact: Contact.objects.update(state=ContactState.DO_NOT_CONTACT),
        lambda contact: Contact.objects.update(address_dead_at=make.MORNING),
        lambda contact: contact.customer.ownerships.update(to_on=make.TODAY),
    ],
    ids=["stopped", "deceased", "do not contact", "dead address", "sold"],
)
def test_mail_is_cancelled_by_what_ends_it_before_the_bytes(end):
    contact = make.contact()
    owed_task(contact=contact)
    relay = Relay()
    relay.envelope = lambda to: (end(contact) and Answer(Verdict.TAKEN)) or Answer(Verdict.TAKEN)

    assert run(relay) == 0
    assert relay.taken == []
    assert Message.objects.get().state == MessageState.CANCELLED


def test_line_that_became_untrue_leaves_a_mail_that_waits_for_another_try():
    contact = make.contact()
    ticket = owed_task(contact=contact)
    owed_report(contact=contact)
    relay, clock = Relay(), Clock()
    relay.of_recipient = Answer(Verdict.LATER, 451, "later")
    run(relay, clock)
    type(ticket).objects.update(closed_at=make.MORNING, end=TicketEnd.DONE)
    relay.of_recipient = Answer(Verdict.TAKEN, 250)
    clock.go(hours=1)

    assert run(relay, clock) == 1
    text = opened(relay.taken[0]).get_body(["plain"]).get_content()
    assert "Part that fits" not in text
    assert "is due" not in text
    assert "We have been to your water" in text


def test_retry_waits_and_later_succeeds_with_the_same_message_id():
    owed_report()
    relay, clock = Relay(), Clock()
    relay.of_data = Answer(Verdict.LATER, 451, "4.3.0 try again")
    run(relay, clock)
    waiting = Message.objects.get()
    relay.of_data = Answer(Verdict.TAKEN, 250)
    clock.go(minutes=2)

    assert (waiting.state, waiting.attempts, waiting.last_code) == (MessageState.QUEUED, 1, 451)
    assert run(relay, clock) == 1
    assert opened(relay.taken[0])["Message-ID"] == waiting.message_id


def test_mail_is_given_up_by_age_and_the_office_phones():
    owed_report()
    relay, clock = Relay(), Clock()
    relay.of_data = Answer(Verdict.LATER, 451, "4.3.0 try again")
    for _day in range(5):
        run(relay, clock)
        clock.go(hours=24)

    assert Message.objects.get().state == MessageState.FAILED
    assert OfficeTask.objects.get().kind == OfficeTaskKind.PHONE_OWNER


def test_relay_that_is_down_costs_a_mail_no_attempt():
    owed_report()
    relay, clock = Relay(), Clock()
    relay.down = True
    for _day in range(5):
        run(relay, clock)
        clock.go(hours=24)
    relay.down = False

    assert run(relay, clock) == 1
    assert Message.objects.get().attempts == 1
    assert OfficeTask.objects.filter(urgent=True).count() == 1


def test_address_that_does_not_exist_is_marked_dead_and_never_tried_again():
    contact = make.contact()
    owed_report(contact=contact)
    relay = Relay()
    relay.of_recipient = Answer(Verdict.DEAD, 550, "5.1.1 no such mailbox")
    run(relay)
    owed_report(contact=contact)
    run(relay)

    contact.refresh_from_db()
    assert contact.address_dead_at
    assert [m.state for m in Message.objects.all()] == [MessageState.FAILED]
    assert OfficeTask.objects.get().kind == OfficeTaskKind.MEND_ADDRESS


def test_our_own_fault_never_kills_an_address_and_keeps_the_mail():
    owed_report()
    relay = Relay()
    relay.of_recipient = Answer(Verdict.OURS, 550, "5.7.1 not permitted")
    run(relay)

    assert Message.objects.get().state == MessageState.QUEUED
    assert Contact.objects.filter(address_dead_at__isnull=False).count() == 0
    assert OfficeTask.objects.get().urgent


def test_mail_that_cannot_be_written_does_not_hold_up_the_others(monkeypatch):
    first, second = make.contact(name="Tobias Renn"), make.contact()
    owed_report(contact=first)
    owed_report(contact=second)
    write = send.write_letter
    monkeypatch.setattr(
        send,
        "write_letter",
        lambda contact, *a, **k: 1 / 0 if contact == first else write(contact, *a, **k),
    )
    relay = Relay()

    assert run(relay) == 1
    assert opened(relay.taken[0])["To"].addresses[0].addr_spec == second.email
    assert Message.objects.get(contact=first).state == MessageState.QUEUED


@pytest.mark.parametrize(
    ("code", "words", "of_recipient", "verdict"),
    [  # RFC 5321 section 4.2.3 and RFC 3463 sections 3.2 to 3.8
        (250, "2.0.0 taken", False, Verdict.TAKEN),
        (421, "closing", False, Verdict.LATER),
        (450, "4.2.0 greylisted", True, Verdict.LATER),
        (451, "4.3.0 local error", False, Verdict.LATER),
        (452, "4.2.2 mailbox full", True, Verdict.FULL),
        (552, "5.2.2 mailbox full", True, Verdict.FULL),
        (550, "5.1.1 no such user", True, Verdict.DEAD),
        (550, "no such user", True, Verdict.DEAD),
        (551, "5.1.6 moved", True, Verdict.DEAD),
        (553, "5.1.3 bad address", True, Verdict.DEAD),
        (550, "5.7.1 relaying denied", True, Verdict.OURS),
        (550, "5.7.1 spam", False, Verdict.OURS),
        (550, "refused", False, Verdict.OURS),
        (554, "5.7.0 policy", True, Verdict.OURS),
        (500, "what?", False, Verdict.OURS),
        (503, "nested MAIL command", False, Verdict.OURS),
        (530, "5.7.0 authenticate first", False, Verdict.OURS),
        (535, "5.7.8 bad login", False, Verdict.OURS),
    ],
)
def test_answer_is_sorted_by_whose_fault_it_is(code, words, of_recipient, verdict):
    assert meaning(code, words, of_recipient=of_recipient) == verdict


def test_line_that_cannot_be_judged_does_not_hold_up_the_others():
    odd, fine = make.contact(), make.contact()
    visit = owed_report(contact=odd)
    Reminder.objects.update(topic=MailTopic.SYSTEM_OFF, facts={})  # names no system
    owed_report(contact=fine)
    relay = Relay()

    assert run(relay) == 1
    assert Reminder.objects.get(visit=visit).message is None


@pytest.mark.parametrize(("field", "value"), [("time_zone", "Mars/Olympus"), ("language", "tlh")])
def test_contact_with_an_odd_zone_or_language_still_gets_the_mail(field, value):
    owed_report(contact=make.contact(**{field: value}))

    assert run(Relay()) == 1


def test_firm_whose_quiet_hours_leave_no_day_still_sends():
    owed_report()
    make.firm(quiet_from="08:00", quiet_until="20:00")

    assert run(Relay()) == 1
