"""One function per mail: the part of a letter that its lines need, in the reader's words.

A letter may carry several parts: at most one ordinary mail goes to an address each day.
"""

from collections import defaultdict
from datetime import date, timedelta

from django.utils.translation import gettext_lazy as _

from customers.kinds import MailTopic
from equipment.kinds import PositionKind
from equipment.models import System
from servicedesk.emails import links, report, restart, rows, winter
from servicedesk.emails.parts import part_of
from servicedesk.kinds import AnswerKind, NotDoneReason
from servicedesk.models import DueItem, OwnerAnswer, SystemCheck, Task, Work
from servicedesk.planning.calendar import site_date, week_name

FREE = _("You are not charged for this journey.")
AS_AGREED = _("You had confirmed this visit. Whether the journey is charged, we settle with you.")
WE_COME_AGAIN = _("We come again and write to you before. You need not do anything.")
TELL_US = _("Please tell us how we get in. We come again after that.")
NOT_DONE = {  # why, and what happens next; nobody is blamed
    NotDoneReason.NO_ACCESS: (_("we could not get to it"), TELL_US),
    NotDoneReason.WEATHER: (_("the weather did not allow it"), WE_COME_AGAIN),
    NotDoneReason.NOT_SAFE_TO_WORK: (_("conditions on the day did not allow it"), WE_COME_AGAIN),
    NotDoneReason.PART_MISSING: (_("a part was not on the van"), WE_COME_AGAIN),
    NotDoneReason.OWNER_REFUSED: (
        _("it was not wished on the day"),
        _("Tell us when it suits you, or that you do not want it."),
    ),
    NotDoneReason.FOUND_OFF: (
        _("the system was off when we came"),
        _("Please leave it as it is. We call you about what comes next."),
    ),
    NotDoneReason.PARTLY_DONE: (_("one part of it is left to do"), WE_COME_AGAIN),
}


def visit_proposed(contact, lines, *, now, lead=True):
    """When we plan to come, and what for: confirm, another day, did it, problem."""
    made = _visit_rows(lines, now=now)
    week = {row.facts["week"] for row in made}
    for_all = {}
    if len(made) > 1 and len(week) == 1:
        expires_at = max(row.facts["expires_at"] for row in made)
        for_all = links.for_week(lines[0], week.pop(), expires_at=expires_at, now=now)
    return part_of("visit_proposed", contact, made, all_url=for_all.get("confirm"), lead=lead)


def visit_reminder(contact, lines, *, now, lead=True):
    """The visit is near: prepare, change, problem."""
    return part_of("visit_reminder", contact, _visit_rows(lines, now=now), lead=lead)


def owner_task_due(contact, lines, *, now, lead=True):
    """Something that the owner may do himself is due, in four steps."""
    tickets = [line.ticket for line in lines]
    places = rows.waters([rows.place_of_ticket(ticket) for ticket in tickets])
    due = _due_items(tickets)
    parts = rows.parts_that_fit(tickets, on=now.date())
    made = []
    for line in lines:
        ticket = line.ticket
        item = due.get((ticket.place_key, ticket.task_id, ticket.occasion))
        made.append(
            rows.Row(
                places[rows.place_of_ticket(ticket)],
                links.for_task(line, now=now),
                {
                    "job": ticket.task.owner_name,
                    "parts": [str(part) for part in parts.get(ticket.pk, ())],
                    "due": rows.day_words((item and item.due_on) or ticket.due_when_opened_on),
                },
            )
        )
    outlets = [_is_outlet(ticket.task) for ticket in tickets]
    return part_of(
        "owner_task_due", contact, made, outlet=any(outlets), cabinet=not all(outlets), lead=lead
    )


def owner_rhythm(contact, lines, *, now, lead=True):
    """What the owner looks after himself is due again: a row for each, and four steps."""
    tasks = Task.objects.in_bulk({line.facts["task"] for line in lines})
    systems = System.objects.select_related("site").in_bulk(
        {line.facts["system"] for line in lines}
    )
    found = [systems[line.facts["system"]] for line in lines]
    places = rows.waters([(system.site, system.pk, None) for system in found])
    made, outlets = [], []
    for line, system in zip(lines, found, strict=True):
        task = tasks[line.facts["task"]]
        outlets.append(_is_outlet(task))
        facts = {
            "job": task.owner_name,
            "system": system.name,
            "due": rows.day_words(date.fromisoformat(line.facts["due"])),
            "again": line.period.endswith("/2"),
        }
        urls = links.for_own(line, now=now)
        made.append(rows.Row(places[(system.site, system.pk, None)], urls, facts))
    return part_of(
        "owner_rhythm", contact, made, outlet=any(outlets), cabinet=not all(outlets), lead=lead
    )


def visit_report(contact, lines, *, now, lead=True):
    """What was found, what was done, whether it runs, and when we come again."""
    visits = [line.visit for line in lines]
    told = report.of_visits(visits, units=contact.units)
    places = rows.waters([(visit.site, None, None) for visit in visits])
    made = [
        rows.Row(
            places[(line.visit.site, None, None)],
            links.for_report(line, now=now),
            told[line.visit_id],
        )
        for line in lines
    ]
    return part_of("visit_report", contact, made, lead=lead)


