"""When each site may be worked at in a week: opening hours, holds, promises, postponements."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import Q

from customers.models import OpeningHours, OwnerHours, Site
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.kinds import DecisionKind, HoldKind
from servicedesk.models import Decision, Hold, Ticket
from servicedesk.planning.calendar import is_in_part_of_year, said_day
from servicedesk.planning.due.counting import pull_forward_days
from servicedesk.planning.heat import waits_in_heat
from servicedesk.planning.routing.barriers import Barrier, barrier_of, is_within
from servicedesk.planning.routing.problem import WHOLE_DAY, Window

WHY = {
    HoldKind.HEAT: "nothing is started or stopped for long in the heat",
    HoldKind.TREATMENT: "its water is treated: no visit, no start",
    HoldKind.NO_GO_AREA: "the way there is closed",
    HoldKind.BLACKOUT: "nobody may come",
}
WAITS = [DecisionKind.POSTPONED, DecisionKind.BLOCKED]


class Hours:
    """Answers for all sites of a week. Three queries, and one where an owner must be home."""

    def __init__(self, week: WeekOfRecords, sites: Iterable[Site]):
        self.week = week
        by_pk = {site.pk: site for site in sites}
        self.opening = defaultdict(list)
        for row in OpeningHours.objects.filter(site__in=by_pk):
            self.opening[row.site_id].append(row)
        self.home = defaultdict(list)
        if asked := [pk for pk, site in by_pk.items() if site.owner_present]:
            for row in OwnerHours.objects.filter(site__in=asked):
                self.home[row.site_id].append(row)
        self.holds = list(
            holds_of(week).exclude(site=None, region=None).filter(Q(site=None) | Q(site__in=by_pk))
        )
        self.areas = _closed(week)

    def windows(
        self, site: Site, tickets: Iterable[Ticket], not_before: date
    ) -> tuple[Window, ...]:
        """Open and unheld hours of the week, from a day on, cut down to what was promised.

        Where the owner must be home these are his hours too, and none at all where he has none:
        then a day is agreed with him first. A promise is such a day.
        """
        days = [self.week.day(number) for number in range(7)]
        slugs = {ticket.task.slug for ticket in tickets}
        open_days = [d for d in days if d >= not_before and not self.why_held(site, d, slugs)]
        windows = [window for day in open_days for window in self._open(site, day)]
        promised = [ticket for ticket in tickets if is_promised(ticket, self.week)]
        if site.owner_present and not promised:
            windows = [cut for window in windows for cut in self._with_owner(site, window)]
        for ticket in promised:
            windows = _cut(windows, *self._promise(ticket))
        return tuple(windows)

    def why_held(self, site: Site, day: date, slugs: Collection[str] = ()) -> str:
        """What keeps people from a site on a day, in words; nothing where nothing does.

        slugs: of the tasks to be done there; a heat hold keeps only some from being done.
        """
        if is_in_part_of_year(day, site.no_van_from, site.no_van_to):
            return "no van gets there at this time of the year"
        for hold, area in self.areas:
            if hold.from_on <= day <= hold.to_on and is_within(area, site.lat, site.lon):
                return _in_words(hold)
        for hold in self.holds:
            if (
                _is_at(hold, site)
                and hold.from_on <= day <= hold.to_on
                and _keeps_from(hold, slugs)
            ):
                return _in_words(hold)
        return ""

    def _open(self, site: Site, day: date) -> list[Window]:
        number = self.week.number(day)
        rows = self.opening.get(site.pk)
        if not rows:
            return [Window(number)]
        return [
            Window(
                number,
                max(0, self._minute(site, day, row.opens)),
                min(WHOLE_DAY, self._minute(site, day, row.closes)),
            )
            for row in rows
            if row.weekday == day.isoweekday()
        ]

    def _with_owner(self, site: Site, window: Window) -> list[Window]:
        """What of a window falls into hours in which the owner is there."""
        day = self.week.day(window.day)
        spans = [
            (
                max(window.opens_min, self._minute(site, day, row.comes)),
                min(window.closes_min, self._minute(site, day, row.leaves)),
            )
            for row in self.home.get(site.pk, ())
            if row.weekday == day.isoweekday()
        ]
        return [Window(window.day, opens, closes) for opens, closes in spans if opens < closes]

    def _minute(self, site: Site, day: date, at: time) -> int:
        """What the firm's clock shows when the site's clock shows `at`."""
        instant = datetime.combine(day, at, tzinfo=ZoneInfo(site.time_zone)).astimezone(UTC)
        return self.week.minute(instant, self.week.number(day))

    def _promise(self, ticket: Ticket) -> tuple[int, int, int]:
        number = self.week.number(ticket.promised_from.astimezone(self.week.zone).date())
        return (
            number,
            self.week.minute(ticket.promised_from, number),
            self.week.minute(ticket.promised_until, number),
        )


def _keeps_from(hold: Hold, slugs: Collection[str]) -> bool:
    return hold.kind != HoldKind.HEAT or any(waits_in_heat(slug) for slug in slugs)


def _in_words(hold: Hold) -> str:
    return f"{WHY[hold.kind]} until {said_day(hold.to_on)} ({hold.reason})"


def holds_of(week: WeekOfRecords):
    """Holds that stand on some day of a week."""
    return Hold.objects.filter(lifted_at=None, from_on__lte=week.sunday, to_on__gte=week.monday)


class HeatOfWeek:
    """Which work heat keeps from being done on every day that is left of a week. One query."""

    def __init__(self, week: WeekOfRecords):
        self.days = [d for n in range(7) if (d := week.day(n)) >= week.first_on]
        self.holds = list(holds_of(week).filter(kind=HoldKind.HEAT))

    def keeps(self, ticket: Ticket) -> bool:
        """Such work would only keep what else is to be done there from being done."""
        if not self.holds or not waits_in_heat(ticket.task.slug):
            return False
        mine = [hold for hold in self.holds if _is_at(hold, ticket.site)]
        return all(any(hold.from_on <= day <= hold.to_on for hold in mine) for day in self.days)


def _is_at(hold: Hold, site: Site) -> bool:
    here = hold.site_id == site.pk
    return here or bool(hold.region_id and hold.region_id == site.region_id)


def closed_areas(week: WeekOfRecords) -> tuple[Barrier, ...]:
    """What nobody may drive through on a day of a week that may still be planned.

    One table of drives serves all days of a week, so one closed day makes all of them longer.
    """
    found = (area for hold, area in _closed(week) if hold.to_on >= week.first_on)
    return tuple(dict.fromkeys(found))  # told twice, a road is closed once


def _closed(week: WeekOfRecords) -> list[tuple[Hold, Barrier]]:
    found = holds_of(week).filter(kind=HoldKind.NO_GO_AREA).order_by("pk")
    return [(hold, barrier_of(hold.area, hold.way_round_km)) for hold in found if hold.area]


def is_promised(ticket: Ticket, week: WeekOfRecords) -> bool:
    """Whether the owner was told a time in this week."""
    if ticket.promised_from is None:
        return False
    day = ticket.promised_from.astimezone(week.zone).date()
    return week.monday <= day <= week.sunday


def waiting_until(week: WeekOfRecords) -> dict[tuple[str, int, str], date]:
    """The day before which somebody decided not to come, by place, task and occasion."""
    found = Decision.objects.standing().filter(kind__in=WAITS, until_on__gt=week.monday)
    return {(d.place_key, d.task_id, d.occasion): d.until_on for d in found.order_by("until_on")}


def promised_later(ticket: Ticket, week: WeekOfRecords) -> bool:
    if ticket.promised_from is None:
        return False
    return ticket.promised_from.astimezone(week.zone).date() > week.sunday


def _cut(windows: list[Window], day: int, from_min: int, until_min: int) -> list[Window]:
    return [
        Window(day, max(window.opens_min, from_min), window.closes_min, until_min)
        for window in windows
        if window.day == day and window.opens_min <= until_min and window.closes_min > from_min
    ]


def horizon_days(every_days: float | None, most: int) -> int:
    """How early work may be done along with other work: a fifth of its interval, or `most`."""
    if every_days is None:
        return 0
    return pull_forward_days(every_days, most)
