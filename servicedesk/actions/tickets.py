"""Open tickets as their windows open, close those that are not needed, and decide about them."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.db import transaction

from customers.models import Site, User
from equipment.models import StateChange, System
from servicedesk.actions.due import CHUNK, lock_sites, refresh_sites
from servicedesk.kinds import DecisionKind, OfficeTaskKind, TicketEnd
from servicedesk.models import Decision, DueItem, OfficeTask, StopTicket, Ticket
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day as day_in_words

AHEAD_OF_UTC = timedelta(hours=14)  # no site's date is further ahead,
BEHIND_UTC = timedelta(hours=12)  # nor further behind
WELL_AWAY = timedelta(days=7)  # a due day that moves less than this leaves its ticket open
SAME = ("place_key", "task_id", "occasion")
DERIVED_OCCASIONS = ("", "stopped", "ramp", "restarted", "settling")  # others go by hand


class TicketRefused(Exception):
    """A change of a ticket that cannot be made; the text says what to do."""


class Opened(NamedTuple):
    opened: int = 0
    not_needed: int = 0


@dataclass(frozen=True)
class _Chunk:
    """The due items near their window and the open tickets of some sites, under lock."""

    at: datetime
    days: dict[int, date]  # the date at each site
    items: dict[tuple, DueItem]
    blocked: set[int]
    tickets: dict[tuple, Ticket]


def open_due_tickets(*, clock: Callable[[], datetime]) -> Opened:
    """Open a ticket for every due item whose window is open, and close those not needed."""
    now = clock()
    latest, earliest = (now + AHEAD_OF_UTC).date(), (now - BEHIND_UTC).date()
    near = DueItem.objects.filter(
        due_on__isnull=False, opens_on__lte=latest + WELL_AWAY, task__crew__gt=0
    )
    items = {row[:3]: row[3:] for row in near.values_list(*SAME, "site_id", "opens_on")}
    open_ = Ticket.objects.open().values_list(*SAME, "site_id")
    tickets = {row[:3]: row[3] for row in open_}
    # Only sites where something may change are locked and looked at closely.
    sites = {
        site for key, (site, opens_on) in items.items() if key not in tickets and opens_on <= latest
    }
    for key, site in tickets.items():
        if key[2].partition(":")[0] in DERIVED_OCCASIONS and (
            key not in items or items[key][1] > earliest + WELL_AWAY
        ):
            sites.add(site)
    _tell_office(now)
    return open_tickets_at(sites, now=clock())


def open_tickets_at(site_ids: Collection[int], *, now: datetime) -> Opened:
    """The same for some sites."""
    ids, total = sorted(site_ids), Opened()
    for start in range(0, len(ids), CHUNK):
        with transaction.atomic():
            chunk = _read(ids[start : start + CHUNK], now)
            _keep_tickets_of_events(chunk)
            total = Opened(
                total.opened + _open_those_in_window(chunk),
                total.not_needed + _close_those_not_needed(chunk),
            )
    return total


@transaction.atomic
def postpone_ticket(
    ticket: Ticket, *, until_on: date, by: User, reason: str, now: datetime
) -> Decision:
    """Put a ticket off to a day, by a name and with a reason; its due day moves there."""
    lock_sites([ticket.site_id])
    _refuse_closed(ticket)
    if until_on <= site_date(now, ticket.site.time_zone):
        raise TicketRefused("Choose a day after today to postpone it to.")
    decision = _decide(ticket, DecisionKind.POSTPONED, by, reason, now, until_on=until_on)
    derive_anew([ticket.site_id], now=now)
    return decision


@transaction.atomic
def waive_ticket(
    ticket: Ticket, *, by: User, reason: str, now: datetime, until_on: date | None = None
) -> Decision | None:
    """Do without: until a day, or for this occasion, whose interval then runs anew."""
    lock_sites([ticket.site_id])
    _refuse_closed(ticket)
    decision = _decide(ticket, DecisionKind.WAIVED, by, reason, now, until_on=until_on)
    _close(ticket, TicketEnd.NOT_NEEDED, f"Waived by {by}: {reason}", now)
    derive_anew([ticket.site_id], now=now)
    return decision


@transaction.atomic
def cancel_ticket(ticket: Ticket, *, by: User, reason: str, now: datetime) -> None:
    """End a ticket that will not be done; the same occasion does not open another."""
    lock_sites([ticket.site_id])
    _refuse_closed(ticket)
    _decide(ticket, DecisionKind.WAIVED, by, reason, now)
    _close(ticket, TicketEnd.CANCELLED, f"Cancelled by {by}: {reason}", now)
    derive_anew([ticket.site_id], now=now)


@transaction.atomic
def withdraw_decision(decision: Decision, *, now: datetime) -> None:
    """Take a decision back; due days and tickets are as if it had not been made."""
    lock_sites([decision.site_id])
    Decision.objects.filter(pk=decision.pk, withdrawn_at=None).update(withdrawn_at=now)
    derive_anew([decision.site_id], now=now)


def follow_up_stop(system: System, stop: StateChange | None, *, now: datetime) -> None:
    """Tell the office that a system stands still; a stop that is over needs nobody any more."""
    key = f"left_off:{system.pk}:"
    stale = OfficeTask.objects.filter(key__startswith=key, handled_at=None)
    if stop:
        since = day_in_words(site_date(stop.at, system.site.time_zone))
        text = f"{system} stands still since {since}. {stop.reason}".strip()
        key = _dated_anew(key, stop, text)
        OfficeTask.objects.get_or_create(
            key=key,
            defaults={
                "kind": OfficeTaskKind.LEFT_OFF,
                "text": text,
                "site_id": system.site_id,
                "urgent": True,
                "opened_at": now,
            },
        )
    stale.exclude(key=key).update(handled_at=now, handled_note="It runs again, or was off later.")


def _dated_anew(start, stop, text):
    """The key of a stop's follow-up, which keeps hanging on the stop when its date is corrected."""
    key, earlier = f"{start}{stop.at:%Y%m%dT%H%M%S}", []
    row = stop.corrects
    while row:
        earlier.append(f"{start}{row.at:%Y%m%dT%H%M%S}")
        row = row.corrects
    if earlier and not OfficeTask.objects.filter(key=key).exists():
        asked = OfficeTask.objects.filter(key__in=earlier).order_by("-pk").first()
        if asked:
            OfficeTask.objects.filter(pk=asked.pk).update(key=key, text=text)
    return key