def not_done(contact, lines, *, now, lead=True):
    """Which job could not be done, why, and what happens next. Nobody is blamed."""
    wanted = [line.facts.get("work") for line in lines]
    works = Work.objects.select_related("visit").in_bulk(wanted)
    confirmed = set(
        OwnerAnswer.objects.standing()
        .filter(ticket__in=[line.ticket_id for line in lines], kind=AnswerKind.CONFIRM)
        .values_list("ticket_id", flat=True)
    )
    places = rows.waters([rows.place_of_ticket(line.ticket) for line in lines])
    made = []
    for line in lines:
        work, zone = works[line.facts["work"]], line.ticket.site.time_zone
        why, next_step = NOT_DONE[work.not_done_reason]
        shut_out = work.not_done_reason == NotDoneReason.NO_ACCESS
        facts = {
            "job": line.ticket.task.owner_name,
            "day": rows.day_words(site_date(work.done_at, zone)),
            "why": why,
            "next": next_step,
            "cost": AS_AGREED if shut_out and line.ticket_id in confirmed else FREE,
        }
        urls = links.for_visit(line, expires_at=now + links.LONG, now=now)
        urls |= links.to_report(line, work.visit, now=now)
        made.append(rows.Row(places[rows.place_of_ticket(line.ticket)], urls, facts))
    return part_of("not_done", contact, made, lead=lead)


def system_off(contact, lines, *, now, lead=True):
    """A system stands still: leave it so, we call; in the ice season, keep off the ice."""
    checks = {
        check.pk: check
        for check in SystemCheck.objects.filter(
            pk__in=[line.facts.get("check") for line in lines]
        ).select_related("system__site", "visit")
    }
    found = [checks[line.facts["check"]] for line in lines]
    places = rows.waters([(c.system.site, c.system_id, None) for c in found])
    made = []
    for line, check in zip(lines, found, strict=True):
        zone = check.system.site.time_zone
        since = check.off_since_at
        made.append(
            rows.Row(
                places[(check.system.site, check.system_id, None)],
                links.for_site(line, now=now) | links.to_report(line, check.visit, now=now),
                {
                    "system": check.system.name,
                    "seen": rows.day_words(site_date(check.visit.arrived_at, zone)),
                    "since": rows.day_words(site_date(since, zone)) if since else "",
                    "found_running": check.found_running,
                    "ice": bool(line.facts.get("ice")),
                },
            )
        )
    return part_of("system_off", contact, made, lead=lead)


def recall(contact, lines, *, now, lead=True):
    """Which unit is recalled, whether it has to stop, what comes next, and who pays."""
    units = [line.recall_unit for line in lines]
    places = rows.waters([(unit.site, unit.system_id, None) for unit in units])
    made = []
    for line, unit in zip(lines, units, strict=True):
        facts = {
            "system": unit.system.name,
            "unit": str(unit.component.type),
            "serial": unit.component.serial,
            "campaign": unit.campaign,
            "we_come": bool(unit.ticket_id),
            "ice": bool(line.facts.get("ice")),
        }
        urls = links.for_recall(line, now=now)
        made.append(rows.Row(places[(unit.site, unit.system_id, None)], urls, facts))
    return part_of("recall", contact, made, lead=lead)


MAILS = {  # in the order in which parts stand in a letter; the first gives the subject
    MailTopic.SYSTEM_OFF: system_off,
    MailTopic.RECALL: recall,
    MailTopic.THIN_ICE: winter.thin_ice,
    MailTopic.HEAT_ADVISORY: winter.heat_advisory,
    MailTopic.RESTART: restart.restart,
    MailTopic.NOT_DONE: not_done,
    MailTopic.WINTER_PLAN: winter.winter_plan,
    MailTopic.VISIT_PROPOSED: visit_proposed,
    MailTopic.VISIT_REMINDER: visit_reminder,
    MailTopic.OWNER_TASK_DUE: owner_task_due,
    MailTopic.OWNER_RHYTHM: owner_rhythm,
    MailTopic.VISIT_REPORT: visit_report,
}


def _visit_rows(lines, *, now):
    """One row for each stop, however many jobs are done there."""
    stops = rows.next_stops([line.ticket_id for line in lines], after=now)
    by_stop = defaultdict(list)
    for line in lines:
        if stop := stops.get(line.ticket_id):
            by_stop[stop].append(line)
    places = rows.waters([rows.place_of_ticket(line.ticket) for line in lines])
    sites = {stop.site for stop in by_stop}
    first = min((stop.route.day for stop in by_stop), default=date.min)
    asked = rows.prepare(sites, on=first)
    return [_visit_row(stop, of_stop, places, asked, now=now) for stop, of_stop in by_stop.items()]


def _visit_row(stop, lines, places, asked, *, now):
    jobs = defaultdict(list)
    names = {}
    for line in lines:
        water = places[rows.place_of_ticket(line.ticket)]
        names |= dict.fromkeys(water.ponds)
        if line.ticket.task.owner_name not in jobs[water.name]:
            jobs[water.name].append(line.ticket.task.owner_name)
    zone = stop.site.time_zone
    expires_at = max(stop.leave_at, now) + timedelta(hours=12)
    urls = links.for_visit(lines[0], expires_at=expires_at, now=now)
    if not any(line.ticket.task.by_owner for line in lines):
        urls.pop("did_it_myself")
    facts = {
        "day": rows.day_words(stop.route.day),
        "half": rows.half_day(stop.arrive_at, zone),
        "week": week_name(stop.route.day),
        "expires_at": expires_at,
        "who": stop.route.technician.user.get_full_name() or str(stop.route.technician),
        "jobs": [words for of_water in jobs.values() for words in of_water]
        if len(jobs) == 1
        else [f"{name}: {words}" for name, of_water in jobs.items() for words in of_water],
        "prepare": asked[stop.site_id],
    }
    return rows.Row(rows.Water(stop.site.name, list(names)), urls, facts)


def _is_outlet(task):
    return task.slug == "gfci_test" or task.position_kind == PositionKind.GFCI


def _due_items(tickets):
    items = DueItem.objects.filter(place_key__in=[ticket.place_key for ticket in tickets])
    return {(item.place_key, item.task_id, item.occasion): item for item in items}
