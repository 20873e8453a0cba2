"""On which days somebody was at each pond in two years, and for which tasks."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from equipment.kinds import PositionKind, WinterMode
from equipment.models import Position
from servicedesk.actions.assessing import CHANGES
from servicedesk.actions.demo.systems import Built, failed_on, heron_shut_on
from servicedesk.kinds import Anchor, Clock, PlaceKind, Who
from servicedesk.models import Rhythm, Task
from servicedesk.planning.calendar import add_months

YEARS_TOLD = 2
ROUND_DAYS = 105  # from one round to the next, a little less than the interval of the filter
ROUND = [
    "filter_change",
    "health_readings",
    "fan_check",
    "gfci_test",
    "cabinet_check",
    "airline_check",
]
WITHOUT_ROUND = {"filter_check", "prefilter_clean", "winter_watch"}
OPENS_BEFORE = 0.015  # share of an interval: so many of the rare tasks stand open today
EVENLY = (5**0.5 - 1) / 2  # multiples of the golden section spread evenly, however many
JOINS_DAYS = 40  # a rare task joins a visit that lies this near
YEARLY_JOINS_DAYS = 8


@dataclass(frozen=True)
class Job:
    """A task done at a system, at one of its positions where the task is about one."""

    task: Task
    built: Built
    position: Position | None = None

    def would_mend(self, day: date) -> bool:
        """Whether this work would have ended a fault that the demo has to show."""
        ails = self.built.ailment
        return bool(ails.kind) and day >= ails.since and self.task.slug in CHANGES

    @property
    def thing(self):
        """What the task is about: a position, the site or the system."""
        site = self.built.place.site if self.task.place_kind == PlaceKind.SITE else None
        return self.position or site or self.built.system


@dataclass
class Days:
    """Jobs by site and day, and those that lie before the two years that are told."""

    visits: dict[tuple[int, date], list[Job]] = field(default_factory=lambda: defaultdict(list))
    before: list[tuple[date, Job]] = field(default_factory=list)

    def add(self, day: date, job: Job):
        if job.would_mend(day):  # it was done before the fault began, and has not ended it
            self.before.append((job.built.ailment.since - timedelta(days=20), job))
            return
        self.visits[job.built.place.site.pk, day].append(job)

    def near(self, built: Built, day: date, within: int) -> date | None:
        """The day of a visit to the site that lies near a day, where there is one."""
        found = (
            day + timedelta(days=shift * sign)
            for shift in range(within)
            for sign in (-1, 1)
            if (built.place.site.pk, day + timedelta(days=shift * sign)) in self.visits
        )
        return next(found, None)


@dataclass
class Tasks:
    """The trade's tasks with the days between two of them for a system."""

    by_slug: dict[str, Task]
    rhythms: dict[int, list[Rhythm]]

    @classmethod
    def read(cls) -> "Tasks":
        rhythms = defaultdict(list)
        for rhythm in Rhythm.objects.filter(who=Who.TECHNICIAN).order_by("pk"):
            rhythms[rhythm.task_id].append(rhythm)
        return cls({task.slug: task for task in Task.objects.order_by("slug")}, dict(rhythms))

    def every_days(self, task: Task, built: Built) -> float | None:
        """Calendar days of the shortest clock that counts; None for seasons and events."""
        per_unit = {"h": 1 / built.hours_per_day, "d": 1, "month": 365.25 / 12}
        counted = [
            rhythm.every * per_unit[rhythm.unit]
            for rhythm in self.rhythms.get(task.pk, ())
            if rhythm.clock in {Clock.RUN, Clock.OP, Clock.CAL} and rhythm.every
        ]
        return min(counted, default=None)


def days_of_work(draw: Random, built: list[Built], tasks: Tasks, *, today: date) -> Days:
    """Season work, rounds, and the tasks that come once a year or more seldom."""
    days = Days()
    told_from = today - timedelta(days=365 * YEARS_TOLD)
    by_site = defaultdict(list)
    for one in built:
        by_site[one.place.site.pk].append(one)
    for number, there in enumerate(by_site.values(), start=1):
        phase = 2 + int(number * EVENLY % 1 * (ROUND_DAYS - 2))
        for one in there:
            _add_rounds(draw, days, one, tasks, phase, told_from, today)
            for day, slug in one.seasons:
                if day >= told_from:
                    days.add(day, Job(tasks.by_slug[slug], one))
                if day >= told_from and slug == "spring_restart":
                    _add_round(days, one, tasks, day)
        for one in there:
            _add_rare(draw, days, one, tasks, told_from, today)
    return days