def derive_anew(site_ids: Collection[int], *, now: datetime) -> None:
    """Work out due days of some sites again, and what tickets follow from them."""
    refresh_sites(site_ids, now=now)
    open_tickets_at(site_ids, now=now)


def _read(site_ids, now):
    lock_sites(site_ids)
    zones = Site.objects.filter(pk__in=site_ids).values_list("pk", "time_zone")
    days = {pk: site_date(now, zone) for pk, zone in zones}
    items = DueItem.objects.filter(
        site_id__in=site_ids,
        due_on__isnull=False,
        opens_on__lte=max(days.values(), default=now.date()) + WELL_AWAY,
    )
    blocked = items.filter(basis__has_key="blocked")
    tickets = Ticket.objects.open().filter(site_id__in=site_ids)
    return _Chunk(
        at=now,
        days=days,
        items={_key(row): row for row in items.defer("basis").select_related("task")},
        blocked=set(blocked.values_list("pk", flat=True)),
        tickets={_key(row): row for row in tickets},
    )


def _keep_tickets_of_events(chunk):
    """A stop that turns out to have begun on another day is the same stop, with one ticket."""
    stale = {_event(key): key for key in chunk.tickets if key not in chunk.items and ":" in key[2]}
    for key, item in chunk.items.items():
        old = stale.get(_event(key)) if ":" in key[2] and key not in chunk.tickets else None
        if old and key[2].partition(":")[0] in DERIVED_OCCASIONS:
            ticket = chunk.tickets[key] = chunk.tickets.pop(old)
            ticket.occasion, ticket.because = item.occasion, item.because
            ticket.save(update_fields=["occasion", "because"])


def _event(key):
    """Place, task, kind of event and its step: all but the moment at which it began."""
    kind, _, rest = key[2].partition(":")
    return *key[:2], kind, rest.partition(":")[2]


