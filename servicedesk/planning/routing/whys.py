"""Why a stop stands where it stands, in a sentence for the manager."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from servicedesk.kinds import HARM_ORDER
from servicedesk.planning.routing.problem import (
    Job,
    PlannedRoute,
    PlannedStop,
    StopWish,
    WeekProblem,
)

NAMED = 4  # jobs done along that are named; the others are counted


@dataclass(frozen=True)
class Meets:
    """People who are at one site at one time, seen from one of them."""

    others: tuple[str, ...]  # by name
    minute: int
    because: str = ""  # why not earlier


def why_there(wish: StopWish, jobs: tuple[Job, ...], day: int, meeting: Meets | None = None) -> str:
    """What brought somebody to a site on that day.

    wish: the site's stop.
    jobs: the work done in it.
    day: of the week, 0 to 6.
    meeting: whom somebody meets there, or None.
    Returns the gravest work and how it stands on that day, what else is due, and what is done
    along before it is due; with whom, when, and why not earlier.
    Source: our own words.
    """
    due = sorted(
        (job for job in jobs if not job.can_wait),
        key=lambda job: (HARM_ORDER[job.harm], -job.days_late, job.key),
    )
    early = [job for job in jobs if job.can_wait]
    said = []
    if due:
        said.append(f"{due[0].harm.capitalize()}: {due[0].called}, {_stands(due[0], day)}.")
        said += [f"Also due: {_names(due[1:])}."] if due[1:] else []
        said += [f"Done along, not due yet: {_names(early)}."] if early else []
    elif early:
        first = max(early, key=lambda job: job.days_late)
        rest = [job for job in early if job is not first]
        said.append(f"Can wait, but the way leads past: {first.called}, {_stands(first, day)}.")
        said += [f"With it: {_names(rest)}."] if rest else []
    if meeting:
        said.append(_meets(meeting))
    elif wish.locks:
        said.append("Kept here by hand.")
    return " ".join(said)


def meets(
    problem: WeekProblem, routes: Sequence[PlannedRoute], route: PlannedRoute, stop: PlannedStop
) -> Meets | None:
    """Whom somebody meets at a stop, and why not earlier.

    problem: the week, for names and for meetings with people whose days are not among the routes.
    routes: days with times.
    route, stop: of the one who is asked about.
    Returns Meets, or None for a stop that somebody makes alone.
    Source: our own rule.
    """
    wish = problem.wish_by_key[stop.wish]
    there = {
        other.technician: (other, one)
        for other in routes
        for one in other.stops
        if other.day == route.day and one.wish == stop.wish and set(one.jobs) & set(stop.jobs)
    }
    people = {lock.technician for lock in wish.held if lock.day == route.day} | set(there)
    others = tuple(sorted(problem.name_of(one) for one in people - {route.technician}))
    if not others:
        return None
    return Meets(others, stop.starts_min, _why_then(problem, wish, there, people))


def _why_then(
    problem: WeekProblem,
    wish: StopWish,
    there: Mapping[str, tuple[PlannedRoute, PlannedStop]],
    people: Collection[str],
) -> str:
    if len(wish.locks) >= len(people):
        return "placed by hand"
    if set(there) != set(people):
        return ""  # nothing is said of somebody whose day is not at hand
    shifts = problem.shift_by_day
    for name, (route, stop) in sorted(there.items()):
        shift = shifts.get((name, route.day))
        if shift and stop.arrives_min == stop.starts_min and route.leaves_min == shift.from_min:
            return f"as soon as {problem.name_of(name)} can be there"
    route, stop = next(iter(there.values()))
    if any(w.day == route.day and w.opens_min == stop.starts_min for w in wish.windows):
        return "when the site opens"
    return "where it adds the least driving to all their days"


def _meets(meeting: Meets) -> str:
    names = [*meeting.others]
    who = " and ".join([", ".join(names[:-1]), names[-1]] if names[:-1] else names)
    because = f", {meeting.because}" if meeting.because else ""
    return f"Meets {who} here at {meeting.minute // 60:02d}:{meeting.minute % 60:02d}{because}."


def _stands(job: Job, day: int) -> str:
    late = job.days_late + day
    if late == 0:
        return "due that day"
    days = "1 day" if abs(late) == 1 else f"{abs(late)} days"
    return f"{days} past its due day" if late > 0 else f"due {days} later"


def _names(jobs: list[Job]) -> str:
    names = list(dict.fromkeys(job.called for job in jobs))
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")
