"""What a season's capacity curve rests on, read in a constant number of queries."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import F, Q, Sum

from customers.models import Firm, Site
from equipment.kinds import WinterMode
from equipment.models import Position, System
from servicedesk.kinds import Outcome
from servicedesk.models import Absence, DueItem, Shift, Work
from servicedesk.planning.capacity import (
    ON_SITE,
    Capacity,
    CrewDay,
    Job,
    capacity,
    pace_share,
    season_shown,
    share_left,
)
from servicedesk.planning.seasons import Season

LOOKED_BACK = timedelta(days=28)
SHOWN_LATE = timedelta(days=60)  # how long work whose window was missed is shown
AHEAD = timedelta(days=240)  # the window after the next one lies further off
SEASON = timedelta(days=200)  # how far back work of this season lies at most


@dataclass(frozen=True)
class Left:
    """A due item of the season, with what a page asks of it."""

    system: int | None
    site: int
    region: int | None
    opens_on: date
    closes_on: date
    minutes: int
    ponds: tuple[int, ...]


@dataclass
class SeasonNow:
    """One season of the firm as it stands on a day."""

    season: Season
    southern: bool
    on: date
    left: list[Left] = field(default_factory=list)
    done_systems: dict[int | None, set[int]] = field(default_factory=dict)  # by region
    done_ponds: dict[int | None, set[int]] = field(default_factory=dict)
    undecided: dict[int | None, int] = field(default_factory=dict)
    share: float = 1.0
    paced: bool = False  # the share is that of the last weeks, not what other work leaves
    capacity: Capacity | None = None

    @property
    def closed_ponds(self) -> set[int]:
        """Ponds whose window closed before their work was done."""
        return {pond for row in self.left if row.closes_on < self.on for pond in row.ponds}


def season_now(*, now: datetime, season: str = "") -> SeasonNow:
    """The season that is planned for, or a named one: jobs left, done, hours, and what misses."""
    today = now.date()
    southern = _is_southern()
    found = SeasonNow(
        Season(season) if season in {"winter", "spring"} else season_shown(today, southern),
        southern,
        today,
    )
    ponds = _ponds_of_systems()
    found.left = _left(found, ponds)
    _add_done(found, ponds)
    if found.season == Season.WINTER:
        found.undecided = _undecided()
    last = max((row.closes_on for row in found.left), default=today)
    crews = hours_on_site(today - LOOKED_BACK, max(last, today))
    found.share, found.paced = _share(found, crews, last)
    jobs = [
        Job(row.minutes, row.closes_on, row.opens_on, row.system or 0, row.ponds)
        for row in found.left
        if row.closes_on >= today
    ]
    found.capacity = capacity(jobs, crews, today, found.share)
    return found


def hours_on_site(from_on: date, until_on: date) -> dict[date, CrewDay]:
    """Hours that people have for work at ponds, day by day: paid, as far as a day is filled, and
    without driving."""
    shifts = Shift.objects.filter(technician__active=True, from_on__lte=until_on)
    shifts = list(shifts.filter(Q(to_on=None) | Q(to_on__gte=from_on)))
    away = Absence.objects.filter(to_on__gte=from_on, from_on__lte=until_on)
    absent = {
        (row.technician_id, row.from_on + timedelta(days=n))
        for row in away
        for n in range((row.to_on - row.from_on).days + 1)
    }
    full = Firm.objects.values_list("day_full_percent", flat=True).first() or 80
    by_weekday = defaultdict(list)
    for shift in shifts:
        by_weekday[shift.weekday].append(shift)
    found = {}
    for number in range((until_on - from_on).days + 1):
        on = from_on + timedelta(days=number)
        there = [
            shift
            for shift in by_weekday[on.isoweekday()]
            if shift.from_on <= on
            and (shift.to_on is None or on <= shift.to_on)
            and (shift.technician_id, on) not in absent
        ]
        hours = sum(map(_hours, there)) * full / 100 * ON_SITE
        found[on] = CrewDay(hours, len({shift.technician_id for shift in there}))
    return found


def _hours(shift):
    minutes = (shift.ends.hour - shift.starts.hour) * 60 + shift.ends.minute - shift.starts.minute
    return max(0, minutes - shift.lunch_min) / 60


def _is_southern():
    served = Site.objects.filter(pk__in=System.objects.values("site"))
    south = served.filter(lat__lt=0).count()
    return south * 2 > served.count()


def _ponds_of_systems():
    rows = Position.objects.lying().values_list("system_id", "pond_id").distinct()
    found = defaultdict(set)
    for system, pond in rows:
        found[system].add(pond)
    return found


def _left(found, ponds):
    rows = DueItem.objects.filter(
        task__season=found.season,
        task__active=True,
        paused=False,
        due_on__range=(found.on - SHOWN_LATE, found.on + AHEAD),
    ).order_by("due_on", "pk")
    names = ("system_id", "site_id", "site__region_id", "opens_on", "due_on")
    values = rows.values_list(*names, F("task__minutes") * F("task__crew"))
    return [Left(*row, tuple(sorted(ponds.get(row[0], ())))) for row in values]


def _add_done(found, ponds):
    """Systems whose work of this season is done: since its windows opened, or about so long."""
    first = min((row.opens_on for row in found.left), default=found.on)
    since = min(max(first - timedelta(days=30), found.on - SEASON), found.on)
    works = Work.objects.counting().filter(
        task__season=found.season, outcome=Outcome.DONE, done_at__date__gte=since
    )
    for system, region in works.values_list("system_id", "site__region_id").distinct():
        found.done_systems.setdefault(region, set()).add(system)
        found.done_ponds.setdefault(region, set()).update(ponds.get(system, ()))


def _undecided():
    served = System.objects.filter(pk__in=DueItem.objects.values("system"))
    waiting = served.filter(winter_mode=WinterMode.UNDECIDED)
    found = defaultdict(int)
    for region in waiting.values_list("site__region_id", flat=True):
        found[region] += 1
    return dict(found)


def _share(found, crews, last):
    """The pace of the last weeks once windows are open; before, what other work leaves."""
    opened = min((row.opens_on for row in found.left), default=found.on)
    since = max(found.on - LOOKED_BACK, opened)
    days = [day for on, day in crews.items() if since <= on < found.on]
    had = sum(day.hours for day in days)
    works = Work.objects.counting().filter(
        task__season=found.season,
        outcome=Outcome.DONE,
        done_at__date__gte=since,
        done_at__date__lt=found.on,
    )
    done = works.aggregate(all=Sum(F("task__minutes") * F("task__crew")))["all"] or 0
    pace = pace_share(done / 60, had, sum(day.people for day in days))
    if pace is not None:
        return pace, True
    other = DueItem.objects.filter(
        task__season="", paused=False, due_on__range=(found.on, last)
    ).aggregate(all=Sum(F("task__minutes") * F("task__crew")))["all"]
    had = sum(day.hours for on, day in crews.items() if found.on <= on <= last)
    return share_left((other or 0) / 60, had), False
