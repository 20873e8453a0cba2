"""Who is told of thin ice, who acknowledges, and what bars a winter run until then."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from customers.kinds import ContactRoleKind, MailTopic
from customers.models import SignedLink
from equipment.kinds import SystemState
from equipment.models import StateChange
from servicedesk.actions import answers, reminders
from servicedesk.actions.matters import NotTheirs, matter_of
from servicedesk.actions.states import StateRefused, record_state
from servicedesk.actions.winter import answered
from servicedesk.actions.winter.blocking import still_blocked
from servicedesk.actions.winter.decide import note_refusal
from servicedesk.actions.winter.notices import keep_notices, lines_of, open_notices, record_call
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import Message, NoticeDelivery, OfficeTask, Reminder, ThinIceNotice
from servicedesk.planning.winter.blocks import BlockName
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay
from tests.servicedesk.emails.scenes import place

pytestmark = pytest.mark.django_db
AUTUMN = datetime(2026, 10, 5, 15, tzinfo=UTC)  # a Monday
WINTER = 2026


def decided(system, option="run_shallow"):
    return make.winter_decision(system, decided=option, year=WINTER)


def send(now):
    reminders.send_queued_messages(clock=Clock(now), open_relay=Relay())


def names(system, now=AUTUMN, **more):
    return {block.name for block in still_blocked([system], now=now, **more)[system.pk]}


def link_to(row):
    return SignedLink.objects.create(
        token_hash=uuid4().hex,
        contact=row.contact,
        purpose="notice",
        about=f"notice:{row.pk}",
        made_at=AUTUMN,
        expires_at=AUTUMN + timedelta(days=90),
    )


def test_unanswered_notice_bars_the_run_is_phoned_after_two_mails_and_no_third_goes_out():
    """Scenario: nobody of Quillbrook Lane acknowledged by the start date."""
    board = make.contact(name="Quillbrook Lane Owners", role=ContactRoleKind.BOARD)
    _site, system, _at = place(board)
    decided(system)
    for days in range(0, 40):
        now = AUTUMN + timedelta(days=days)
        keep_notices(now=now)
        send(now)
    odile = make.user("office", first_name="Odile")
    row = NoticeDelivery.objects.get()
    later = AUTUMN + timedelta(days=40)

    assert Message.objects.filter(topic=MailTopic.THIN_ICE, sent_at__isnull=False).count() == 2
    assert BlockName.NOTICE in names(system, later)
    task = OfficeTask.objects.get(kind=OfficeTaskKind.PHONE_OWNER, handled_at=None)
    assert task.contact == board
    with pytest.raises(StateRefused, match="has acknowledged the notice"):
        record_state(
            system, at=later, state=SystemState.RUNNING_WINTER_SHALLOW, now=later, by=odile
        )

    record_call(row, name="Hal Osk", called_at=later, by=odile, now=later)

    row.refresh_from_db()
    task.refresh_from_db()
    assert (row.acknowledged_name, row.acknowledged_at, row.called_by) == ("Hal Osk", later, odile)
    assert task.handled_by == odile
    assert BlockName.NOTICE not in names(system, later)
    keep_notices(now=later + timedelta(days=9))
    send(later + timedelta(days=9))
    assert Reminder.objects.filter(topic=MailTopic.THIN_ICE).count() == 2


def test_two_systems_in_one_water_make_one_notice():
    ines = make.contact()
    site, system, _at = place(ines)
    other = make.system(site=site, name="Second cabinet")
    make.position("diffuser", system=other, pond=site.ponds.get(), label="E1")

    open_notices([system, other], now=AUTUMN)

    assert ThinIceNotice.objects.count() == 1
    assert NoticeDelivery.objects.count() == 1


def test_cabinet_that_feeds_two_waters_needs_the_notice_of_both():
    ines = make.contact()
    site, system, _at = place(ines)
    heron = make.pond(site=site, name="Heron Pond")
    make.position("diffuser", system=system, pond=heron, label="D9")
    decided(system)

    open_notices([system], now=AUTUMN)
    first, second = NoticeDelivery.objects.order_by("pk")
    answered.read_notice(link_to(first), matter(first), "Ines H.", uuid=uuid4(), now=AUTUMN)
    half = names(system)
    answered.read_notice(link_to(second), matter(second), "Ines H.", uuid=uuid4(), now=AUTUMN)

    assert {n.pond.name for n in ThinIceNotice.objects.all()} == {"Mill Pond", "Heron Pond"}
    assert BlockName.NOTICE in half
    assert BlockName.NOTICE not in names(system)


def test_neighbours_payers_and_caretakers_are_told_not_only_the_owner():
    ines = make.contact(name="Ines Halvorsen")
    _site, system, _at = place(ines)
    owner = ines.customer
    make.contact(customer=owner, name="Neighbour", role=ContactRoleKind.NOTICE)
    make.contact(customer=owner, name="Payer", role=ContactRoleKind.PAYER)
    make.contact(customer=owner, name="Care", role=ContactRoleKind.CARETAKER, email="")
    decided(system)

    keep_notices(now=AUTUMN)

    told = set(NoticeDelivery.objects.values_list("contact__name", flat=True))
    assert told == {"Ines Halvorsen", "Neighbour", "Payer", "Care"}
    without_mail = OfficeTask.objects.get(kind=OfficeTaskKind.PHONE_OWNER)
    assert without_mail.contact.name == "Care"  # phoned at once
    assert all(lines_of(NoticeDelivery.objects.exclude(contact__email="")).values())


def test_new_owner_gets_the_notice_anew_and_the_old_ones_link_is_dead():
    ines = make.contact(name="Ines Halvorsen")
    site, system, _at = place(ines)
    decided(system)
    keep_notices(now=AUTUMN)
    old = NoticeDelivery.objects.get()
    answered.read_notice(link_to(old), matter(old), "Ines H.", uuid=uuid4(), now=AUTUMN)
    buyer = make.contact(name="Tobias Renn")
    sold_on = AUTUMN.date() + timedelta(days=3)
    site.ownerships.filter(to_on=None).update(to_on=sold_on)
    site.ownerships.create(customer=buyer.customer, from_on=sold_on)
    later = AUTUMN + timedelta(days=4)

    keep_notices(now=later)

    fresh = NoticeDelivery.objects.standing().get()
    assert (fresh.contact, fresh.acknowledged_at) == (buyer, None)
    assert BlockName.NOTICE in names(system, later)
    with pytest.raises(NotTheirs):
        matter_of(link_to(old), now=later)


def test_owner_who_lets_the_public_skate_leaves_a_note_and_the_firm_does_not_run_it():
    ines = make.contact(name="Ines Halvorsen")
    site, system, _at = place(ines)
    decided(system)

    note = note_refusal(
        site.ponds.get(),
        kind="shut_down",
        recommended="Shut the system down for the winter.",
        because="The public skates on this water.",
        said_by="Ines H.",
        said_on=AUTUMN.date(),
        how="by phone",
        by=make.manager(),
        now=AUTUMN,
    )

    (block,) = [
        b
        for b in still_blocked([system], now=AUTUMN, visit_to_come=True)[system.pk]
        if b.name == BlockName.REFUSED
    ]
    assert not block.overridable
    assert note.consequence


def test_acknowledgement_can_be_taken_back_within_its_day_and_bars_again():
    ines = make.contact()
    _site, system, _at = place(ines)
    decided(system)
    keep_notices(now=AUTUMN)
    row = NoticeDelivery.objects.get()
    answer = answered.read_notice(link_to(row), matter(row), "Ines", uuid=uuid4(), now=AUTUMN)

    answers.take_back(answer, now=AUTUMN + timedelta(hours=2))

    assert BlockName.NOTICE in names(system)


def test_notice_lapses_and_the_next_winter_needs_a_new_one():
    _site, system, _at = place(make.contact())
    decided(system)
    keep_notices(now=AUTUMN)
    summer = datetime(2027, 7, 2, 15, tzinfo=UTC)

    keep_notices(now=summer)

    assert ThinIceNotice.objects.get().ended_because == "the winter is over"


def test_ice_that_somebody_uses_bars_a_start_until_the_office_has_dealt_with_it():
    _site, system, _at = place(make.contact())
    decided(system)
    keep_notices(now=AUTUMN)
    row = NoticeDelivery.objects.get()
    january = datetime(2027, 1, 12, 15, tzinfo=UTC)
    said = {"uuid": uuid4(), "now": january}

    answer = answered.ice_is_used(link_to(row), matter(row), "Skaters", **said)

    assert answer.urgent
    assert BlockName.PEOPLE in names(system, january)


def test_system_that_stood_still_with_ice_on_starts_only_once_owner_and_signs_are_seen_to():
    _site, system, _at = place(make.contact())
    decided(system)
    january = datetime(2027, 1, 12, 15, tzinfo=UTC)
    StateChange.objects.create(
        system=system, at=january, state=SystemState.FAILED, entered_at=january
    )

    assert {BlockName.OWNER_TOLD, BlockName.SIGNS_SEEN} <= names(
        system, january + timedelta(hours=3)
    )


def matter(row):
    return matter_of(link_to(row), now=row.made_at)
