"""The weeks after the one that is planned, so that what may wait is known; nothing of them is kept.

What falls due in them is read off the due days as they stand.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from functools import cached_property

from customers.models import Site
from servicedesk.actions.routes.daylight import in_daylight
from servicedesk.actions.routes.hours import Hours, is_promised
from servicedesk.actions.routes.week import (
    Places,
    WeekOfRecords,
    due_job,
    read_week,
    shifts_of,
    site_place,
)
from servicedesk.actions.routes.wishes import infested_sites, interval_days, problem_to_plan
from servicedesk.models import DueItem, Ticket, WeekDetours
from servicedesk.planning.routing.ahead import WEEKS_KEPT, detours_hm
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    Place,
    PlannedRoute,
    StopWish,
    WeekProblem,
)

WEEKS = 3

Key = tuple[str, int, str]  # place, task and occasion


def problem_ahead(week: WeekOfRecords, weeks: int = WEEKS) -> WeekProblem:
    """The open work of a week, and what the weeks after it bring. About forty queries.

    Its drives are guesses; the process that plans puts in those that a routing service knows.
    """
    return _Ahead(week, weeks).problem()


def keep_detours(week: WeekOfRecords, problem: WeekProblem, routes: Iterable[PlannedRoute]) -> None:
    """Note what coming to each site would have added to a published week. Three queries."""
    rows = Site.objects.exclude(lat=None).exclude(lon=None).values_list("pk", "lat", "lon")
    sites = {f"site:{pk}": Place(lat, lon) for pk, lat, lon in rows}
    found = detours_hm(problem, list(routes), sites)
    known = WeekDetours.objects.filter(monday_on=week.monday).first()
    before = known.hm if known else {}
    for key, hm in found.items():
        number = key.partition(":")[2]
        before[number] = min(hm, before.get(number, hm))
    WeekDetours.objects.update_or_create(monday_on=week.monday, defaults={"hm": before})


class _Ahead:
    """One reading of the records for a horizon."""

    def __init__(self, week: WeekOfRecords, weeks: int):
        self.week, self.weeks = week, weeks
        self.at_hand = problem_to_plan(week)
        self.places = Places(
            list(self.at_hand.places), {place: n for n, place in enumerate(self.at_hand.places)}
        )
        self.coming = {
            n: read_week(week.monday + timedelta(weeks=n), today=week.first_on, firm=week.firm)
            for n in range(1, weeks)
        }
        self.intervals = interval_days()

    def problem(self) -> WeekProblem:
        shifts = [*self.at_hand.shifts]
        for n, later in self.coming.items():
            shifts += [
                replace(one, day=one.day + WEEK * n) for one in shifts_of(later, self.places)
            ]
        wishes = [self._wish(wish) for wish in [*self.at_hand.wishes, *self._new_wishes()]]
        return replace(
            self.at_hand,
            places=tuple(self.places.rows),
            shifts=tuple(shifts),
            wishes=tuple(wishes),
            weeks=self.weeks,
        )

    @cached_property
    def tickets(self) -> dict[int, Ticket]:
        found = Ticket.objects.open().select_related("task")
        return {ticket.pk: ticket for ticket in found.defer("because")}

    @cached_property
    def items(self) -> dict[Key, DueItem]:
        """The next occasions that open by the end of the horizon, for one person or more."""
        last = self.week.monday + timedelta(weeks=self.weeks)
        found = DueItem.objects.filter(
            opens_on__lt=last,
            due_on__isnull=False,
            paused=False,
            task__crew__gte=1,
            task__active=True,
        )
        return {_key(item): item for item in found.select_related("task").defer("basis", "because")}

    @cached_property
    def new(self) -> dict[int, list[DueItem]]:
        """By site, the occasions without a ticket."""
        have = {_key(ticket) for ticket in self.tickets.values()}
        along = {job.key for wish in self.at_hand.wishes for job in wish.jobs}
        by_site = defaultdict(list)
        for key, item in sorted(self.items.items()):
            if key not in have and f"due:{item.pk}" not in along:
                by_site[item.site_id].append(item)
        return by_site

    @cached_property
    def sites(self) -> dict[int, Site]:
        wanted = {_site_pk(wish) for wish in self.at_hand.wishes} | set(self.new)
        found = Site.objects.filter(pk__in=wanted).select_related("region")
        return {site.pk: site for site in found}

    @cached_property
    def hours(self) -> dict[int, Hours]:
        return {n: Hours(later, self.sites.values()) for n, later in self.coming.items()}

    @cached_property
    def detours(self) -> dict[int, list[int]]:
        rows = WeekDetours.objects.filter(monday_on__lt=self.week.monday)
        seen = defaultdict(list)
        for row in sorted(rows.order_by("-monday_on")[:WEEKS_KEPT], key=lambda row: row.monday_on):
            for pk, hm in row.hm.items():
                seen[int(pk)].append(hm)
        return seen

    def _new_wishes(self) -> list[StopWish]:
        have = {_site_pk(wish) for wish in self.at_hand.wishes}
        new = sorted(pk for pk in self.new if pk not in have)
        infested = infested_sites(new)
        return [
            StopWish(
                f"site:{pk}",
                site_place(self.sites[pk], self.places),
                (),
                (),
                self.week.firm.setup_min,
                name=self.sites[pk].name,
                infested=pk in infested,
            )
            for pk in new
            if self.sites[pk].lat is not None
        ]

    def _wish(self, wish: StopWish) -> StopWish:
        pk = _site_pk(wish)
        jobs = tuple(self._dated(job) for job in wish.jobs)
        if wish.locks:
            return replace(wish, jobs=jobs)
        jobs += tuple(self._later(item) for item in self.new.get(pk, []))
        windows = wish.windows
        if not self._is_promised(wish):
            for n, later in self.coming.items():
                there = self.hours[n].windows(self.sites[pk], [], later.monday)
                there = in_daylight(later, self.sites[pk], there, jobs)
                windows += tuple(replace(window, day=window.day + WEEK * n) for window in there)
        seen = tuple(self.detours.get(pk, ()))
        return replace(wish, jobs=jobs, windows=windows, detours_hm=seen)

    def _is_promised(self, wish: StopWish) -> bool:
        pks = [int(job.key.split(":")[1]) for job in wish.jobs if job.key.startswith("ticket:")]
        return any(is_promised(self.tickets[pk], self.week) for pk in pks)

    def _dated(self, job: Job) -> Job:
        """Open work, with the end of its tolerance and the days after which it comes back."""
        kind, pk = job.key.split(":")
        if kind != "ticket":
            return job
        ticket = self.tickets[int(pk)]
        item = self.items.get(_key(ticket))
        closes = item.closes_on if item else None
        if closes is None and ticket.due_when_opened_on:
            closes = ticket.due_when_opened_on + timedelta(days=ticket.task.late_days)
        return self._repeating(job, ticket.task, closes)

    def _later(self, item: DueItem) -> Job:
        """The next occasion of recurring work: from the day it opens, never in the first week."""
        job = replace(due_job(item, self.week.monday), pulled_forward=False)
        opens = max(WEEK, self.week.number(item.opens_on))
        return replace(self._repeating(job, item.task, item.closes_on), opens_day=opens)

    def _repeating(self, job: Job, task, closes: date | None) -> Job:
        return replace(
            job,
            closes_day=None if closes is None else self.week.number(closes),
            every_days=self.intervals.get(task.pk),
            calendar=bool(task.season),
        )


def _site_pk(wish: StopWish) -> int:
    return int(wish.key.split(":")[1])


def _key(row: Ticket | DueItem) -> Key:
    return (row.place_key, row.task_id, row.occasion)
