"""Owners are asked for what they look after themselves: seldom, once more, and then by phone.

A week between two mails, two mails in all and no mail while there may be ice: judgement, no source.
"""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from customers.actions import stop_mail
from customers.kinds import ContactRoleKind, CustomerKind, MailTopic
from customers.models import ContactRole, SignedLink
from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk.actions import answers, reminders
from servicedesk.actions.due import refresh_all
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.actions.work import record_work
from servicedesk.kinds import AnswerKind, Clock, DoneBy, PlaceKind, Who
from servicedesk.models import (
    DueItem,
    Message,
    OfficeTask,
    Reminder,
    Rhythm,
    Task,
    Ticket,
    Work,
    place_of,
)
from tests import make
from tests.servicedesk.actions.outbox import Clock as At
from tests.servicedesk.actions.outbox import Relay

pytestmark = pytest.mark.django_db
NOW = make.MORNING
A_DAY = timedelta(days=1)
QUERIES = 21  # a round in which everything was asked before, at any number of systems


@pytest.fixture
def owner():
    make.firm()
    return make.contact()


@pytest.fixture
def system(owner):
    return make.system(site=make.site(owner=owner.customer))


def trial(system, *, days_ago=30, **fields):
    """Pressing the test button every 30 days, done last so many days ago."""
    start = {"name": "Trip test", "clock": Clock.CAL, "every": 30, "by_owner": True}
    start |= {"place_kind": PlaceKind.SYSTEM, "position_kind": ""}
    task = make.task(**start | fields)
    task.rhythms.update(who=Who.OWNER)
    make.work(system, task, done_at=NOW - days_ago * A_DAY)
    return task


def asked(now=NOW):
    reminders.queue_owner_rhythms(clock=lambda: now)
    return Reminder.objects.filter(topic=MailTopic.OWNER_RHYTHM)


def send(now):
    relay = Relay()
    reminders.send_queued_messages(clock=At(now), open_relay=relay)
    return len(relay.taken)


def link_of(line):
    return SignedLink.objects.get(about=f"own:{line.pk}")


def press(line, what, now=NOW, **more):
    link = link_of(line)
    matter = answers.matter_of(link, now=now)
    return what(link, matter.asked, uuid=uuid4(), now=now, **more)


def test_owner_is_asked_on_the_due_day_once_however_often_the_job_runs(owner, system):
    trial(system, days_ago=29)
    assert not asked().exists()

    asked(NOW + A_DAY)
    line = asked(NOW + 2 * A_DAY).get()

    assert line.contact == owner
    assert send(NOW + 2 * A_DAY) == 1
    assert not Ticket.objects.exists()


def test_what_falls_due_within_a_week_is_asked_in_the_same_mail(owner, system):
    trial(system)
    trial(system, days_ago=24)
    trial(system, days_ago=10)

    assert asked().count() == 2
    assert send(NOW) == 1


def test_contact_is_asked_at_most_once_a_week_for_a_place(owner, system):
    trial(system)
    trial(system, days_ago=20)
    asked()
    asked(NOW + 6 * A_DAY)
    assert asked(NOW + 6.9 * A_DAY).count() == 1

    assert asked(NOW + 10 * A_DAY).count() == 2


@pytest.mark.parametrize(
    ("role", "kind", "hears"),
    [
        (ContactRoleKind.OWNER, CustomerKind.RESIDENT, True),
        (ContactRoleKind.CARETAKER, CustomerKind.ABSENT, True),
        (ContactRoleKind.OWNER, CustomerKind.ABSENT, False),
        (ContactRoleKind.BOARD, CustomerKind.ASSOCIATION, False),
        (ContactRoleKind.PAYER, CustomerKind.FARM, False),
    ],
)
def test_asked_is_who_can_look_after_it_himself(owner, system, role, kind, hears):
    ContactRole.objects.update(role=role)
    type(owner.customer).objects.update(kind=kind)
    trial(system)

    assert asked().exists() is hears


def test_caretaker_is_asked_in_place_of_the_owner(owner, system):
    caretaker = make.contact(customer=owner.customer, role=ContactRoleKind.CARETAKER)
    trial(system)

    assert asked().get().contact == caretaker


def test_firm_that_does_not_ask_owners_writes_nothing(owner, system):
    make.firm(ask_owners=False)
    trial(system)

    assert not asked().exists()


@pytest.mark.parametrize("fields", [{"by_owner": False}, {"active": False}])
def test_job_that_is_not_for_owners_is_not_asked(owner, system, fields):
    trial(system, **fields)

    assert not asked().exists()


def test_nothing_is_asked_of_a_system_that_stands_still(owner, system):
    trial(system)
    StateChange.objects.create(
        system=system, at=NOW - A_DAY, state=SystemState.SHUT_OTHER, entered_at=NOW
    )

    assert not asked().exists()


def test_nothing_is_asked_while_there_may_be_ice(owner, system):
    system.site.region = make.region()
    system.site.save()
    trial(system)
    winter = datetime(2027, 1, 20, 17, tzinfo=UTC)

    assert not asked(winter).exists()
    assert asked().exists()


