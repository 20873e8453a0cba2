"""Why a stop stands where it stands, in a sentence for the manager."""

from servicedesk.kinds import HARM_ORDER
from servicedesk.planning.routing.problem import Job, StopWish

NAMED = 4  # jobs done along that are named; the others are counted


def why_there(wish: StopWish, jobs: tuple[Job, ...], day: int) -> str:
    """What brought somebody to a site on that day.

    wish: the site's stop.
    jobs: the work done in it.
    day: of the week, 0 to 6.
    Returns the gravest work and how it stands on that day, what else is due, and what is done
    along before it is due.
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
    if len(wish.locks) > 1:
        said.append(f"{len(wish.locks)} people meet here.")
    elif wish.locks:
        said.append("Kept here by hand.")
    return " ".join(said)


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
