"""A recall finds every unit wherever it stands, and tells whoever has the water today."""

from datetime import UTC, date, datetime, timedelta

import pytest

from customers.actions import CannotStop, stop_mail
from customers.kinds import MailTopic
from customers.models import MailStop, Ownership
from equipment.kinds import ComponentState, SystemState
from equipment.models import Fitting
from servicedesk.actions import recalls, reminders
from servicedesk.actions.recalls import RecallRefused
from servicedesk.actions.recalls.campaigns import waiting_units
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.work import record_work
from servicedesk.kinds import RecallOutcome, RecallStood, TicketEnd
from servicedesk.models import Message, OfficeTask, RecallUnit, Reminder, Task, Ticket
from tests import make
from tests.servicedesk.actions.outbox import Clock, Relay

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 7, 6, 15, tzinfo=UTC)
SOLD_ON = date(2026, 7, 1)


@pytest.fixture
def model():
    make.firm()
    load_task_defaults()
    return make.compressor_type(model="P60")


def fitted(model, serial, *, owner=None, system=None, **fields):
    owner = owner or make.contact()
    system = system or make.system(site=make.site(owner=owner.customer))
    unit = make.component(type=model, serial=serial, **fields)
    make.fit(unit, make.position(system=system))
    return unit


def opened(model, **fields):
    start = {"name": "Piston P60, cracked covers", "notice": "maker's letter of 2 July 2026"}
    start |= {"what_to_do": "The cover is replaced.", "types": [model], "by": make.manager()}
    start |= {"serial_from": "4400", "serial_to": "4499", "now": NOW}
    return recalls.open_recall(**start | fields)


def stood(campaign):
    units = RecallUnit.objects.filter(campaign=campaign).select_related("component")
    return {unit.component.serial: unit.stood for unit in units}


def test_recall_on_a_serial_range_lists_units_wherever_they_stand(model):
    fitted(model, "4401")
    fitted(model, "4499", state=ComponentState.LOANER)
    make.component(type=model, serial="4410", state=ComponentState.IN_SHOP)
    make.component(type=model, serial="4411", state=ComponentState.SPARE)
    make.component(type=model, serial="4412")
    make.component(type=model, serial="4413", state=ComponentState.LOANER)
    make.component(type=model, serial="4414", state=ComponentState.SCRAPPED)
    moved = fitted(model, "4420")
    Fitting.objects.filter(component=moved).update(to_on=date(2026, 5, 1))
    make.fit(moved, make.position(), from_on=date(2026, 5, 2))
    taken_off = fitted(model, "4430")
    Fitting.objects.filter(component=taken_off).update(to_on=date(2026, 5, 1))
    fitted(model, "4500")
    fitted(make.compressor_type(), "4402")

    campaign = opened(model)

    assert stood(campaign) == {
        "4401": RecallStood.INSTALLED,
        "4499": RecallStood.LOANER,
        "4410": RecallStood.SHOP,
        "4411": RecallStood.SPARE,
        "4412": RecallStood.STOCK,
        "4413": RecallStood.LOANER,
        "4414": RecallStood.SCRAPPED,
        "4420": RecallStood.MOVED,
        "4430": RecallStood.TAKEN_OFF,
    }
    tickets = Ticket.objects.open().filter(occasion=campaign.occasion)
    assert {t.task.slug for t in tickets} == {"recall_check"}
    assert tickets.count() == 3
    assert all(ticket.no_charge for ticket in tickets)
    office = " ".join(OfficeTask.objects.values_list("text", flat=True))
    assert "4410, 4411, 4412, 4413" in office
    assert "4430 was taken off" in office


def test_only_the_new_owner_of_a_sold_pond_is_written_to_and_the_units_history_is_intact(model):
    old, new = make.contact(name="Ines Halvorsen"), make.contact(name="Wen Sorrel")
    site = make.site(owner=old.customer)
    pond = make.pond(site=site, name="Mill Pond")
    system = make.system(site=site)
    make.position("diffuser", system=system, pond=pond)
    unit = fitted(model, "4471", system=system)
    earlier = Fitting.objects.get(component=unit)
    Ownership.objects.create(customer=old.customer, pond=pond, from_on=make.LONG_AGO, to_on=SOLD_ON)
    Ownership.objects.create(customer=new.customer, pond=pond, from_on=SOLD_ON)

    campaign = opened(model)

    assert stood(campaign) == {"4471": RecallStood.SOLD}
    assert [line.contact for line in Reminder.objects.all()] == [new]
    assert Fitting.objects.get(component=unit) == earlier
    assert Fitting.objects.get(component=unit).from_on == system.installed_on


def test_owner_who_wants_no_reminders_still_gets_the_recall(model):
    owner = make.contact()
    for topic in ("visit_proposed", "visit_reminder", "owner_task_due"):
        stop_mail(owner, topic, at=NOW, how="link in a mail")
    with pytest.raises(CannotStop):
        stop_mail(owner, MailTopic.RECALL, at=NOW, how="link in a mail")
    MailStop.objects.create(contact=owner, topic=MailTopic.RECALL, stopped_at=NOW)
    fitted(model, "4471", owner=owner)
    opened(model)
    relay = Relay()

    assert reminders.send_queued_messages(clock=Clock(NOW), open_relay=relay) == 1

    message = Message.objects.get()
    assert (message.contact, message.topic) == (owner, MailTopic.RECALL)
    for body in (message.text, message.html):
        assert "serial number 4471" in body
        assert "The cover is replaced." in body
        assert "does not ask to stop it" in body
        assert "It costs you nothing." in body
    assert b"List-Unsubscribe" not in relay.taken[0]