@pytest.mark.parametrize("why", ["done", "off", "stopped", "sold"])
def test_line_that_is_not_true_any_more_is_not_sent(owner, system, why):
    task = trial(system)
    line = asked().get()
    if why == "done":
        make.work(system, task, done_at=NOW)
    elif why == "off":
        StateChange.objects.create(system=system, at=NOW, state=SystemState.FAILED, entered_at=NOW)
    elif why == "stopped":
        stop_mail(owner, MailTopic.OWNER_RHYTHM, at=NOW, how="phone")
    else:
        owned = owner.customer.ownerships.get()
        owned.to_on = NOW.date()
        owned.save()

    assert send(NOW) == 0
    line.refresh_from_db()
    assert line.dropped_because


def test_owner_who_did_it_is_asked_again_when_it_is_due_again(owner, system):
    task = trial(system)
    line = asked().get()
    send(NOW)

    answer = press(line, answers.did_own, done_on=NOW.date(), note="")

    work = Work.objects.get(done_by=DoneBy.OWNER)
    assert (work.task, work.verified, work.ticket) == (task, False, None)
    answer.refresh_from_db()
    assert answer.handled_at  # nobody of the firm has to look at it
    assert asked(NOW + 20 * A_DAY).count() == 1
    assert asked(NOW + 30 * A_DAY).count() == 2


def test_note_of_an_owner_stays_for_somebody_to_read(owner, system):
    trial(system)
    line = asked().get()
    send(NOW)

    answer = press(line, answers.did_own, done_on=NOW.date(), note="it hums")

    assert answer.handled_at is None


def test_owners_own_trial_closes_no_ticket_of_ours(owner, system):
    task = trial(system)
    Rhythm.objects.create(task=task, number=2, clock=Clock.CAL, every=20, unit="d")
    refresh_all(now=NOW)
    open_due_tickets(clock=lambda: NOW)
    ours = Ticket.objects.get()
    line = asked().get()
    send(NOW)

    press(line, answers.did_own, done_on=NOW.date(), note="")

    ours.refresh_from_db()
    assert ours.closed_at is None
    assert DueItem.objects.get().due_on == NOW.date() - 10 * A_DAY


def test_answer_taken_back_leaves_the_work_uncounted(owner, system):
    trial(system)
    line = asked().get()
    send(NOW)
    answer = press(line, answers.did_own, done_on=NOW.date(), note="")

    answers.take_back(answer, now=NOW)

    assert not Work.objects.counting().filter(done_by=DoneBy.OWNER).exists()
    assert not answers.is_settled(answers.matter_of(link_of(line), now=NOW).asked)


def test_owner_who_puts_it_off_is_asked_once_more_in_a_week(owner, system):
    trial(system)
    line = asked().get()
    send(NOW)
    press(line, answers.remind_later)
    press(line, answers.remind_later)

    assert send(NOW + 6 * A_DAY) == 0
    asked(NOW + 7 * A_DAY)
    assert send(NOW + 7 * A_DAY) == 1
    assert asked().count() == 2


def test_wish_to_be_reminded_taken_back_brings_no_second_mail(owner, system):
    trial(system)
    line = asked().get()
    send(NOW)
    answers.take_back(press(line, answers.remind_later), now=NOW)

    assert send(NOW + 7 * A_DAY) == 0


def test_two_mails_without_an_answer_are_followed_by_the_phone_and_no_third(owner, system):
    trial(system)
    asked()
    mails = 0
    for day in range(60):
        asked(NOW + day * A_DAY)
        mails += send(NOW + day * A_DAY)

    assert mails == 2
    office = OfficeTask.objects.get()
    assert "asked twice by mail" in office.text
    assert office.opened_at == NOW + 14 * A_DAY


def test_silent_owner_gets_no_such_mail_about_other_jobs_either(owner, system):
    trial(system)
    for day in range(20):
        asked(NOW + day * A_DAY)
        send(NOW + day * A_DAY)
    trial(system)
    assert asked(NOW + 25 * A_DAY).count() == 2

    OfficeTask.objects.update(handled_at=NOW)

    assert asked(NOW + 26 * A_DAY).count() == 3


def test_owner_who_wants_somebody_to_come_reaches_the_office_and_gets_no_second_mail(owner, system):
    trial(system)
    line = asked().get()
    send(NOW)
    link = link_of(line)
    answers.say(
        link, AnswerKind.CALL_ME, answers.matter_of(link, now=NOW), {}, uuid=uuid4(), now=NOW
    )

    for day in range(30):
        asked(NOW + day * A_DAY)

    assert asked().count() == 1
    assert owner.answers.unhandled().get().kind == AnswerKind.CALL_ME


@pytest.mark.parametrize("systems", [1, 4])
def test_what_was_asked_before_costs_no_query_of_its_own(
    owner, system, systems, django_assert_max_num_queries
):
    trial(system)
    for _number in range(systems - 1):
        other = make.system(site=make.site(owner=owner.customer))
        make.work(other, Task.objects.get(), done_at=NOW - 30 * A_DAY)
    assert asked().count() == systems
    send(NOW)

    with django_assert_max_num_queries(21) as queries:
        reminders.queue_owner_rhythms(clock=lambda: NOW + 8 * A_DAY - timedelta(hours=36))
    assert len(queries) == QUERIES


def test_asking_writes_no_due_item(owner, system):
    trial(system)
    asked()

    assert not DueItem.objects.exists()
    assert not Message.objects.exists()


def test_owners_word_on_another_path_ends_the_asking(owner, system):
    task = trial(system)
    asked()
    record_work(
        uuid=uuid4(), task=task, place=place_of(system), done_by=DoneBy.OWNER, done_at=NOW, now=NOW
    )

    assert send(NOW) == 0
