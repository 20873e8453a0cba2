"""What was changed by hand is kept with its days before and after, and can be taken back."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta

from django.db import transaction

from customers.models import Firm, User
from servicedesk.actions.routes.later import altered_since
from servicedesk.actions.routes.plans import running_plan
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs.rows import DayRow, day_rows, write_days
from servicedesk.actions.routes.week import read_week
from servicedesk.actions.tickets import derive_anew
from servicedesk.kinds import HandKind, TicketEnd
from servicedesk.models import DueItem, HandChange, Route, StopTicket, Ticket
from servicedesk.planning.calendar import said_day

BACK, AGAIN = "Taken back: ", "Done again: "


@contextmanager
def recorded(
    kind: HandKind, says: str, *, day: date, by: User | None, today: date, now: datetime
) -> Iterator[HandChange]:
    """Keep what is done inside as one change of the week of `day`; all of it, or nothing.

    A change that leaves every day as it was is not kept.
    """
    monday = day - timedelta(days=day.weekday())
    with transaction.atomic():
        Firm.objects.select_for_update().first()  # one change of a week at a time
        before = draft_days(monday, today)
        change = HandChange.objects.create(
            kind=kind, monday_on=monday, says=says[:250], at=now, by=by, before=[], after=[]
        )
        yield change
        change.before, change.after = _differing(before, draft_days(monday, today))
        if change.before:
            change.save(update_fields=["before", "after"])
        else:
            change.delete()


def draft_days(monday: date, today: date) -> list[DayRow]:
    """The days of a week that a hand may change, as they are now."""
    return day_rows(read_week(monday, today=today).drafts)


def _differing(before: list[DayRow], after: list[DayRow]) -> tuple[list[DayRow], list[DayRow]]:
    """The days that changed, as they were and as they are; a day that is not there is empty."""
    old, new = _by_day(before), _by_day(after)
    keys = [key for key in sorted({*old, *new}) if old.get(key) != new.get(key)]
    return [old.get(k) or _empty(k) for k in keys], [new.get(k) or _empty(k) for k in keys]


def _by_day(days: list[DayRow]) -> dict[tuple[int, str], DayRow]:
    return {(row["technician"], row["day"]): row for row in days}


def _empty(key: tuple[int, str]) -> DayRow:
    return {"technician": key[0], "day": key[1], "stops": []}


def may_undo(changes: list[HandChange], monday: date, today: date) -> set[int]:
    """Numbers of the changes whose days are still as they left them. Six queries."""
    week = read_week(monday, today=today)
    drafts = day_rows(week.drafts)
    frozen = {(technician, day.isoformat()) for technician, day in week.published}
    taken = set(HandChange.objects.filter(undoes__in=changes).values_list("undoes_id", flat=True))
    there = _due_there([*drafts, *(day for change in changes for day in change.after)])
    return {
        change.pk
        for change in changes
        if change.pk not in taken
        and not frozen & _by_day(change.after).keys()
        and min(day["day"] for day in change.after) >= today.isoformat()
        and _stands(change.after, drafts, there)
    }


def _stands(then: list[DayRow], now: list[DayRow], due: set[int]) -> bool:
    known = _by_day(now)
    return all(
        _said(day, due) == _said(known.get(key) or _empty(key), due)
        for key, day in _by_day(then).items()
    )


def _said(day: DayRow, due: set[int]) -> DayRow:
    """A day without due work that the records do not know any more."""
    stops = [stop | {"due": [pk for pk in stop["due"] if pk in due]} for stop in day["stops"]]
    return day | {"stops": stops}


def _due_there(days: list[DayRow]) -> set[int]:
    named = {pk for day in days for stop in day["stops"] for pk in stop["due"]}
    return (
        set(DueItem.objects.filter(pk__in=named).values_list("pk", flat=True)) if named else set()
    )


@transaction.atomic
def undo(change: HandChange, *, by: User | None, today: date, now: datetime) -> HandChange:
    """Put the days back as they were before a change, and what was decided with it.

    Taking back is a change too: taking that back makes the first one again. Refused where the
    days are not as the change left them.
    """
    Firm.objects.select_for_update().first()
    change = HandChange.objects.select_for_update().get(pk=change.pk)
    _refuse(change, today)
    back = HandChange.objects.create(
        kind=HandKind.TAKEN_BACK,
        monday_on=change.monday_on,
        says=_words(change.says)[:250],
        at=now,
        by=by,
        before=change.after,
        after=change.before,
        undoes=change,
    )
    _reopen(change, back)
    write_days(change.before)
    _close_opened(change, now)
    sites = _withdraw(change, now) | _decide_again(change, back, by, now)
    if sites:
        derive_anew(sorted(sites), now=now)
    return back


def _words(says: str) -> str:
    if says.startswith(BACK):
        return AGAIN + says.removeprefix(BACK)
    return BACK + says.removeprefix(AGAIN)


def _refuse(change: HandChange, today: date) -> None:
    if HandChange.objects.filter(undoes=change).exists():
        raise RouteRefused("This change was taken back already. Load the page again.")
    if running_plan(change.monday_on):
        raise RouteRefused("The week is being planned. Wait for it or stop it, then try again.")
    if min(day["day"] for day in change.after) < today.isoformat():
        raise RouteRefused("A day of this change is over. Make another change instead.")
    for day in change.after:
        route = Route.objects.filter(
            technician=day["technician"], day=day["day"], published_at__isnull=False
        ).first()
        if route:
            raise RouteRefused(
                f"The day of {route.technician} on {said_day(route.day)} was published since. "
                "Open it again and change it there."
            )
    now = draft_days(change.monday_on, today)
    if not _stands(change.after, now, _due_there([*now, *change.after])):
        since = altered_since([change]).get(change.pk)
        raise RouteRefused(
            f"A later change altered these days: {since} Take that back first, or make another "
            "change."
            if since
            else "These days were changed since. Make another change instead."
        )
    _refuse_work(change, today)


def _refuse_work(change: HandChange, today: date) -> None:
    """Work that was done, or has got another place meanwhile, does not come back."""
    wanted, there = _tickets(change.before), _tickets(change.after)
    for ticket in Ticket.objects.filter(pk__in=wanted, closed_at__isnull=False):
        if not _was_closed_by(change, ticket):
            raise RouteRefused(f"{ticket.task} at {ticket.site} was closed since.")
    gone = StopTicket.objects.filter(
        ticket__in=wanted - there, stop__route__day__gte=today
    ).select_related("ticket__task", "ticket__site")
    if row := gone.first():
        raise RouteRefused(
            f"{row.ticket.task} at {row.ticket.site} has got another place since. Take it off "
            "there first."
        )


def _tickets(days: list[DayRow]) -> set[int]:
    return {pk for day in days for stop in day["stops"] for pk in stop["tickets"]}


def _was_closed_by(change: HandChange, ticket: Ticket) -> bool:
    """A drop puts work off so far that its ticket may close; taking it back opens it again."""
    return ticket.end == TicketEnd.NOT_NEEDED and ticket.closed_at == change.at


def _reopen(change: HandChange, back: HandChange) -> None:
    closed = Ticket.objects.filter(
        pk__in=_tickets(change.before), end=TicketEnd.NOT_NEEDED, closed_at=change.at
    )
    for ticket in closed:
        twin = Ticket.objects.open().filter(
            place_key=ticket.place_key, task=ticket.task_id, occasion=ticket.occasion
        )
        if twin.exists():
            raise RouteRefused(
                f"{ticket.task} at {ticket.site} has a new ticket since. Place that one by hand."
            )
        Ticket.objects.filter(pk=ticket.pk).update(closed_at=None, end="", end_note="")
    if change.undoes_id:
        back.opened.set(change.undoes.opened.all())


def _close_opened(change: HandChange, now: datetime) -> None:
    """A ticket that was opened for this change alone has no reason any more."""
    change.opened.filter(closed_at=None).update(
        closed_at=now, end=TicketEnd.NOT_NEEDED, end_note="Pulled forward by hand, and taken back."
    )


def _withdraw(change: HandChange, now: datetime) -> set[int]:
    standing = change.decisions.standing()
    sites = set(standing.values_list("site_id", flat=True))
    standing.update(withdrawn_at=now)
    return sites


def _decide_again(change: HandChange, back: HandChange, by: User | None, now: datetime) -> set[int]:
    """What was decided with a change that is made again: new rows, by whoever makes it again."""
    if not change.undoes_id:
        return set()
    sites = set()
    for old in change.undoes.decisions.all():
        sites.add(old.site_id)
        old.pk, old._state.adding = None, True
        old.by, old.decided_at, old.withdrawn_at = by or old.by, now, None
        old.save(force_insert=True)
        back.decisions.add(old)
    return sites
