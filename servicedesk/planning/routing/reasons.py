"""Why work has no place in the week, and where it would go instead."""

from servicedesk.planning.routing.horizon import week_of
from servicedesk.planning.routing.insertion import Orders
from servicedesk.planning.routing.meetings import Meeting, free_meeting
from servicedesk.planning.routing.nearest import Gaps, best_day
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    LeftOut,
    LeftOutReason,
    StopWish,
    WeekProblem,
)
from servicedesk.planning.routing.sorting import LATER, full_sentence, people_words
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
    this_week = None if wish.pins else _near(gaps, visit)
    who = "".join(f" {_names(gaps.problem, wish)} meet there." for _ in wish.pins[:1])
    late = wish.good_until_day < day and not all(job.can_wait for job in visit.jobs)
    reason = LeftOutReason.FULL if late else LeftOutReason.LATER
    because = (
        f"Does not fit in time: every day that could take it is full. There is room {when}. "
        "Add a shift, or place it by hand."
        if late
        else f"In time later, with less driving: {when}.{who}{_said(this_week)}"
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


def not_met(problem: WeekProblem, orders: Orders, wish: StopWish) -> list[LeftOut]:
    """Why nobody meets for work that needs several people.

    problem: the week, or the weeks of its horizon.
    orders: its days as they are planned.
    wish: the stop, sorted out; enough people may do its work.
    Returns for each of its shared jobs what is said of it, and the best day for it after all.
    Source: our own words.
    """
    others = {day: [v for v in vs if v.wish.key != wish.key] for day, vs in orders.items()}
    later = free_meeting(problem, others, wish)
    best = later or free_meeting(problem, {}, wish)
    shared = [job for job in wish.jobs if job.people > 1]
    needs = f"Needs {people_words(shared[0])} at one time"
    if best is None:
        reason = LeftOutReason.CLOSED
        light = " in daylight" if any(job.boat for job in shared) else ""
        because = (
            f"{needs}: no day gives those who may do it a common time{light} that is long enough, "
            "with the drive. Ask the owner for other hours, or add a shift."
        )
    elif later:
        reason = LeftOutReason.LATER
        because = (
            f"{needs}; the other work there goes first. {_names(problem, later.wish)} can meet "
            f"there {day_name(later.day)}."
        )
    else:
        reason = LeftOutReason.FULL
        because = (
            f"{needs}: every day on which enough of those who may do it are there is full. "
            f"Nearest would be {day_name(best.day)}, {_names(problem, best.wish)}. "
            "Add a shift, move other work, or place it by hand."
        )
    day, detour = (best.day, meeting_detour_hm(problem, best)) if best else (None, None)
    return [LeftOut(wish.key, job.key, reason, because, day, detour) for job in shared]


def _names(problem: WeekProblem, wish: StopWish) -> str:
    names = [problem.name_of(pin.technician) for pin in wish.held]
    return " and ".join([", ".join(names[:-1]), names[-1]] if names[:-1] else names)


def meeting_detour_hm(problem: WeekProblem, meeting: Meeting) -> int:
    """What a meeting adds for all its people, next to the stops it stands between.

    problem: the week.
    meeting: with the days of its people as they become.
    Returns hundreds of metres.
    Source: geometry.
    """
    road, added = problem.travel.hectometres, 0
    for day, visits in meeting.changed.items():
        home = problem.shift_by_day[day].home
        stops = [home, *(visit.wish.place for visit in visits), home]
        n = next(n for n, v in enumerate(visits, 1) if v.wish.key == meeting.wish.key)
        before, here, after = stops[n - 1 : n + 2]
        added += int(road[before, here] + road[here, after] - road[before, after])
    return added


def _near(gaps: Gaps, visit: Visit) -> tuple[int, int] | None:
    open_now = tuple(job for job in visit.jobs if job.first_day < WEEK)
    return best_day(gaps, Visit(visit.wish, open_now)) if open_now else None


def _said(near: tuple[int, int] | None) -> str:
    if near is None:
        return ""
    return f" This week {DAYS[near[0]]} comes nearest."


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