def test_unit_whose_number_nobody_can_read_yields_a_look_and_no_mail(model):
    unit = fitted(model, "")

    campaign = opened(model)

    row = RecallUnit.objects.get()
    assert (row.component, row.must_look) == (unit, True)
    assert row.ticket.task.slug == "recall_look"
    assert not Reminder.objects.exists()
    recalls.record_serial(row, "4433", by=make.manager(), now=NOW)
    row.refresh_from_db()
    assert row.ticket.task.slug == "recall_check"
    assert [t.task.slug for t in Ticket.objects.open()] == ["recall_check"]
    assert Reminder.objects.get().recall_unit == row
    unit.refresh_from_db()
    assert unit.serial == "4433"
    assert waiting_units(campaign).get() == row


def test_number_that_turns_out_to_lie_outside_ends_the_matter(model):
    fitted(model, "")
    campaign = opened(model)
    row = RecallUnit.objects.get()

    with pytest.raises(RecallRefused, match="Read it again"):
        recalls.record_serial(row, "44?", by=make.manager(), now=NOW)
    recalls.record_serial(row, "4500", by=make.manager(), now=NOW)

    row.refresh_from_db()
    assert row.outcome == RecallOutcome.NOT_AFFECTED
    assert not Ticket.objects.open().exists()
    assert not waiting_units(campaign).exists()


def test_ticket_closes_by_work_and_the_recall_when_every_unit_is_dealt_with(model):
    fitted(model, "4471")
    shop = make.component(type=model, serial="4410", state=ComponentState.IN_SHOP)
    campaign = opened(model)
    with pytest.raises(RecallRefused, match="Units not dealt with: 2"):
        recalls.close_recall(campaign, by=make.manager(), now=NOW)
    ticket = Ticket.objects.open().get()

    record_work(
        uuid="7a3d2f16-50a5-4a04-8a22-6ff7d6d3a001",
        task=ticket.task,
        place=ticket.place,
        ticket=ticket,
        done_at=NOW,
        now=NOW,
        user=make.user(),
    )
    row = RecallUnit.objects.get(component=shop)
    recalls.record_outcome(row, RecallOutcome.MENDED, by=make.manager(), now=NOW)
    recalls.close_recall(campaign, by=make.manager(), now=NOW)

    ticket.refresh_from_db()
    campaign.refresh_from_db()
    assert ticket.end == TicketEnd.DONE
    assert campaign.closed_at == NOW
    relay = Relay()
    assert reminders.send_queued_messages(clock=Clock(NOW), open_relay=relay) == 0
    assert Reminder.objects.get().dropped_because == "the unit is dealt with"


def test_unit_that_comes_into_the_register_later_is_found_and_nothing_twice(model):
    fitted(model, "4471")
    campaign = opened(model)
    fitted(model, "4472")

    assert recalls.look_again(now=NOW + timedelta(days=1)) == 1
    assert recalls.look_again(now=NOW + timedelta(days=2)) == 0
    assert set(stood(campaign)) == {"4471", "4472"}
    assert Ticket.objects.open().count() == 2


def test_unit_that_must_stop_is_told_at_night_and_the_office_phones_first(model):
    fitted(model, "4471")
    night = datetime(2026, 7, 6, 7, tzinfo=UTC)  # 02:00 in the reader's zone
    opened(model, stop_at_once=True, now=night)

    assert Ticket.objects.open().get().due_when_opened_on == date(2026, 7, 6)
    assert "Phone their owners today" in OfficeTask.objects.get().text
    assert reminders.send_queued_messages(clock=Clock(night), open_relay=Relay()) == 1
    assert "pull its plug" in Message.objects.get().text


def test_owner_of_many_units_gets_one_mail_with_a_row_for_each(model):
    owner = make.contact()
    site = make.site(owner=owner.customer)
    for serial in ("4401", "4402", "4403"):
        fitted(model, serial, system=make.system(site=site))
    opened(model)

    assert reminders.send_queued_messages(clock=Clock(NOW), open_relay=Relay()) == 1

    text = Message.objects.get().text
    assert all(f"serial number {serial}" in text for serial in ("4401", "4402", "4403"))


def test_recall_without_its_tasks_is_refused_before_anything_is_written(model):
    Task.objects.filter(slug="recall_look").delete()

    with pytest.raises(RecallRefused, match="prepare"):
        opened(model)


def test_owner_of_a_system_that_another_firm_looks_after_is_told_and_no_visit_is_owed(model):
    system = make.system(state=SystemState.TRANSFERRED, site=make.site(owner=make.customer()))
    make.contact(customer=Ownership.objects.get(site=system.site).customer)
    fitted(model, "4471", system=system)
    opened(model)

    assert not Ticket.objects.exists()
    assert Reminder.objects.count() == 1
    assert "another firm" in OfficeTask.objects.get().text


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"types": []}, "Choose the models"),
        ({"what_to_do": "Then it is safe."}, "promises too much"),
        ({"serial_from": "4499", "serial_to": "4400"}, "ends before it begins"),
    ],
)
def test_recall_that_cannot_stand_is_refused_with_a_sentence(model, fields, says):
    with pytest.raises(RecallRefused, match=says):
        opened(model, **fields)

    assert not RecallUnit.objects.exists()
