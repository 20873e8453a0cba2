"""The next twelve months: of a place occasion by occasion, of the firm as weeks of work."""

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from customers.models import Pond
from equipment.models import Position, System
from servicedesk.actions.due import occasions
from servicedesk.models import DueItem, Task
from servicedesk.planning.calendar import week_name
from servicedesk.planning.silence import interval_days
from servicedesk.planning.year import later_occasions, months_ahead

MONTHS = 12


@dataclass
class Line:
    """One task at one place in one month, with its days."""

    task: Task
    where: str
    days: list[date] = field(default_factory=list)
    because: str = ""


@dataclass
class Month:
    first: date
    lines: list[Line]

    @property
    def minutes(self):
        return sum(line.task.minutes * len(line.days) for line in self.lines)


@dataclass
class Week:
    """One week of the firm: how many jobs, how long they take on site, and which."""

    monday: date
    name: str
    jobs: int
    minutes: int  # of people: a job for two counts twice
    tasks: list[tuple[Task, int]]
    share: float  # of the fullest week, in percent


@dataclass
class Year:
    """The firm's weeks, and what they rest on."""

    weeks: list[Week]
    systems: int
    items: int
    at_rest: int
    late: int


def last_day(today: date) -> date:
    return months_ahead(today, MONTHS + 1)[-1] - timedelta(days=1)


def months_of(system: System, *, now: datetime, today: date) -> list[Month]:
    """What falls due at a system, at its waters and units, and at its site."""
    return _months(system.site, lambda facts: facts.system.pk == system.pk, now, today)


def months_of_pond(pond: Pond, *, now: datetime, today: date) -> list[Month]:
    """The same for every system of which something lies in a pond."""
    return _months(pond.site, lambda facts: _lies_in(pond, facts), now, today)


def _lies_in(pond, facts):
    return any(position.pond_id == pond.pk for position in facts.positions)


def _months(site, meant, now, today):
    """`meant` says which systems of the site; the site comes with its region."""
    found = [
        occasion
        for occasion in occasions([site.pk], now=now, until=last_day(today), known=[site])
        if any(meant(facts) for facts in occasion.around)
    ]
    systems = {facts.system.pk for one in found for facts in one.around if meant(facts)}
    lines = defaultdict(dict)
    for occasion in found:
        on = max(occasion.due.on, today)  # what is overdue is work of now
        key = (occasion.task.pk, occasion.place["place_key"])
        line = lines[on.replace(day=1)].setdefault(
            key, Line(occasion.task, _where(occasion.thing, len(systems)))
        )
        line.days.append(on)
        line.because = line.because or occasion.due.because
    return [
        Month(first, sorted(lines[first].values(), key=lambda line: (line.days[0], line.where)))
        for first in months_ahead(today, MONTHS)
    ]


def _where(thing, systems):
    if isinstance(thing, Position):
        return f"{thing.system}, {thing}" if systems > 1 else str(thing)
    if isinstance(thing, System):
        return str(thing) if systems > 1 else ""
    return str(thing)


def year_of_the_firm(*, today: date) -> Year:
    """The weeks of the whole firm, from the due days that are kept and their intervals.

    Two queries for any number of systems: later occasions follow each due day at its interval.
    """
    tasks = {task.pk: task for task in Task.objects.all()}
    jobs, until = Counter(), last_day(today)
    systems, items, at_rest, late = set(), 0, 0, 0
    fields = ["task_id", "system_id", "due_on", "paused"]
    basis = ["basis__clock", "basis__every", "basis__unit", "basis__hours_per_day"]
    rows = DueItem.objects.filter(task__crew__gt=0).values_list(*fields, *basis)
    for task, system, due_on, paused, clock, every, unit, rate in rows.iterator(chunk_size=5000):
        systems.add(system)
        if paused or due_on is None:
            at_rest += 1
            continue
        items += 1
        late += due_on < today
        every_days = interval_days(clock, every, unit or "", rate)
        for on in later_occasions(max(due_on, today), every_days, until):
            jobs[on - timedelta(days=on.weekday()), task] += 1
    return Year(_weeks(jobs, tasks, today, until), len(systems - {None}), items, at_rest, late)


def _weeks(jobs, tasks, today, until):
    by_week = defaultdict(list)
    for (monday, task), count in jobs.items():
        by_week[monday].append((tasks[task], count))
    weeks, monday = [], today - timedelta(days=today.weekday())
    while monday <= until:
        of_week = sorted(by_week[monday], key=lambda row: (-row[1], row[0].name))
        minutes = sum(task.minutes * task.crew * count for task, count in of_week)
        count = sum(count for _task, count in of_week)
        weeks.append(Week(monday, week_name(monday), count, minutes, of_week, 0))
        monday += timedelta(days=7)
    fullest = max((week.minutes for week in weeks), default=0)
    for week in weeks:
        week.share = 100 * week.minutes / fullest if fullest else 0
    return weeks


def months_with_weeks(year: Year) -> list[tuple[date, list[Week], int, int]]:
    """The weeks under the month in which they begin, with jobs and minutes of the month."""
    months = defaultdict(list)
    for week in year.weeks:
        months[week.monday.replace(day=1)].append(week)
    return [
        (first, weeks, sum(w.jobs for w in weeks), sum(w.minutes for w in weeks))
        for first, weeks in months.items()
    ]


def basis_words(year: Year) -> str:
    """What the firm's year rests on, in a sentence."""
    return _(
        "From %(items)s due days at %(systems)s systems. Each task comes again after its interval, "
        "as if it were done on its day and every system went on as it does today. %(late)s that "
        "are past their day stand in this week. %(rest)s clocks at rest are left out."
    ) % {
        "items": year.items,
        "systems": year.systems,
        "late": year.late,
        "rest": year.at_rest,
    }
