"""Which work of the coming weeks has to be done within them, and what stands open in each."""

from dataclasses import replace

from servicedesk.kinds import Harm
from servicedesk.planning.routing.problem import (
    NEVER_TOO_LATE,
    WEEK,
    Job,
    StopWish,
    WeekProblem,
)

GRAVE = {Harm.SAFETY, Harm.FISH}  # never put off from the week in which it falls due

Bundle = tuple[int, tuple[Job, ...]]  # from which day on, and the work


def week_of(day: int) -> int:
    """Which week of the horizon a day lies in.

    day: from the Monday of the week that is published.
    Returns 0 for that week, 1 for the next one.
    Source: our own rule.
    """
    return day // WEEK


def deadline(job: Job) -> int:
    """The last day on which work is still in time.

    job: the work.
    Returns a day; the end of the first week for work that is late already. Work on which people
    or fish depend, and work without a known tolerance, is in time until the end of the week in
    which it falls due.
    Source: our own rule.
    """
    due = -job.days_late
    weekend = WEEK * week_of(due) + WEEK - 1
    last = weekend if job.closes_day is None else job.closes_day
    if job.harm in GRAVE:
        last = min(last, weekend)
    return last if last >= 0 else WEEK - 1


def settled(problem: WeekProblem, wish: StopWish) -> StopWish:
    """A stop with its work told apart: what the horizon has to see done, and what may wait.

    problem: the weeks; with one alone the due days decide, and nothing is changed.
    wish: the site's stop.
    Returns the stop; its work bears `waits`, and it is good until the first deadline.
    Source: our own rule.
    """
    if problem.weeks == 1:
        return wish
    jobs = tuple(
        replace(job, waits=job.pulled_forward or deadline(job) > problem.last_day)
        for job in wish.jobs
    )
    forced = [deadline(job) for job in jobs if not job.waits]
    return replace(
        wish, jobs=jobs, good_until_day=min([wish.good_until_day, *forced], default=NEVER_TOO_LATE)
    )


def bundles(wish: StopWish, week: int) -> list[Bundle]:
    """What may be done together at a site in one week.

    wish: the site's stop.
    week: 0 for the one that is published; later ones are looked at from their Mondays.
    Returns (first day, work): what stands open on Monday, and again with each day on which more
    work opens or its parts arrive.
    Source: our own rule.
    """
    monday = WEEK * week
    days = {monday}
    days |= {
        job.first_day
        for job in wish.jobs
        if monday < job.first_day < monday + WEEK and (week == 0 or deadline(job) < monday + WEEK)
    }
    found: list[Bundle] = []
    for day in sorted(days):
        jobs = tuple(job for job in wish.jobs if job.first_day <= day)
        if jobs and any(not job.pulled_forward for job in jobs):
            found.append((day, jobs))
    return found
