"""The ways in which a stop may be made, of which the search takes one."""

from dataclasses import dataclass, replace

from servicedesk.planning.routing.ahead import prize_ahead_cents
from servicedesk.planning.routing.horizon import GRAVE, Bundle, bundles, deadline
from servicedesk.planning.routing.insertion import lean_jobs
from servicedesk.planning.routing.problem import (
    WEEK,
    WHOLE_DAY,
    Job,
    Lock,
    StopWish,
    WeekProblem,
    Window,
    jobs_at,
    minutes_of,
    open_windows,
)
from servicedesk.planning.routing.sorting import LATE_PERCENT, is_good_day, longest_min, prize_cents

MEETING_KEPT = 20_000  # cents for each of its people, at the least: it was settled; our judgement

DAY_PERCENT = 2  # of the prize, lost with each day that people or fish wait; our judgement


@dataclass(frozen=True)
class Choice:
    """One way to make a stop: on these days, with these jobs, for this prize in cents."""

    wish: StopWish
    jobs: tuple[Job, ...]
    first: Window
    last: Window
    prize: int
    lock: Lock | None = None


def choices(problem: WeekProblem, wish: StopWish) -> list[list[Choice]]:
    """The ways to make a stop.

    problem: the week, or the weeks of its horizon.
    wish: the stop, sorted out.
    Returns for each stay its ways, one of which is taken; a pair that meets are two stays.
    Source: our own rule.
    """
    if wish.held:
        return [_held(problem, wish, lock) for lock in wish.held]
    days = {shift.day for shift in problem.shifts}
    windows = sorted((w for w in wish.windows if w.day in days), key=lambda w: (w.day, w.opens_min))
    found = []
    for week in range(problem.weeks):
        for day, jobs in _done_together(problem, wish, week):
            inside = [w for w in windows if day <= w.day < WEEK * (week + 1)]
            found += _on_days(problem, wish, jobs, inside)
    return [found]


def prize_on(problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...], day: int) -> int:
    """What it is worth to make a stop from a day on.

    problem: the week, or the weeks of its horizon.
    wish: the stop, sorted out.
    jobs: the work done in it.
    day: from the Monday of the week.
    Returns cents.
    Source: our own rule.
    """
    if wish.locks:
        return prize_cents(wish, jobs)
    if problem.weeks > 1:
        prize = prize_ahead_cents(problem, wish, jobs, day)
    else:
        prize = prize_cents(wish, jobs)
        prize = prize if is_good_day(wish, day) else prize * LATE_PERCENT // 100
    return prize * (100 - DAY_PERCENT * day) // 100 if _is_pressing(wish) else prize


def _done_together(problem: WeekProblem, wish: StopWish, week: int) -> list[Bundle]:
    """Each bundle, and in a week that is planned alone also without what can wait.

    Over several weeks somebody who comes does all that is open: to leave it would push work beyond
    the last week, where its minutes are not counted, and costs a visit. What a full day has no room
    for is left off afterwards.
    """
    found = []
    for day, whole in bundles(wish, week):
        jobs = _in_a_day(problem, wish, whole)
        found.append((day, jobs))
        lean = lean_jobs(replace(wish, jobs=jobs), None)
        if problem.weeks == 1 and len(lean) < len(jobs):
            found.append((day, lean))
    return found


def _in_a_day(problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...]) -> tuple[Job, ...]:
    """Over several weeks: as much as a day has room for, what is to be done first before."""
    if problem.weeks == 1:
        return jobs
    drives = problem.travel.minutes
    room = max(
        longest_min(problem, shift.from_min, shift.until_min)
        - int(drives[shift.home, wish.place] + drives[wish.place, shift.home])
        for shift in problem.shifts
    )
    kept: tuple[Job, ...] = ()
    for job in sorted(jobs, key=lambda job: (job.can_wait, deadline(job))):
        if not kept or minutes_of(wish, (*kept, job)) <= room:
            kept += (job,)
    return tuple(job for job in jobs if job in kept)


def _on_days(
    problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...], windows: list[Window]
) -> list[Choice]:
    made = [
        Choice(wish, jobs, first, last, prize_on(problem, wish, jobs, first.day))
        for first, last in _spans(wish, windows)
        if first.day != last.day or last.closes_min - first.opens_min >= minutes_of(wish, jobs)
    ]
    return [choice for choice in made if choice.prize > 0]


def _held(problem: WeekProblem, wish: StopWish, lock: Lock) -> list[Choice]:
    jobs = jobs_at(wish, lock)
    windows = open_windows(wish, lock.day, lock.start_min, jobs)
    prize = prize_on(problem, wish, wish.jobs, lock.day)
    prize = max(prize, MEETING_KEPT if wish.pins else 0)
    return [Choice(wish, jobs, window, window, prize, lock) for window in windows]


def _spans(wish: StopWish, windows: list[Window]) -> list[tuple[Window, Window]]:
    """Whole days in a row join into one span; the end of the tolerance parts them."""
    spans: list[tuple[Window, Window]] = []
    for window in windows:
        if spans and _joins(wish, spans[-1][1], window):
            spans[-1] = (spans[-1][0], window)
        else:
            spans.append((window, window))
    return spans


def _joins(wish: StopWish, before: Window, after: Window) -> bool:
    whole = all(
        (w.opens_min, w.closes_min, w.starts_by_min) == (0, WHOLE_DAY, None)
        for w in (before, after)
    )
    alike = is_good_day(wish, before.day) == is_good_day(wish, after.day)
    return whole and alike and not _is_pressing(wish)


def _is_pressing(wish: StopWish) -> bool:
    """People or fish wait already: then each day counts, not only the week."""
    return any(job.harm in GRAVE and job.days_late >= 0 for job in wish.jobs)
