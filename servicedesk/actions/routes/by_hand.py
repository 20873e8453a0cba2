"""The manager's hand on a week: each change is judged, made and recorded in one piece.

Pages come in here; what a change means for the days is said in `hands` and its neighbours.
"""

from collections.abc import Collection
from datetime import date, datetime, time

from customers.models import User
from servicedesk.actions.routes import dropping, hands, splitting, together
from servicedesk.actions.routes.undoing import recorded
from servicedesk.actions.routes.week import read_week
from servicedesk.kinds import HandKind
from servicedesk.models import DueItem, HandChange, Stop, Technician, Ticket
from servicedesk.planning.calendar import said_day


def _day(technician: Technician, day: date) -> str:
    return f"{technician}, {said_day(day)}"


def _of(stop: Stop) -> str:
    return _day(stop.route.technician, stop.route.day)


def place(
    ticket: Ticket,
    *,
    technicians: list[Technician],
    day: date,
    start: time | None,
    by: User | None,
    today: date,
    now: datetime,
) -> HandChange:
    """Put a ticket on the day of one technician, or of several at one time."""
    people = " and ".join(str(technician) for technician in technicians)
    says = f"{ticket.task} at {ticket.site} placed with {people}, {said_day(day)}."
    with recorded(HandKind.PLACED, says, day=day, by=by, today=today, now=now) as change:
        hands.place_by_hand(ticket, technicians=technicians, day=day, start=start, today=today)
    return change


def move(
    stop: Stop, *, technician: Technician, day: date, by: User | None, today: date, now: datetime
) -> HandChange:
    """Move a draft stop to another day or technician of its week."""
    says = f"{stop.site} moved from {_of(stop)}, to {_day(technician, day)}."
    on = stop.route.day
    with recorded(HandKind.MOVED, says, day=on, by=by, today=today, now=now) as change:
        move = together.move_together if hands.partners(stop) else hands.move_stop
        move(stop, technician=technician, day=day, today=today)
    return change


def take_off(stop: Stop, *, by: User | None, today: date, now: datetime) -> HandChange:
    """Take a draft stop off its day; its tickets wait for a place again."""
    says = f"{stop.site} taken off the day of {_of(stop)}."
    on = stop.route.day
    with recorded(HandKind.TAKEN_OFF, says, day=on, by=by, today=today, now=now) as change:
        hands.take_off(stop, today=today)
    return change


def keep(stop: Stop, *, stays: bool, by: User | None, today: date, now: datetime) -> HandChange:
    """Say that a stop stays where it is when the week is planned again, or that it may move."""
    kind, word = (HandKind.KEPT, "kept on") if stays else (HandKind.LET_GO, "let go from")
    says = f"{stop.site} {word} the day of {_of(stop)}."
    day = stop.route.day
    with recorded(kind, says, day=day, by=by, today=today, now=now) as change:
        hands.keep_stop(stop, keep=stays, today=today)
    return change


def drop_until(
    stop: Stop, *, until_on: date, reason: str, by: User, today: date, now: datetime
) -> HandChange:
    """Take a draft stop off, and put its tickets off to a day, by a name and with a reason."""
    says = f"{stop.site} dropped from {_of(stop)}, until {said_day(until_on, near=today)}: {reason}"
    day = stop.route.day
    with recorded(HandKind.DROPPED, says, day=day, by=by, today=today, now=now) as change:
        made = dropping.drop_until(
            stop, until_on=until_on, reason=reason, by=by, today=today, now=now
        )
        change.decisions.set(made)
    return change


def split(
    stop: Stop,
    *,
    tickets: Collection[Ticket],
    technician: Technician,
    day: date,
    by: User | None,
    today: date,
    now: datetime,
) -> HandChange:
    """Give part of a stop's work to somebody else, or to another day."""
    work = ", ".join(str(ticket.task) for ticket in tickets)
    says = f"{work} at {stop.site} split from {_of(stop)}, to {_day(technician, day)}."
    on = stop.route.day
    with recorded(HandKind.SPLIT, says, day=on, by=by, today=today, now=now) as change:
        splitting.split_stop(stop, tickets=tickets, technician=technician, day=day, today=today)
    return change


def add(
    stop: Stop,
    *,
    tickets: Collection[Ticket],
    due_items: Collection[DueItem],
    by: User | None,
    today: date,
    now: datetime,
) -> HandChange:
    """Bring more work of its site to a draft stop."""
    work = ", ".join(str(one.task) for one in [*tickets, *due_items])
    says = f"{work} at {stop.site} added to {_of(stop)}."
    kind = HandKind.PULLED_FORWARD if due_items else HandKind.PLACED
    on = stop.route.day
    with recorded(kind, says, day=on, by=by, today=today, now=now) as change:
        splitting.add_work(stop, tickets=tickets, due_items=due_items, today=today)
    return change


def pull_forward(
    item: DueItem,
    *,
    technician: Technician,
    day: date,
    by: User | None,
    today: date,
    now: datetime,
) -> HandChange:
    """Put work that falls due soon on a day on which nobody comes to its site yet."""
    says = f"{item.task} at {item.site} pulled forward to {_day(technician, day)}."
    with recorded(HandKind.PULLED_FORWARD, says, day=day, by=by, today=today, now=now) as change:
        monday = date.fromisocalendar(*day.isocalendar()[:2], 1)
        splitting.refuse_too_early(item, read_week(monday, today=today))
        ticket, is_new = splitting.ticket_ahead(item, now=now)
        if is_new:
            change.opened.add(ticket)
        hands.place_by_hand(ticket, technicians=[technician], day=day, start=None, today=today)
    return change
