"""Dropping a stop until a day: off the week now, and not planned again before then."""

from datetime import date, datetime

from django.db import transaction

from customers.models import User
from servicedesk.actions.routes.hands import take_off
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.tickets import TicketRefused, postpone_ticket
from servicedesk.kinds import Harm
from servicedesk.models import Decision, DueItem, Stop, Ticket


def open_work(stop: Stop) -> list[tuple[Ticket, date | None]]:
    """The open tickets of a stop, each with the last day inside its tolerance. Two queries."""
    tickets = list(
        Ticket.objects.open()
        .filter(stops=stop)
        .select_related("task", "site", "system")
        .order_by("pk")
    )
    closes = {
        (item.place_key, item.task_id, item.occasion): item.closes_on
        for item in DueItem.objects.filter(site=stop.site_id)
    }
    return [(t, closes.get((t.place_key, t.task_id, t.occasion))) for t in tickets]


@transaction.atomic
def drop_until(
    stop: Stop, *, until_on: date, reason: str, by: User, today: date, now: datetime
) -> list[Decision]:
    """Take a draft stop off; its tickets are put off to a day, by a name and with a reason.

    Returns what was decided, one a ticket. Work against danger is not put off here beyond its
    tolerance.
    """
    work = open_work(stop)
    for ticket, closes_on in work:
        if ticket.task.harm == Harm.SAFETY and (closes_on is None or until_on > closes_on):
            ends = f"{closes_on:%d %B}" if closes_on else "at once"
            raise RouteRefused(
                f"{ticket.task} is about somebody's safety and its tolerance ends {ends}. "
                "Choose an earlier day, or decide it on the ticket itself."
            )
    take_off(stop, today=today)
    made = []
    for ticket, _ in work:
        try:
            made.append(postpone_ticket(ticket, until_on=until_on, by=by, reason=reason, now=now))
        except TicketRefused as refused:
            raise RouteRefused(str(refused)) from None
    return made
