"""Why work has no place in the week, and where it would go instead."""

from servicedesk.planning.routing.horizon import week_of
from servicedesk.planning.routing.nearest import Gaps, best_day
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    LeftOut,
    LeftOutReason,
    StopWish,
)
from servicedesk.planning.routing.sorting import LATER, full_sentence
from servicedesk.planning.routing.timetable import Visit

DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
WEEKS = ["", " next week", " in two weeks"]


def day_name(day: int) -> str:
    """A day of the horizon as it is said.

    day: from the Monday of the week that is planned.
    Returns such as "Tuesday" or "Tuesday next week".
    Source: our own words.
    """
    week = week_of(day)
    later = WEEKS[week] if week < len(WEEKS) else f" in {week} weeks"
    return DAYS[day % WEEK] + later


def full(job: Job) -> tuple[LeftOutReason, str]:
    """The reason of work that found no room anywhere.

    job: the work.
    Returns reason and sentence; what can wait is said to wait.
    Source: our own words.
    """
    return LATER if job.can_wait else (LeftOutReason.FULL, full_sentence())


def rest(job: Job) -> tuple[LeftOutReason, str]:
    """The reason of work whose site is visited, but not for it.

    job: the work.
    Returns reason and sentence.
    Source: our own words.
    """
    return LATER if job.can_wait else _REST


def placed_later(gaps: Gaps, visit: Visit, day: int) -> list[LeftOut]:
    """Work that has its place in a later week, with the best day of this one beside it.

    gaps: of the planned week.
    visit: the stop.
    day: where it stands.
    Returns for each of its jobs what is said of it.
    Source: our own words.
    """
    wish = visit.wish
    when = day_name(day)
    this_week = _near(gaps, visit)
    late = wish.good_until_day < day and not all(job.can_wait for job in visit.jobs)
    reason = LeftOutReason.FULL if late else LeftOutReason.LATER
    because = (
        f"Does not fit in time: every day that could take it is full. There is room {when}. "
        "Add a shift, or place it by hand."
        if late
        else f"In time later, with fewer kilometres: {when}.{_said(this_week)}"
    )
    return [_left(wish, job, reason, because, (day, None)) for job in visit.jobs]


def waiting(gaps: Gaps, wish: StopWish) -> list[LeftOut]:
    """Work that waits without a place yet, and the day of this week that comes nearest.

    gaps: of the planned week.
    wish: the stop.
    Returns for each of its jobs what is said of it.
    Source: our own words.
    """
    now = tuple(job for job in wish.jobs if job.first_day < WEEK)
    near = _near(gaps, Visit(wish, now)) if now else None
    found = []
    for job in wish.jobs:
        if job.first_day >= WEEK:
            because = f"Opens {day_name(job.first_day)}. It can wait."
            found.append(_left(wish, job, LATER[0], because, None))
        else:
            found.append(_left(wish, job, LATER[0], LATER[1] + _said(near), near))
    return found


def _near(gaps: Gaps, visit: Visit) -> tuple[int, int] | None:
    open_now = tuple(job for job in visit.jobs if job.first_day < WEEK)
    return best_day(gaps, Visit(visit.wish, open_now)) if open_now else None


def _said(near: tuple[int, int] | None) -> str:
    if near is None:
        return ""
    return f" This week: {DAYS[near[0]]}, +{max(1, round(near[1] / 10))} km."


def _left(
    wish: StopWish, job: Job, reason: LeftOutReason, because: str, best: tuple | None
) -> LeftOut:
    day, detour = best or (None, None)
    return LeftOut(wish.key, job.key, reason, because, day, detour)


_REST = (
    LeftOutReason.FULL,
    "Did not fit with the other work of the site, which is planned. Place it by hand, or leave it "
    "for the next week.",
)
