"""Queue what is owed: proposals of visits, reminders, tasks of the owner, reports, warnings."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet

from customers.actions import Receivers
from customers.kinds import MailTopic
from customers.models import Site
from servicedesk.actions.climates import climate_of
from servicedesk.actions.reminders.owe import owe, owe_about_day
from servicedesk.emails import rows
from servicedesk.kinds import AnswerKind, LeftOffReason, OfficeTaskKind, Outcome, Who
from servicedesk.models import (
    DueItem,
    OfficeTask,
    OwnerAnswer,
    Reminder,
    Rhythm,
    Route,
    Stop,
    SystemCheck,
    Ticket,
    Visit,
    Work,
)
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible

DAYS_TOLD_BY_MAIL = 2  # a third change of the day is told by phone
REMIND_DAYS_BEFORE = 2  # one day before where the visit is confirmed
AHEAD = timedelta(days=REMIND_DAYS_BEFORE + 2)
AHEAD_OF_UTC = timedelta(hours=14)


def queue_reminders(*, clock: Callable[[], datetime]) -> int:
    """All that becomes owed with time: reminders of visits, and tasks of owners."""
    return queue_visit_reminders(clock=clock) + queue_owner_tasks_due(clock=clock)


@transaction.atomic
def queue_visit_proposals(routes: Iterable[Route], *, now: datetime) -> int:
    """Tell owners of the visits of routes that were just published; how many lines are new."""
    stops = Stop.objects.filter(route__in=[route.pk for route in routes])
    return queue_proposals_of(stops, now=now)


@transaction.atomic
def queue_proposals_of(stops: QuerySet, *, now: datetime) -> int:
    """Tell owners of the day of these stops; how many lines are new."""
    owed = 0
    for stop, tickets, contacts in with_receivers(stops_with_tickets(stops), now=now):
        if not contacts:
            _phone(
                f"Nobody at {stop.site} can be reached by mail. Phone about the visit on "
                f"{stop.route.day:%Y-%m-%d}.",
                key=f"unreachable:{stop.uuid}",
                site=stop.site,
                now=now,
            )
        for ticket in tickets:
            for contact in contacts:
                owed += _propose(contact, ticket, stop, now=now)
    return owed


def _propose(contact, ticket, stop, *, now):
    day = stop.route.day
    told = owe_about_day(
        contact, MailTopic.VISIT_PROPOSED, ticket, day, now=now, at_most=DAYS_TOLD_BY_MAIL
    )
    if told == "enough":
        _phone(
            f"{contact} was told of {DAYS_TOLD_BY_MAIL} days already. Phone: we come to "
            f"{stop.site} on {day:%Y-%m-%d}.",
            key=f"told-enough:{contact.pk}:{stop.site_id}:{day:%Y-%m-%d}",
            site=stop.site,
            contact=contact,
            now=now,
        )
    return told == "owed"


def queue_visit_reminders(*, clock: Callable[[], datetime]) -> int:
    """Remind of published visits: two days before, or one where the visit is confirmed.

    A visit of which two mails went unanswered becomes a task for the office, not a third mail.
    """
    now = clock()
    coming = Stop.objects.filter(
        route__published_at__isnull=False, arrive_at__gt=now, arrive_at__lt=now + AHEAD
    )
    owed = 0
    for stop, tickets, contacts in with_receivers(stops_with_tickets(coming), now=now):
        confirmed = any(ticket.confirmed for ticket in tickets)
        days = (stop.route.day - site_date(now, stop.site.time_zone)).days
        if 0 < days <= (1 if confirmed else REMIND_DAYS_BEFORE):
            owed += _remind(stop, tickets, contacts, now=now)
        if days == 1 and not any(ticket.answered for ticket in tickets):
            _phone_unanswered(stop, tickets, now=now)
    return owed


def _remind(stop, tickets, contacts, *, now):
    told = [
        owe_about_day(
            contact,
            MailTopic.VISIT_REMINDER,
            ticket,
            stop.route.day,
            now=now,
            at_most=DAYS_TOLD_BY_MAIL,
        )
        for ticket in tickets
        for contact in contacts
    ]
    return told.count("owed")


def _phone_unanswered(stop, tickets, *, now):
    topics = [MailTopic.VISIT_PROPOSED, MailTopic.VISIT_REMINDER]
    sent = Reminder.objects.filter(
        ticket__in=tickets, topic__in=topics, message__sent_at__isnull=False
    )
    if set(sent.values_list("topic", flat=True)) == set(topics):
        _phone(
            f"Two mails about the visit to {stop.site} tomorrow went unanswered. Phone the owner.",
            key=f"unanswered:{stop.uuid}",
            site=stop.site,
            now=now,
        )


def queue_owner_tasks_due(*, clock: Callable[[], datetime]) -> int:
    """Tell owners of what they do themselves, from the due day on and once for each ticket."""
    now = clock()
    of_owners = Rhythm.objects.filter(task=OuterRef("task"), who=Who.OWNER)
    item = DueItem.objects.filter(
        place_key=OuterRef("place_key"),
        task=OuterRef("task"),
        occasion=OuterRef("occasion"),
        due_on__lte=(now + AHEAD_OF_UTC).date(),
        paused=False,
    )
    told = Reminder.objects.filter(ticket=OuterRef("pk"), topic=MailTopic.OWNER_TASK_DUE)
    due = Ticket.objects.open().filter(
        Exists(of_owners), Exists(item), ~Exists(told), task__by_owner=True
    )
    due = list(due.select_related("task", "site").order_by("pk"))
    planned = rows.next_stops([ticket.pk for ticket in due], after=now)
    due = [ticket for ticket in due if ticket.pk not in planned]  # we come anyway
    receivers = _receivers_by_day({ticket.site for ticket in due}, now=now)
    owed = 0
    for ticket in due:
        for contact in _receivers(receivers, ticket.site, now).of(ticket.site_id, ticket.pond_id):
            owed += owe(
                contact, MailTopic.OWNER_TASK_DUE, f"ticket:{ticket.pk}", now=now, ticket=ticket
            )
    return owed


def queue_visit_report(visit: Visit, *, now: datetime) -> int:
    """Tell what was found and done, once a visit is accepted and something was done at it."""
    if visit.accepted_at is None or not visit.works.filter(outcome=Outcome.DONE).exists():
        return 0
    return sum(
        owe(contact, MailTopic.VISIT_REPORT, f"visit:{visit.pk}", now=now, visit=visit)
        for contact in _of_site(visit.site, now=now).of(visit.site_id)
    )


def queue_not_done(work: Work, *, now: datetime) -> int:
    """Tell that a job could not be done, why, and what happens next."""
    if work.outcome != Outcome.NOT_DONE or work.ticket_id is None:
        return 0
    return sum(
        owe(
            contact,
            MailTopic.NOT_DONE,
            f"work:{work.pk}",
            now=now,
            ticket=work.ticket,
            visit=work.visit,
            facts={"work": work.pk},
        )
        for contact in _of_site(work.site, now=now).of(work.site_id, work.pond_id)
    )


def queue_system_off(check: SystemCheck, *, now: datetime) -> int:
    """Warn that a system stands still. Where there may be ice the danger is at once: phone too.

    A system that was shut down for the winter as planned is no news.
    """
    if check.left_running or check.left_off_reason == LeftOffReason.WINTER:
        return 0
    site = check.system.site
    ice = ice_possible(climate_of(site), site_date(now, site.time_zone))
    contacts = _of_site(site, now=now).of(site.pk, warning=True)
    if ice or not contacts:
        _phone(
            f"{check.system} at {site} stands still. Phone the owner"
            + (": the open place in the ice may have skinned over and is weak." if ice else "."),
            key=f"off:{check.pk}",
            site=site,
            now=now,
            urgent=True,
        )
    facts = {"check": check.pk, "system": check.system_id, "ice": ice}
    return sum(
        owe(
            contact,
            MailTopic.SYSTEM_OFF,
            f"check:{check.pk}",
            now=now,
            visit=check.visit,
            facts=facts,
        )
        for contact in contacts
    )


def stops_with_tickets(stops):
    """Stops, each with its open tickets, which know whether an owner has answered."""
    answers = OwnerAnswer.objects.standing().filter(ticket=OuterRef("pk"))
    tickets = (
        Ticket.objects.open()
        .filter(stops__in=stops)
        .select_related("task", "site")
        .annotate(
            stop_pk=F("stops__pk"),
            answered=Exists(answers),
            confirmed=Exists(answers.filter(kind=AnswerKind.CONFIRM)),
        )
        .order_by("pk")
    )
    by_stop = defaultdict(list)
    for ticket in tickets:
        by_stop[ticket.stop_pk].append(ticket)
    found = stops.select_related("site", "route__technician__user").order_by("arrive_at", "pk")
    return [(stop, by_stop[stop.pk]) for stop in found if by_stop[stop.pk]]


def with_receivers(stops, *, now):
    """Stops with their tickets, and the contacts that hear of them."""
    receivers = _receivers_by_day({stop.site for stop, _tickets in stops}, now=now)
    for stop, tickets in stops:
        of_site = _receivers(receivers, stop.site, now)
        contacts = {
            contact.pk: contact
            for ticket in tickets
            for contact in of_site.of(stop.site_id, ticket.pond_id)
        }
        yield stop, tickets, list(contacts.values())


def _receivers_by_day(sites, *, now):
    by_day = defaultdict(list)
    for site in sites:
        by_day[site_date(now, site.time_zone)].append(site.pk)
    return {day: Receivers(pks, on=day) for day, pks in by_day.items()}


def _receivers(by_day, site, now):
    return by_day[site_date(now, site.time_zone)]


def _of_site(site: Site, *, now):
    return Receivers([site.pk], on=site_date(now, site.time_zone))


def _phone(text, *, key, site, now, contact=None, urgent=False):
    OfficeTask.objects.get_or_create(
        key=key,
        defaults={
            "kind": OfficeTaskKind.PHONE_OWNER,
            "text": text,
            "site": site,
            "contact": contact,
            "urgent": urgent,
            "opened_at": now,
        },
    )