def _add_rounds(draw, days, built, tasks, phase, told_from, today):
    last = _last_round(built, phase, today)
    for day in _rounds(draw, built, last, told_from):
        _add_round(days, built, tasks, day)
    if built.cabinet.story == "failed":
        days.add(failed_on(today), Job(tasks.by_slug["gfci_test"], built))


def _add_round(days, built, tasks, day):
    """All that a round does; where nothing runs only the outlet is tested."""
    for slug in ROUND if built.runs_on(day) else ["gfci_test"]:
        position = built.positions["filter"] if slug == "filter_change" else None
        days.add(day, Job(tasks.by_slug[slug], built, position))


def _last_round(built, phase, today):
    """The day of the last round; the special systems have theirs where their story wants it."""
    tuesday = today + timedelta(days=7 - today.weekday() + 1)
    told = {
        "in_window": today - timedelta(days=115),
        "overdue": today - timedelta(days=152),
        "due_tuesday": tuesday - timedelta(days=120),
        "outlet_soon": today - timedelta(days=108),
        "shut": heron_shut_on(today) - timedelta(days=80),
    }
    return told.get(built.cabinet.story) or _working(today - timedelta(days=phase))


def _rounds(draw, built, last, told_from) -> Iterator[date]:
    day = last
    while day >= max(told_from, built.system.installed_on + timedelta(days=30)):
        yield day
        day = _working(day - timedelta(days=ROUND_DAYS + draw.randrange(-4, 5)))


def _working(day):
    return day - timedelta(days=max(0, day.isoweekday() - 5))


def _add_rare(draw, days, built, tasks, told_from, today):
    for slug, task in tasks.by_slug.items():
        every = tasks.every_days(task, built)
        if slug in ROUND or slug in WITHOUT_ROUND or not every:
            continue
        for position in _positions(task, built):
            job = Job(task, built, position)
            if task.anchor == Anchor.FIXED:
                _add_yearly(draw, days, job, told_from, today)
            else:
                _add_last(draw, days, job, every, told_from, today)


def _positions(task, built):
    """Where a task is done at a system; nowhere when it is for another kind of compressor."""
    if task.compressor_kinds and built.model.kind not in task.compressor_kinds:
        return []
    if task.place_kind == PlaceKind.SITE:
        first = built.place.cabinets[0] is built.cabinet
        return [None] if first and built.place.site.public_access else []
    if task.place_kind == PlaceKind.SYSTEM:
        return [None]
    if task.position_kind == PositionKind.COMPRESSOR:
        return [built.positions["compressor"]]
    return built.plates if task.position_kind == PositionKind.DIFFUSER else []


def _add_yearly(draw, days, job, told_from, today):
    """A yearly task keeps its day: done about each anniversary of the commissioning."""
    installed = job.built.system.commissioned_on
    for year in range(1, 12):
        day = _working(add_months(installed, 12 * year) + timedelta(days=draw.randrange(-22, 9)))
        if told_from <= day < today and job.task.crew:
            _place_at(days, job, day, today, YEARLY_JOINS_DAYS)
        elif told_from <= day < today:  # papers, at the desk
            days.before.append((day, job))


def _add_last(draw, days, job, every, told_from, today):
    """When a rare task was done last; a few have their next one coming up now."""
    share = draw.uniform(0.05, 1 - job.task.early_days / every + OPENS_BEFORE)
    day = _working(today - timedelta(days=round(share * every)))
    if day <= job.built.system.installed_on or day >= today:
        return
    if day < told_from:
        days.before.append((day, job))
    else:
        _place_at(days, job, day, today, JOINS_DAYS)


def _place_at(days, job, day, today, within):
    near = days.near(job.built, day, within) if job.task.crew == 1 else None
    chosen = near if near and near < today else day
    if not job.built.runs_on(chosen) and job.built.system.winter_mode == WinterMode.SHUT_DOWN:
        chosen = day
    days.add(chosen, job)
