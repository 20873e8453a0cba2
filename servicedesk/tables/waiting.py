"""Work that waits for a place in the week: why, and which day would take it after all."""

from datetime import timedelta

from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext as _

from servicedesk.actions.routes.wishes import is_for_the_office
from servicedesk.actions.way_in import AGREE_FIRST
from servicedesk.kinds import HARM_ORDER
from servicedesk.models import LeftOut
from servicedesk.planning.standing import standing
from servicedesk.tables.tickets import tickets_listed

SHOWN = 60  # waiting tickets on the page; all of them are in the list of tickets


def waiting(user, run, *, today):
    """Open tickets without a day to come, with what the last plan said of each."""
    said = LeftOut.objects.filter(plan_run=run, ticket=OuterRef("pk")) if run else None
    tickets = tickets_listed(user).filter(Q(planned_on=None) | Q(planned_on__lt=today))
    if said is not None:
        tickets = tickets.annotate(
            because_left=Subquery(said.values("because")[:1]),
            best_on=Subquery(said.values("day")[:1]),
            best_name=Subquery(said.values("technician__user__first_name")[:1]),
            best_hm=Subquery(said.values("detour_hm")[:1]),
            best_people=Subquery(said.values("people")[:1]),
            best_at=Subquery(said.values("meet_at")[:1]),
        )
    return tickets.select_related("task", "site", "system")


def by_site(rows):
    """Rows of tickets as one entry a site, in the order of the first row of each."""
    sites = {}
    for row in rows:
        sites.setdefault(row["ticket"].site_id, []).append(row)
    return [
        {
            "site": rows[0]["ticket"].site,
            "ponds": list(dict.fromkeys(filter(None, (r["ticket"].pond_name for r in rows)))),
            "minutes": sum(row["ticket"].task.minutes for row in rows),
            "rows": rows,
        }
        for rows in sites.values()
    ]


def waiting_rows(tickets, week, held=None):
    """(due by the end of the week, can wait): one dict a ticket, the gravest first.

    held: what keeps a ticket back today, in words, whatever the last plan said.
    """
    held = held or {}
    due, can_wait = [], []
    for ticket in tickets:
        there = standing(
            week.first_on,
            opens_on=ticket.opens_on,
            due_on=ticket.due_on,
            closes_on=ticket.closes_on,
            paused=bool(ticket.paused),
        )
        said = held.get(ticket.pk)
        if is_for_the_office(ticket):
            said = _("For the office: nobody drives there for it. It is in no plan.")
        because = said or getattr(ticket, "because_left", None) or _why(ticket)
        later = _can_wait(ticket, week.sunday)
        rows = can_wait if later else due
        rows.append(
            {
                "ticket": ticket,
                "standing": there,
                "because": because,
                "agree": said == AGREE_FIRST,
                "best": None if said else _best(ticket, week),
            }
        )
    return sorted(due, key=_rank), sorted(can_wait, key=lambda row: -row["standing"].lateness)


def _can_wait(ticket, sunday):
    return bool(ticket.paused or (ticket.due_on and ticket.due_on > sunday))


def all_can_wait(user, pks, day, *, today):
    """Whether none of some tickets without a day is due in the week of a day."""
    sunday = day + timedelta(days=6 - day.weekday())
    found = list(waiting(user, None, today=today).filter(pk__in=pks))
    return bool(found) and all(_can_wait(ticket, sunday) for ticket in found)


def _rank(row):
    ticket = row["ticket"]
    return (HARM_ORDER[ticket.task.harm], -row["standing"].lateness, ticket.pk)


def _best(ticket, week):
    """The day that would take it after all, with whom and how far out of the way."""
    on = getattr(ticket, "best_on", None)
    if on is None or on < week.first_on or not ticket.best_name:
        return None
    people = [week.technicians.get(pk) for pk in ticket.best_people or ()]
    if not all(people):
        return None  # somebody who would meet there has left since
    names = [person.user.first_name for person in people] or [ticket.best_name]
    name = _(" and ").join(names)
    return {"day": on, "name": name, "km": ticket.best_hm / 10, "at": ticket.best_at}


def _why(ticket):
    return _("Not in the last plan of this week: plan it again, or place it by hand.")
