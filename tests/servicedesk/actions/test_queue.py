"""What becomes owed, to whom, and when it goes: one mail a day, by day, and only what is true."""

import email
import email.policy
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from customers.actions import Receivers, resume_mail, stop_mail
from customers.kinds import ContactRoleKind, ContactState, MailTopic
from customers.models import ContactRole, Ownership
from equipment.kinds import SystemState
from servicedesk import kinds
from servicedesk.actions import reminders
from servicedesk.actions.work import record_work
from servicedesk.kinds import AnswerKind, OfficeTaskKind
from servicedesk.models import OfficeTask, Reminder, Ticket, place_of
from servicedesk.planning.ice import ice_possible
from servicedesk.planning.seasons import Climate
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay, owed_report, owed_task, published
from tests.servicedesk.emails import scenes

pytestmark = pytest.mark.django_db

MINNESOTA = Climate(latitude=45.0, ice_on="12-05", ice_on_earliest="11-20", ice_out="04-05")


def run(relay, clock):
    return reminders.send_queued_messages(clock=clock, open_relay=relay)


def texts(relay):
    mails = [email.message_from_bytes(c, policy=email.policy.default) for c in relay.taken]
    bodies = [mail.get_body(["plain"]).get_content() for mail in mails]
    return [body.replace("\r\n", "\n") for body in bodies]


def test_one_stop_for_two_systems_of_one_pond_is_one_mail_with_one_row():
    """Scenario 3: one pond, two systems, one stop, one owner mail."""
    make.firm()
    contact = make.contact()
    site = make.site(owner=contact.customer, name="Quillbrook")
    pond = make.pond(site=site, name="Quillbrook Upper")
    tickets = []
    for words in ["a new air filter", "a test of the outlet"]:
        system = make.system(site=site)
        make.position("diffuser", system=system, pond=pond)
        task = make.task(owner_name=words)
        tickets.append(make.ticket(at=make.filter_position(system), task=task))
    stop = published(*tickets)
    reminders.queue_visit_proposals([stop.route], now=make.MORNING)
    relay = Relay()

    assert run(relay, Clock()) == 1
    (text,) = texts(relay)
    assert text.count("Who comes:") == 1
    assert "- a new air filter\n- a test of the outlet" in text


def test_customer_with_twelve_ponds_gets_one_mail_with_a_row_each():
    make.firm()
    contact = make.contact()
    route = make.route(day=date(2026, 6, 3))
    for number in range(12):
        site = make.site(owner=contact.customer)
        make.pond(site=site, name=f"Heron Pond {number}")
        published(make.ticket(at=make.filter_position(make.system(site=site))), route=route)
    reminders.queue_visit_proposals([route], now=make.MORNING)
    relay = Relay()

    assert run(relay, Clock()) == 1
    (text,) = texts(relay)
    assert text.count("Who comes:") == 12
    assert text.count("Yes, come on all of these days:") == 1


def test_publishing_twice_proposes_once():
    ticket = scenes.ticket_at(scenes.place(make.contact())[2])
    stop = published(ticket)
    for _twice in range(2):
        reminders.queue_visit_proposals([stop.route], now=make.MORNING)

    assert Reminder.objects.count() == 1


def test_second_day_is_mailed_and_a_third_is_phoned():
    contact = make.contact()
    ticket = scenes.ticket_at(scenes.place(contact)[2])
    clock, relay = Clock(), Relay()
    for day in (3, 4, 5):
        stop = published(ticket, day=date(2026, 6, day))
        reminders.queue_visit_proposals([stop.route], now=clock())
        run(relay, clock)
        stop.delete()
        clock.go(hours=23)

    assert [("3 June" in text, "4 June" in text) for text in texts(relay)] == [
        (True, False),
        (False, True),
    ]
    assert OfficeTask.objects.get().kind == OfficeTaskKind.PHONE_OWNER


def test_owner_whom_no_mail_reaches_is_a_task_for_the_office():
    contact = make.contact(address_dead_at=make.MORNING)
    stop = published(scenes.ticket_at(scenes.place(contact)[2]))
    reminders.queue_visit_proposals([stop.route], now=make.MORNING)

    assert Reminder.objects.count() == 0
    assert "can be reached by mail" in OfficeTask.objects.get().text


@pytest.mark.parametrize(
    ("confirmed", "days_before", "owed"),
    [(False, 3, 0), (False, 2, 1), (True, 2, 0), (True, 1, 1)],
)
def test_visit_is_remembered_two_days_before_or_one_if_confirmed(confirmed, days_before, owed):
    contact = make.contact()
    ticket = scenes.ticket_at(scenes.place(contact)[2])
    published(ticket, day=date(2026, 6, 1) + timedelta(days=days_before))
    if confirmed:
        make.answer(contact, AnswerKind.CONFIRM, ticket=ticket)

    assert reminders.queue_visit_reminders(clock=Clock()) == owed


