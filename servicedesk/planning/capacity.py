"""Whether a season's work fits before its windows close: work left against crew-days left."""

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from servicedesk.planning.seasons import Season

ON_SITE = 0.5  # of a paid day; the rest is driving of similar size (judgement)
ENOUGH_PERSON_DAYS = 10  # before them a pace tells nothing; a judgement
WINTER_FROM, SPRING_FROM = 8, 2  # months, in the north


@dataclass(frozen=True)
class Job:
    """Season work that is left at one system. `minutes` are those of all people it takes."""

    minutes: int
    closes_on: date
    opens_on: date
    system: int
    ponds: tuple[int, ...] = ()


@dataclass(frozen=True)
class CrewDay:
    """Hours for work on site that people have on a day, and how many they are."""

    hours: float
    people: int


NOBODY = CrewDay(0.0, 0)


@dataclass(frozen=True)
class CurvePoint:
    """Up to and including a day: hours of work whose windows close, and hours that crews have."""

    on: date
    needed_h: float
    available_h: float


@dataclass(frozen=True)
class Capacity:
    jobs: int
    needed_h: float
    person_days: int
    last_close: date | None
    available_h: float = 0.0
    points: tuple[CurvePoint, ...] = ()
    missed_ponds: tuple[int, ...] = ()
    missed_jobs: int = 0


def season_shown(today: date, southern: bool) -> Season:
    """The season that is planned for: winter from August to January, spring from February.

    today: the day.
    southern: whether the firm works in the south, where it is half a year later.
    Returns winter or spring.
    Source: common practice, no source.
    """
    month = (today.month + (6 if southern else 0) - 1) % 12 + 1
    return Season.SPRING if SPRING_FROM <= month < WINTER_FROM else Season.WINTER


def capacity(
    jobs: Iterable[Job], crews: Mapping[date, CrewDay], today: date, share: float = 1.0
) -> Capacity:
    """Work left against the hours of crews, day by day, and what will miss its window.

    jobs: season work that is left.
    crews: hours of work on site [h] and people on each day from today on.
    today: the first day that counts.
    share: of those hours that season work gets, 0 to 1.
    Returns sums, the curve, and the ponds that are still waiting when their windows close, if as
        few as possible are left: fewer cannot be. Work whose window is closed already is missed.
    Raises ValueError for a share outside 0 to 1.
    Source: Moore and Hodgson (1968), fewest late jobs on one line of work.
    """
    if not 0 <= share <= 1:
        raise ValueError("the share of season work lies between 0 and 1")
    left = sorted(jobs, key=lambda job: (job.closes_on, job.opens_on, job.system))
    if not left:
        return Capacity(0, 0.0, 0, None)
    first, last = min(job.opens_on for job in left), left[-1].closes_on
    begins = max(today, first)
    days = [today + timedelta(days=n) for n in range((last - today).days + 1)]
    had, available = {}, 0.0
    for day in days:
        available += share * crews.get(day, NOBODY).hours if day >= begins else 0.0
        had[day] = available
    missed = _missed(left, had)
    ponds = {pond for job in missed for pond in job.ponds}
    return Capacity(
        jobs=len(left),
        needed_h=sum(job.minutes for job in left) / 60,
        person_days=sum(crews.get(day, NOBODY).people for day in days if day >= begins),
        available_h=had.get(last, 0.0),
        last_close=last,
        points=_points(left, had),
        missed_ponds=tuple(sorted(ponds)),
        missed_jobs=len(missed),
    )


def _missed(left, had):
    """The fewest jobs that cannot be done before their windows close (Moore and Hodgson, 1968)."""
    doing, missed, hours = [], [], 0.0
    for number, job in enumerate(left):
        if job.closes_on not in had:
            missed.append(job)
            continue
        heapq.heappush(doing, (-job.minutes, number, job))
        hours += job.minutes / 60
        while doing and hours > had[job.closes_on] + 1e-9:
            _, _, longest = heapq.heappop(doing)
            hours -= longest.minutes / 60
            missed.append(longest)
    return missed


def pace_share(done_h: float, had_h: float, person_days: float) -> float | None:
    """The share of crews' hours that season work took in the last weeks.

    done_h: hours of season work that was done [h].
    had_h: hours on site that crews had in the same days [h].
    person_days: days that people worked in them.
    Returns 0 to 1; None while too few days are over to tell.
    Source: our own rule; ten person-days are a judgement.
    """
    if person_days < ENOUGH_PERSON_DAYS or had_h <= 0:
        return None
    return min(1.0, done_h / had_h)


def share_left(other_h: float, had_h: float) -> float:
    """The share of crews' hours that is left beside all other work that falls due.

    other_h: hours of other work in the same days [h].
    had_h: hours on site that crews have in them [h].
    Returns 0 to 1.
    Source: our own rule.
    """
    return max(0.0, 1 - other_h / had_h) if had_h > 0 else 0.0


def _points(left, had):
    """The curve at each day on which something happens, at most some hundreds."""
    needs, total = {}, 0.0
    for job in left:
        total += job.minutes / 60
        needs[job.closes_on] = total
    points, needed = [], 0.0
    for day in sorted({*had, *needs}):
        needed = needs.get(day, needed)
        points.append(CurvePoint(day, needed, had.get(day, 0.0)))
    return tuple(points)