def _open_those_in_window(chunk):
    fresh = [
        Ticket(
            **item.place,
            task=item.task,
            occasion=item.occasion,
            opened_at=chunk.at,
            due_when_opened_on=item.due_on,
            because=item.because,
        )
        for key, item in chunk.items.items()
        if key not in chunk.tickets
        and item.pk not in chunk.blocked
        and item.opens_on <= chunk.days[item.site_id]
        and item.task.crew  # what no technician does is for the office
    ]
    Ticket.objects.bulk_create(fresh, batch_size=500, ignore_conflicts=True)
    return len(fresh)


def _tell_office(now):
    """Work without a crew, such as renewing papers, becomes a task of the office, once."""
    rows = DueItem.objects.filter(
        due_on__isnull=False, opens_on__lte=(now + AHEAD_OF_UTC).date(), task__crew=0
    ).select_related("task", "site")
    owed = {
        f"{row.place_key}:{row.task_id}:{row.due_on}": row
        for row in rows
        if row.opens_on <= site_date(now, row.site.time_zone)
    }
    told = set(OfficeTask.objects.exclude(key=None).values_list("key", flat=True)) if owed else ()
    OfficeTask.objects.bulk_create(
        [
            OfficeTask(
                kind=OfficeTaskKind.OTHER,
                text=f"{row.task}: {row.because}",
                site_id=row.site_id,
                key=key,
                opened_at=now,
                due_on=row.due_on,
            )
            for key, row in owed.items()
            if key not in told
        ],
        batch_size=500,
        ignore_conflicts=True,
    )


def _close_those_not_needed(chunk):
    doubtful = [
        ticket
        for key, ticket in chunk.tickets.items()
        if ticket.occasion.partition(":")[0] in DERIVED_OCCASIONS
        and _is_not_needed(chunk.items.get(key), chunk.days[ticket.site_id])
        and not (ticket.promised_until and ticket.promised_until > chunk.at)
    ]
    under_way = set(
        StopTicket.objects.filter(
            ticket__in=doubtful,
            stop__route__published_at__isnull=False,
            stop__route__day__in=set(chunk.days.values()),
        ).values_list("ticket_id", "stop__route__day")
    )
    gone = [t for t in doubtful if (t.pk, chunk.days[t.site_id]) not in under_way]
    keys = {ticket.place_key for ticket in gone}
    later = {_key(row): row.because for row in DueItem.objects.filter(place_key__in=keys)}
    for ticket in gone:
        why = later.get(_key(ticket), "Nothing is due here any more.")
        ticket.closed_at, ticket.end, ticket.end_note = chunk.at, TicketEnd.NOT_NEEDED, why[:250]
    Ticket.objects.bulk_update(gone, ["closed_at", "end", "end_note"], batch_size=200)
    return len(gone)


def _is_not_needed(item, today):
    return item is None or item.due_on is None or item.opens_on > today + WELL_AWAY


def _refuse_closed(ticket):
    ticket.refresh_from_db()
    if ticket.closed_at:
        raise TicketRefused("This ticket is closed already. Load the page again.")


def _decide(ticket, kind, by, reason, now, *, until_on=None):
    """Write the decision down; None where this occasion is not in its window any more."""
    reason = reason.strip()
    if not reason:
        raise TicketRefused("Give the reason: it stands beside the due day from now on.")
    item = DueItem.objects.filter(
        place_key=ticket.place_key, task=ticket.task_id, occasion=ticket.occasion
    ).first()
    today = site_date(now, ticket.site.time_zone)
    if until_on is None and (item is None or _is_not_needed(item, today)):
        return None  # the day in sight belongs to the next occasion, which stays as it is
    about_on = (item and item.due_on) or ticket.due_when_opened_on or today
    if until_on and until_on < about_on:
        about_on = until_on
    return Decision.objects.create(
        **ticket.place,
        task_id=ticket.task_id,
        occasion=ticket.occasion,
        kind=kind,
        from_on=about_on,
        until_on=until_on,
        reason=reason[:250],
        by=by,
        decided_at=now,
    )


def _close(ticket, end, note, now):
    Ticket.objects.filter(pk=ticket.pk).update(closed_at=now, end=end, end_note=note[:250])
    ticket.refresh_from_db()


def _key(row):
    return row.place_key, row.task_id, row.occasion