def test_two_mails_without_answer_are_followed_by_a_phone_call_not_a_third_mail():
    contact = make.contact()
    ticket = scenes.ticket_at(scenes.place(contact)[2])
    stop = published(ticket, day=date(2026, 6, 5))
    clock, relay = Clock(), Relay()
    reminders.queue_visit_proposals([stop.route], now=clock())
    for _day in range(4):
        reminders.queue_visit_reminders(clock=clock)
        run(relay, clock)
        clock.go(hours=24)

    assert len(relay.taken) == 2
    assert "went unanswered" in OfficeTask.objects.get().text


def test_owner_who_answered_gets_no_more_of_it():
    contact = make.contact()
    ticket = scenes.ticket_at(scenes.place(contact)[2])
    stop = published(ticket)
    reminders.queue_visit_proposals([stop.route], now=make.MORNING)
    make.answer(contact, AnswerKind.ANOTHER_DAY, ticket=ticket)

    assert run(Relay(), Clock()) == 0
    assert Reminder.objects.get().dropped_because == "the owner has answered"


def test_locked_gate_tells_the_owner_and_leaves_the_due_day():
    """Scenario 10: not done for lack of access; the owner is told, and the way in is flagged."""
    contact = make.contact()
    site, _system, at = scenes.place(contact)
    ticket = scenes.ticket_at(at)
    due = make.due_item(ticket).due_on
    work = record_work(
        uuid=make.uuid.uuid4(),
        task=ticket.task,
        place=place_of(at),
        ticket=ticket,
        visit=make.visit(site=site),
        done_at=make.MORNING,
        now=make.MORNING,
        outcome=kinds.Outcome.NOT_DONE,
        not_done_reason=kinds.NotDoneReason.NO_ACCESS,
        derive=False,
    )
    reminders.queue_not_done(work, now=make.MORNING)
    relay = Relay()

    assert run(relay, Clock()) == 1
    assert "You are not charged for this journey." in texts(relay)[0]
    assert OfficeTask.objects.get().kind == OfficeTaskKind.MEND_ACCESS
    assert (ticket.closed_at, ticket.task.due_items.get().due_on) == (None, due)


def test_at_most_one_ordinary_mail_a_day_and_a_warning_beside_it():
    contact = make.contact()
    clock, relay = Clock(), Relay()
    owed_report(contact=contact)
    run(relay, clock)
    clock.go(hours=2)
    owed_report(contact=contact, now=clock())
    scenes.system_off(contact)

    assert run(relay, clock) == 1
    assert "Do not switch it on yourself" in texts(relay)[1]
    clock.go(hours=19)
    assert run(relay, clock) == 0  # 07:00
    clock.go(hours=1)
    assert run(relay, clock) == 1


def test_two_customers_with_one_address_share_one_mail():
    manager = "grounds@example.com"
    for _customer in range(2):
        owed_report(contact=make.contact(email=manager))
    relay = Relay()

    assert run(relay, Clock()) == 1
    assert texts(relay)[0].count("Visit:") == 2


@pytest.mark.parametrize(
    ("zone", "at"),
    [
        ("America/Chicago", datetime(2026, 3, 7, 23, tzinfo=UTC)),  # the night before the change
        ("America/Chicago", datetime(2026, 10, 31, 23, tzinfo=UTC)),
        ("Europe/Lisbon", datetime(2026, 10, 24, 22, tzinfo=UTC)),
        ("Australia/Lord_Howe", datetime(2026, 4, 4, 8, tzinfo=UTC)),
    ],
)
def test_mail_waits_for_eight_on_the_readers_clock_over_a_clock_change(zone, at):
    """The changes fall on Sundays, on which nothing goes: Monday at eight by the new clock."""
    contact = make.contact(time_zone=zone)
    clock, relay = Clock(at + timedelta(hours=5)), Relay()
    owed_report(contact=contact, now=clock())
    gone_at = None
    while gone_at is None:
        gone_at = clock() if run(relay, clock) else None
        clock.go(minutes=30)

    local = gone_at.astimezone(ZoneInfo(zone))
    assert (local.isoweekday(), f"{local:%H:%M}") == (1, "08:00")
    assert len(relay.taken) == 1


def test_weekend_without_workers_brings_no_burst_and_nothing_stale():
    """Down from Friday to Monday: one mail at eight, with only what is still true."""
    contact = make.contact()
    friday = datetime(2026, 5, 29, 15, tzinfo=UTC)
    closed = owed_task(contact=contact, now=friday)
    owed_report(contact=contact, now=friday + timedelta(days=1))
    past = make.ticket(at=make.filter_position(make.system(site=closed.site)))
    stop = published(past, day=date(2026, 5, 30))
    reminders.queue_visit_proposals([stop.route], now=friday)
    Ticket.objects.filter(pk=closed.pk).update(closed_at=friday, end="done")
    relay, clock = Relay(), Clock(datetime(2026, 6, 1, 7, tzinfo=UTC))  # Monday, 02:00

    assert run(relay, clock) == 0
    clock.at = datetime(2026, 6, 1, 13, 5, tzinfo=UTC)
    assert run(relay, clock) == 1
    (text,) = texts(relay)
    assert "We have been to your water" in text
    assert "is due" not in text
    assert "Who comes" not in text
    dropped = Reminder.objects.exclude(dropped_at=None)
    assert set(dropped.values_list("dropped_because", flat=True)) == {
        "the ticket is closed",
        "no published visit is to come",
    }


