"""What publishing a week would do: its days, its stops, and what each owner would hear."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from customers.models import Site
from servicedesk.actions.reminders.telling import Telling, tellings_of
from servicedesk.actions.routes.hours import is_promised
from servicedesk.actions.routes.told import DayKey, StopChange, ToldDay, changes_since, told_days
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.models import Stop, StopTicket, Ticket


@dataclass(frozen=True)
class DayNews:
    """A day that would be published: `new`, `changed`, `unchanged`, or `empty` now."""

    technician: int
    day: date
    word: str
    stops: int


@dataclass(frozen=True)
class BrokenPromise:
    """A window that an owner was promised and that these days do not keep."""

    ticket: Ticket
    stop: Stop | None


@dataclass(frozen=True)
class Preview:
    days: list[DayNews]
    changes: list[StopChange]
    tellings: list[Telling]
    broken: list[BrokenPromise]
    sites: dict[int, Site]
    told: dict[DayKey, ToldDay]

    @property
    def is_first(self) -> bool:
        """Nothing of these days was ever published."""
        return not self.told


def preview_of(week: WeekOfRecords, *, now: datetime) -> Preview:
    """What would happen on publishing. A bounded number of queries, whatever the size."""
    drafts = Stop.objects.filter(route__in=[route.pk for route in week.drafts])
    stops = list(drafts.select_related("route", "site").order_by("arrive_at", "pk"))
    told = told_days(week)
    changes = changes_since(told.values(), stops) if told else []
    gone = Site.objects.filter(pk__in=[change.site for change in changes])
    sites = {stop.site_id: stop.site for stop in stops} | {site.pk: site for site in gone}
    return Preview(
        _days(week, told, changes, stops),
        changes,
        tellings_of(drafts, now=now),
        broken_promises(week),
        sites,
        told,
    )


def _days(week, told: dict[DayKey, ToldDay], changes: list[StopChange], stops) -> list[DayNews]:
    touched = set()
    for change in changes:
        if change.kind != "same":
            places = [place for place in (change.was, change.will) if place]
            touched |= {(place.technician, place.day) for place in places}
    count = Counter((stop.route.technician_id, stop.route.day) for stop in stops)
    planned = {(route.technician_id, route.day) for route in week.drafts}
    found = []
    for key in sorted(planned | set(told), key=lambda one: (one[1], one[0])):
        word = "changed" if key in touched else "unchanged"
        if key not in planned:
            word = "empty"
        elif key not in told:
            word = "new"
        found.append(DayNews(*key, word, count[key]))
    return found


def broken_promises(week: WeekOfRecords) -> list[BrokenPromise]:
    """Promised windows of the days to come that no stop keeps, published or not. Two queries."""
    begins = week.instant(week.number(week.first_on), 0)
    promised = Ticket.objects.open().filter(
        promised_from__isnull=False,
        promised_until__gte=begins,
        promised_from__lt=week.instant(0, 0) + timedelta(days=8),
    )
    promised = promised.select_related("task", "site").order_by("promised_from", "pk")
    tickets = [ticket for ticket in promised if is_promised(ticket, week)]
    rows = StopTicket.objects.filter(
        ticket__in=tickets, stop__route__day__range=(week.first_on, week.sunday)
    ).select_related("stop__route__technician__user")
    stops = {row.ticket_id: row.stop for row in rows}
    return [
        BrokenPromise(ticket, stop)
        for ticket in tickets
        if (stop := stops.get(ticket.pk)) is None
        or not ticket.promised_from <= stop.arrive_at <= ticket.promised_until
    ]
