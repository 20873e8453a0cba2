"""Who may meet at a stop whose work needs several people at one time."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    Shift,
    StopWish,
    WeekProblem,
    crew_of,
    open_windows,
)


@dataclass(frozen=True)
class Crew:
    """People who could meet on one day, the first of them able to do the rest of the site."""

    day: int
    shifts: tuple[Shift, ...]
    jobs: tuple[Job, ...]  # open on that day


def is_able(shifts: Sequence[Shift], jobs: Sequence[Job]) -> bool:
    """Whether some people together may do some work.

    shifts: of those who would meet.
    jobs: what needs them all, and what one of them does besides.
    Returns True if for each shared job one has its skill and, from a boat, one is qualified for
    it, who need not be the same; one alone has the skills of all the rest; and nobody lacks.
    Source: our own rule; never alone in a boat is common practice.
    """
    shared = [job for job in jobs if job.people > 1]
    alone = {job.skill for job in jobs if job.people == 1}
    return (
        all(job.people == len(shifts) for job in shared)
        and all(any(job.skill in shift.skills for shift in shifts) for job in shared)
        and (any(shift.boat for shift in shifts) or not any(job.boat for job in shared))
        and any(alone <= shift.skills for shift in shifts)
    )


def first_does_the_rest(
    shifts: Sequence[Shift], jobs: Sequence[Job], named: Sequence[str] = ()
) -> tuple[Shift, ...]:
    """The same people, in front the one who does what needs no second person.

    shifts: of those who meet.
    jobs: the work of the site.
    named: whom somebody placed there by hand; of several able ones he goes first.
    Returns the shifts in that order.
    Source: our own rule.
    """
    alone = {job.skill for job in jobs if job.people == 1}
    return tuple(
        sorted(shifts, key=lambda shift: (not alone <= shift.skills, shift.technician not in named))
    )


def is_due(job: Job) -> bool:
    """Whether people meet for some work, and not only do it along.

    job: the work.
    Returns True if it has to be done within the weeks that are looked at, and also if it falls
    due by the end of the first one, however long it might wait: nobody with a second person
    passes by chance.
    Source: our own rule.
    """
    return not job.pulled_forward and (not job.can_wait or job.days_late > -WEEK)


def wants_meeting(wish: StopWish) -> bool:
    """Whether a stop still lacks people whom the planner has to find.

    wish: the site's stop, sorted out.
    Returns True if work that is due needs more people than were placed there by hand.
    Source: our own rule.
    """
    due = [job for job in wish.jobs if job.people > 1 and is_due(job)]
    return bool(due) and len(wish.locks) < crew_of(due)


def crews(problem: WeekProblem, wish: StopWish, jobs: Sequence[Job]) -> Iterator[Crew]:
    """Everybody who could meet at a site, day by day.

    problem: the week, or the weeks of its horizon.
    wish: the site's stop; whoever was placed there by hand is one of them, on his day.
    jobs: the work wanted there.
    Returns, one after another, each crew on each day on which all of it is on shift, the site is
    open, and what needs the crew may begin.
    Source: our own rule.
    """
    size = crew_of(jobs)
    named = [lock.technician for lock in wish.locks]
    days = {lock.day for lock in wish.locks}
    by_day = defaultdict(list)
    for shift in problem.shifts:
        by_day[shift.day].append(shift)
    for day in sorted(by_day):
        there = tuple(job for job in jobs if job.first_day <= day)
        shared = [job for job in there if job.people > 1]
        if len(named) < size:
            shared = [job for job in shared if is_due(job)]
        if not shared or (days and day not in days):
            continue
        if not open_windows(wish, day, jobs=there):
            continue
        for shifts in combinations(by_day[day], size):
            people = {shift.technician for shift in shifts}
            if people.issuperset(named) and is_able(shifts, there):
                yield Crew(day, first_does_the_rest(shifts, there, named), there)