def test_stopped_system_that_runs_again_is_no_news():
    contact = make.contact()
    scenes.system_off(contact)
    contact.customer.ownerships.get().site.systems.get().state_changes.update(
        state=SystemState.RUNNING
    )

    assert run(Relay(), Clock()) == 0
    assert Reminder.objects.get().dropped_because == "the system is running"


def test_warning_waits_for_the_morning_unless_there_may_be_ice():
    night_in_june = datetime(2026, 6, 2, 4, tzinfo=UTC)
    night_in_january = datetime(2026, 1, 21, 4, tzinfo=UTC)
    relay = Relay()
    scenes.system_off(make.contact(), now=night_in_june)
    assert run(relay, Clock(night_in_june)) == 0
    assert OfficeTask.objects.count() == 0

    scenes.system_off(make.contact(), now=night_in_january)
    assert run(relay, Clock(night_in_january)) == 1
    assert OfficeTask.objects.get().urgent  # somebody phones first


def test_stopped_kind_of_mail_can_be_resumed():
    contact = make.contact()
    stop_mail(contact, MailTopic.OWNER_TASK_DUE, at=make.MORNING, how="phone")
    owed_task(contact=contact)
    assert run(Relay(), Clock()) == 0
    resume_mail(contact, MailTopic.OWNER_TASK_DUE, at=make.MORNING)
    owed_task(contact=contact)

    assert run(Relay(), Clock()) == 1


def of(site, pond=None, **more):
    contacts = Receivers([site.pk], on=make.TODAY).of(site.pk, pond and pond.pk, **more)
    return [contact.name for contact in contacts]


def test_those_who_decide_receive_and_those_near_only_in_their_place():
    owner = make.contact(name="Ines")
    customer = owner.customer
    make.contact(name="Board", customer=customer, role=ContactRoleKind.BOARD)
    make.contact(name="Keeper", customer=customer, role=ContactRoleKind.CARETAKER)
    make.contact(name="Payer", customer=customer, role=ContactRoleKind.PAYER)
    make.contact(name="Neighbour", customer=customer, role=ContactRoleKind.NOTICE)
    site = make.site(owner=customer)

    assert of(site) == ["Ines", "Board"]
    assert of(site, warning=True) == ["Ines", "Board", "Keeper", "Neighbour"]
    customer.contacts.exclude(name="Keeper").update(state=ContactState.DO_NOT_CONTACT)
    assert of(site) == ["Keeper"]


def test_role_that_ended_or_is_for_another_site_receives_nothing():
    old = make.contact(name="Last year's board", role=None)
    here, there = make.site(owner=old.customer), make.site(owner=old.customer)
    ContactRole.objects.create(
        contact=old, role="board", from_on=make.LONG_AGO, to_on=date(2026, 1, 1)
    )
    manager = make.contact(name="Manager", customer=old.customer, role=None)
    ContactRole.objects.create(
        contact=manager, role="property_manager", from_on=make.LONG_AGO, site=there
    )

    assert of(here) == []
    assert of(there) == ["Manager"]


def test_pond_sold_apart_from_its_site_is_the_new_owners():
    site = make.site(owner=make.contact(name="Old").customer)
    pond = make.pond(site=site)
    new = make.contact(name="New")
    Ownership.objects.create(customer=new.customer, pond=pond, from_on=date(2026, 5, 1))

    assert (of(site), of(site, pond)) == (["Old"], ["New"])


@pytest.mark.parametrize(
    ("climate", "on", "ice"),
    [
        (MINNESOTA, date(2026, 7, 1), False),
        (MINNESOTA, date(2026, 11, 1), False),
        (MINNESOTA, date(2026, 11, 25), True),
        (MINNESOTA, date(2027, 1, 20), True),
        (MINNESOTA, date(2026, 4, 20), True),  # ice-out was on the 5th, in most years
        (MINNESOTA, date(2026, 5, 1), False),
        (Climate(latitude=45.0), date(2026, 1, 20), True),  # nothing known of the region
        (Climate(latitude=45.0), date(2026, 6, 20), False),
        (Climate(latitude=-45.0), date(2026, 7, 20), True),
        (Climate(latitude=-45.0), date(2026, 1, 20), False),
        (Climate(latitude=45.0, has_winter=False), date(2026, 1, 20), False),
    ],
)
def test_ice_is_thought_possible_rather_too_long_than_too_short(climate, on, ice):
    assert ice_possible(climate, on) is ice
