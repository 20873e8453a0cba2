"""One owed line of each kind of mail, built the least way that is true."""

from datetime import UTC, datetime, timedelta

from customers.kinds import HazardKind, MailTopic
from customers.models import Hazard
from equipment.kinds import Moment, Quantity, SystemState
from equipment.models import Reading, ReadingSet
from servicedesk import kinds
from servicedesk.actions import recalls, reminders
from servicedesk.actions.restarts.approve import Approval, approve_restart
from servicedesk.actions.restarts.propose import Told, propose_restart
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.actions.winter.asking import ask_about_winters
from servicedesk.actions.winter.heat import tell_of_heat
from servicedesk.actions.winter.notices import open_notices
from servicedesk.models import Defect, Hold, SystemCheck
from tests import make
from tests.servicedesk.actions.outbox import published

SEPTEMBER = datetime(2026, 9, 2, 15, tzinfo=UTC)


def place(contact):
    """A site with one pond and one system, and the filter of its compressor."""
    make.firm(postal_address="12 Weir Road\nAlderford", emergency_phone="911")
    site = make.site(owner=contact.customer, name="Halvorsen farm")
    pond = make.pond(site=site, name="Mill Pond")
    system = make.system(site=site, name="Cabinet at the mill")
    make.position("diffuser", system=system, pond=pond)
    return site, system, make.filter_position(system)


def ticket_at(filter_position, **fields):
    return make.ticket(at=filter_position, task=make.task(by_owner=True, **fields))


def visit_proposed(contact):
    site, _system, at = place(contact)
    Hazard.objects.create(site=site, kind=HazardKind.DOG)
    stop = published(ticket_at(at))
    reminders.queue_visit_proposals([stop.route], now=make.MORNING)


def visit_reminder(contact):
    _site, _system, at = place(contact)
    published(ticket_at(at))
    reminders.queue_visit_reminders(clock=lambda: make.MORNING)


def owner_task_due(contact):
    _site, _system, at = place(contact)
    ticket = ticket_at(at, part_roles=["filter_element"])
    make.part_for(at.serves.fittings.get().component.type, "filter_element")
    ticket.task.rhythms.update(who=kinds.Who.OWNER)
    make.due_item(ticket)
    reminders.queue_owner_tasks_due(clock=lambda: make.MORNING)


def owner_rhythm(contact, *, now=make.MORNING, jobs=("gfci_test",)):
    _site, system, at = place(contact)
    make.part_for(at.serves.fittings.get().component.type, "filter_element")
    for name, slug, words in (
        ("Filter check", "filter_check", "a look at the air filter"),
        ("Trip test", "gfci_test", "pressing the test button of the outlet"),
    ):
        if slug not in jobs:
            continue
        outlet = slug == "gfci_test"
        task = make.task(
            slug=slug,
            name=name,
            owner_name=words,
            by_owner=True,
            every=30,
            clock=kinds.Clock.CAL,
            place_kind=kinds.PlaceKind.SYSTEM if outlet else kinds.PlaceKind.POSITION,
            position_kind="" if outlet else "filter",
        )
        task.rhythms.update(who=kinds.Who.OWNER)
        make.work(system if outlet else at, task, done_at=now - timedelta(days=30))
    reminders.queue_owner_rhythms(clock=lambda: now)


def visit_report(contact):
    site, system, at = place(contact)
    visit = make.visit(site=site)
    task = make.task()
    make.work(at, task, visit=visit, found={"condition": "wet"})
    make.due_item(make.ticket(at=at, task=task))
    SystemCheck.objects.create(visit=visit, system=system, found_running=True, left_running=True)
    measured = ReadingSet.objects.create(
        system=system, moment=Moment.AS_LEFT, taken_at=make.MORNING, entered_at=make.MORNING
    )
    Reading.objects.create(set=measured, quantity=Quantity.PRESSURE, value=44_126.0)
    visit.reading_sets.add(measured)
    Defect.objects.create(
        site=site,
        system=system,
        visit=visit,
        sign=kinds.DefectSign.NOISE,
        seen_at=make.MORNING,
        entered_at=make.MORNING,
    )
    reminders.queue_visit_report(visit, now=make.MORNING)


def not_done(contact, reason=kinds.NotDoneReason.NO_ACCESS, *, confirmed=False):
    site, _system, at = place(contact)
    ticket = ticket_at(at)
    visit = make.visit(site=site)
    work = make.work(
        at,
        ticket.task,
        ticket=ticket,
        visit=visit,
        outcome=kinds.Outcome.NOT_DONE,
        not_done_reason=reason,
        note="gate code 4711 wrong",
    )
    if confirmed:
        make.answer(contact, kinds.AnswerKind.CONFIRM, ticket=ticket)
    reminders.queue_not_done(work, now=make.MORNING)


def system_off(contact, *, now=make.MORNING):
    site, system, _at = place(contact)
    make.region()
    system.state_changes.update(state=SystemState.FAILED)
    visit = make.visit(site=site, arrived_at=now)
    check = SystemCheck.objects.create(
        visit=visit,
        system=system,
        found_running=False,
        left_running=False,
        left_off_reason=kinds.LeftOffReason.FOUND_OFF,
    )
    reminders.queue_system_off(check, now=now)


def recall(contact, *, stop_at_once=True, now=make.MORNING):
    _site, system, _at = place(contact)
    load_task_defaults()
    model = make.compressor_type()
    make.fit(make.component(type=model, serial="4471"), make.position(system=system))
    recalls.open_recall(
        name="Cracked covers",
        notice="maker's letter of 2 May 2026",
        what_to_do="The cover is replaced.",
        types=[model],
        stop_at_once=stop_at_once,
        by=make.manager(),
        now=now,
    )


def winter_plan(contact):
    _site, system, _at = place(contact)
    make.due_item(make.ticket(at=system))
    ask_about_winters(now=SEPTEMBER)


def thin_ice(contact, *, occasion="season"):
    _site, system, _at = place(contact)
    make.winter_decision(system, decided="run_shallow")
    open_notices([system], now=make.MORNING, occasion=occasion)


def heat_advisory(contact):
    site, system, _at = place(contact)
    day = make.MORNING.date()
    make.due_item(make.ticket(at=system))
    hold = Hold.objects.create(
        kind=kinds.HoldKind.HEAT, site=site, from_on=day, to_on=day, reason="Hot and still"
    )
    tell_of_heat(hold, by=make.manager(), now=make.MORNING)


def restart(contact):
    _site, system, _at = place(contact)
    system.state_changes.update(state=SystemState.SHUT_WINTER)
    told = Told(read_at=make.MORNING, off_hours=40.0, ran_full_time=True, layered_season=False)
    made = propose_restart(system, told, by=make.user(), now=make.MORNING)
    given = Approval(first_on=make.MORNING.date(), watcher="Dario", weekend_watcher="Wen")
    approve_restart(made, given, by=make.manager(), now=make.MORNING)


SCENES = {
    MailTopic.VISIT_PROPOSED: visit_proposed,
    MailTopic.VISIT_REMINDER: visit_reminder,
    MailTopic.OWNER_TASK_DUE: owner_task_due,
    MailTopic.OWNER_RHYTHM: owner_rhythm,
    MailTopic.VISIT_REPORT: visit_report,
    MailTopic.NOT_DONE: not_done,
    MailTopic.SYSTEM_OFF: system_off,
    MailTopic.RECALL: recall,
    MailTopic.RESTART: restart,
    MailTopic.THIN_ICE: thin_ice,
    MailTopic.HEAT_ADVISORY: heat_advisory,
}
