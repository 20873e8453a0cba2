"""What of the week can be planned automatically, what it is worth, and why the rest cannot."""

from dataclasses import dataclass, replace

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing.crews import crews, wants_meeting
from servicedesk.planning.routing.horizon import settled
from servicedesk.planning.routing.problem import (
    NEVER_TOO_LATE,
    WHOLE_DAY,
    Job,
    LeftOut,
    LeftOutReason,
    StopWish,
    WeekProblem,
    Window,
    minutes_of,
    open_windows,
)

# Cents. Each tier is three times the one below, and the lowest outweighs the dearest detour of
# a working day (about 50,000): nothing is left out to save kilometres.
PRIZE = {
    Harm.SAFETY: 4_860_000,
    Harm.FISH: 1_620_000,
    Harm.ASSET: 540_000,
    Harm.WARRANTY: 180_000,
    Harm.COSMETIC: 60_000,
}
LATE_FULL_DAYS = 60  # lateness counts up to here
PLACED_BY_HAND = 10_000_000
LATE_PERCENT = 85  # of the prize, after the tolerance; our judgement

# Work that can wait is worth a detour of this many kilometres, the more the nearer its due day,
# and its own minutes. Measured: fewer kilometres over a year and no more late work.
DETOUR_KM = (7.5, 25.0)
FAR_OFF_DAYS = 60
CENTS_PER_DETOUR_KM = 133  # 0.60 a kilometre, and 40 an hour at 55 km/h
CENTS_PER_MIN = 67  # 40 an hour; common practice, no source
ALONG = 500  # for each further job that is done in the same stay

SKILL_WORDS = {
    Skill.TRAINED: "a trained person",
    Skill.TECHNICIAN: "a technician",
    Skill.REBUILD: "a person qualified for rebuilds",
    Skill.ELECTRICIAN: "a licensed electrician",
}


@dataclass(frozen=True)
class Sorted:
    """The stops that may be planned, and the work that may not."""

    wishes: tuple[StopWish, ...]
    left_out: tuple[LeftOut, ...]


def prize_cents(wish: StopWish, jobs: tuple[Job, ...]) -> int:
    """What it is worth to the firm that a stop is made this week.

    wish: the site's stop; placed by hand, it outweighs everything.
    jobs: the work done in it.
    Returns cents: the worst job's tier and lateness, a little for each further job.
    Source: our own rule: safety, fish, asset, warranty, cosmetic, each three times the next.
    """
    if wish.locks:
        return PLACED_BY_HAND
    due = sorted((worth_cents(job) for job in jobs if not job.can_wait), reverse=True)
    waiting = [job for job in jobs if job.can_wait]
    minutes = sum(job.minutes for job in waiting)
    if due:
        extra = min(sum(due[1:]) // 10, due[0] // 5)
        return due[0] + extra + minutes * CENTS_PER_MIN + ALONG * len(waiting)
    minutes += wish.setup_min
    along = ALONG * (len(waiting) - 1)
    detour = detour_worth_hm(jobs) * CENTS_PER_DETOUR_KM // 10
    return detour + minutes * CENTS_PER_MIN + along


def detour_worth_hm(jobs: tuple[Job, ...]) -> int:
    """How far out of the way somebody goes for work that can wait.

    jobs: the work, none of it due before the week is over.
    Returns hundreds of metres, by the job that is due first.
    Source: our own measurement by simulation; 7.5 to 25 km.
    """
    nearest = max((job.days_late for job in jobs), default=-FAR_OFF_DAYS)
    urgency = min(1.0, max(0.0, 1 + nearest / FAR_OFF_DAYS))
    low, high = DETOUR_KM
    return round(10 * (low + (high - low) * urgency))


def sort_out(problem: WeekProblem) -> Sorted:
    """Keep what one person of this week can do, and say why the rest is left out.

    problem: the week.
    Returns stops with only the jobs that may be planned, and the left-out jobs with reasons.
    Work for several people stays where some day of the weeks has a crew for it; where and when
    they meet is found later.
    Source: our own rule.
    """
    wishes, left_out = [], []
    for wish in (settled(problem, wish) for wish in problem.wishes):
        kept, refused = _split(problem, wish)
        left_out += refused
        if not wants_meeting(replace(wish, jobs=tuple(kept))):
            waits = [job for job in kept if job.people > max(1, len(wish.locks))]
            left_out += [LeftOut(wish.key, job.key, *_later(job)) for job in waits]
            kept = [job for job in kept if job not in waits]
        wanted = [job for job in kept if not job.pulled_forward]
        least = _least(problem, wanted)
        together = any(job.people > 1 for job in wanted)
        if (
            wanted
            and not wish.locks
            and not together
            and (reason := _no_time(problem, wish, least))
        ):
            left_out += [LeftOut(wish.key, job.key, *reason) for job in kept]
        elif wanted:
            locks = wish.locks if together else wish.locks[:1]
            wishes.append(replace(wish, jobs=tuple(kept), locks=locks))
        else:
            left_out += [LeftOut(wish.key, job.key, *LATER) for job in kept]
    return Sorted(tuple(wishes), tuple(left_out))


def able_technicians(problem: WeekProblem, jobs: tuple[Job, ...]) -> set[str]:
    """Who may do all of some jobs in one stay.

    problem: the week, for its shifts.
    jobs: the work.
    Returns technicians on shift this week that hold every skill it asks for.
    Source: our own rule.
    """
    needed = {job.skill for job in jobs}
    return {shift.technician for shift in problem.shifts if needed <= shift.skills}


def full_sentence() -> str:
    """The reason of work that found no room.

    Returns a sentence for the manager.
    Source: our own words.
    """
    return (
        "Does not fit: every day that could take it is full. "
        "Add a shift, move other work, or place it by hand."
    )


def worth_cents(job: Job) -> int:
    """What one piece of work is worth that has to be done.

    job: the work.
    Returns cents: its tier of harm, and up to a third more or less by its lateness.
    Source: our own rule: safety, fish, asset, warranty, cosmetic, each three times the next.
    """
    late = min(max(job.days_late, -LATE_FULL_DAYS), LATE_FULL_DAYS)
    return PRIZE[job.harm] * (200 + late) // 200


LATER = (LeftOutReason.LATER, "Not due this week, and nobody passes near enough. It can wait.")


def _later(job: Job) -> tuple[LeftOutReason, str]:
    """Nobody passes by with a second person; they meet when it is due."""
    return LATER[0], f"Not due this week. It can wait; {people_words(job)} come when it is due."


def _split(problem: WeekProblem, wish: StopWish) -> tuple[list[Job], list[LeftOut]]:
    kept, refused = [], []
    for job in sorted(wish.jobs, key=lambda job: (job.can_wait, -worth_cents(job), job.key)):
        alone = tuple(one for one in kept if one.people == 1)
        if job.people > 1 and (why := _no_crew(problem, wish, (*kept, job))):
            refused.append(LeftOut(wish.key, job.key, *why))
        elif wish.locks and not _is_held_by_able(problem, wish, job):
            refused.append(LeftOut(wish.key, job.key, *_wrong_person(problem, wish, job)))
        elif job.people == 1 and not wish.locks and not able_technicians(problem, (*alone, job)):
            refused.append(LeftOut(wish.key, job.key, *_nobody(problem, job)))
        elif job.people == 1 and len(alone) < len(kept) and _no_crew(problem, wish, (*kept, job)):
            refused.append(LeftOut(wish.key, job.key, *_not_with_the_crew()))
        else:
            kept.append(job)
    return kept, refused


def _no_crew(
    problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...]
) -> tuple[LeftOutReason, str] | None:
    """Why nobody can meet for the last of some work, or None."""
    last = next(job for job in reversed(jobs) if job.people > 1)
    if wish.locks and len(wish.locks) >= last.people:
        return None
    if not wants_meeting(replace(wish, jobs=jobs)) or any(True for _ in crews(problem, wish, jobs)):
        return None
    return _why_no_crew(problem, wish, last)


def _why_no_crew(problem: WeekProblem, wish: StopWish, job: Job) -> tuple[LeftOutReason, str]:
    """The first thing that is missing: people, one qualified, one with the skill, a common day."""
    reason = LeftOutReason.BOAT if job.boat else LeftOutReason.TWO_PEOPLE
    needs = f"Needs {people_words(job)} at one time"
    alone = replace(wish, jobs=(job,))
    if wish.locks:
        names = " and ".join(problem.name_of(lock.technician) for lock in wish.locks)
        return reason, (
            f"{needs}; it was placed by hand with {names}, and nobody else who may do it has a "
            "shift that day. Place it with somebody else."
        )
    if job.boat and not any(shift.boat for shift in problem.shifts):
        return reason, f"{needs}; nobody on shift is qualified for a boat. Add a shift."
    if not any(job.skill in shift.skills for shift in problem.shifts):
        return reason, f"{needs}, one of them {SKILL_WORDS[job.skill]}; nobody on shift is one."
    if any(True for _ in crews(problem, alone, (job,))):
        return _apart(job)
    if len({shift.technician for shift in problem.shifts}) < job.people:
        return reason, f"{needs}; there is no second person on any day. Add a shift."
    night = tuple(replace(w, boat_from_min=0, boat_until_min=WHOLE_DAY) for w in wish.windows)
    if any(True for _ in crews(problem, replace(alone, windows=night), (job,))):
        return LeftOutReason.CLOSED, (
            f"{needs}; it takes {minutes_of(wish, (job,))} min, and the light of no day that the "
            "site allows lasts so long. Ask the owner for other hours."
        )
    return reason, (
        f"{needs}; on no day that the site allows are enough of those who may do it on shift. "
        "Add a shift, or ask the owner for another day."
    )


def _apart(job: Job) -> tuple[LeftOutReason, str]:
    return (
        LeftOutReason.TWO_PEOPLE,
        f"Needs {people_words(job)} at one time, and the other work there needs others. "
        "Place it by hand.",
    )


def people_words(job: Job) -> str:
    """How many people some work needs, in words.

    job: the work.
    Returns such as "two people and a boat".
    Source: our own words.
    """
    people = "two people" if job.people == 2 else f"{job.people} people"
    return f"{people} and a boat" if job.boat else people


def _not_with_the_crew() -> tuple[LeftOutReason, str]:
    return (
        LeftOutReason.SKILL,
        "None of those who meet there can do it along. Place it by hand.",
    )


def _is_held_by_able(problem: WeekProblem, wish: StopWish, job: Job) -> bool:
    """Of a crew one must have the skill; what one person does, the first does."""
    locks = wish.locks if job.people > 1 else wish.locks[:1]
    if len(locks) < job.people:
        return True  # the crew that was found for him has it
    shifts = [problem.shift_by_day.get((lock.technician, lock.day)) for lock in locks]
    known = [shift for shift in shifts if shift]
    return len(known) < len(shifts) or (
        any(job.skill in shift.skills for shift in known)
        and (any(shift.boat for shift in known) or not job.boat)
    )


def _wrong_person(problem: WeekProblem, wish: StopWish, job: Job) -> tuple[LeftOutReason, str]:
    names = " and ".join(problem.name_of(lock.technician) for lock in wish.locks)
    boat = " who is qualified for a boat" if job.boat else ""
    return (
        LeftOutReason.SKILL,
        f"Needs {SKILL_WORDS[job.skill]}{boat}; it was placed by hand with {names}. "
        "Place it with somebody else.",
    )


def _nobody(problem: WeekProblem, job: Job) -> tuple[LeftOutReason, str]:
    who = SKILL_WORDS[job.skill]
    if not problem.shifts:
        return LeftOutReason.NO_DAY, "Nobody has a shift on a day that can still be planned."
    if able_technicians(problem, (job,)):
        return (
            LeftOutReason.SKILL,
            f"Needs {who}; nobody on shift can do that and the other work there in one stay. "
            "Place it by hand.",
        )
    return (
        LeftOutReason.SKILL,
        f"Needs {who}; nobody on shift this week is one. Add a shift or ask somebody outside.",
    )


def _least(problem: WeekProblem, wanted: list[Job]) -> tuple[Job, ...]:
    """What has to find room at once: all of it, or over several weeks the shortest of it."""
    if problem.weeks == 1:
        return tuple(wanted)
    return tuple(sorted(wanted, key=lambda job: (job.can_wait, job.minutes)))[:1]


def _no_time(
    problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...]
) -> tuple[LeftOutReason, str] | None:
    """Why no day of the week could take the stop even if it were the only one."""
    able = able_technicians(problem, jobs)
    shifts = [s for s in problem.shifts if s.technician in able and open_windows(wish, s.day)]
    if not shifts:
        return (
            LeftOutReason.NO_DAY,
            "No day of the week allows it: the site is closed or blocked, or whoever may do it "
            "is away. Ask the owner, or postpone it.",
        )
    minutes = minutes_of(wish, jobs)
    if not any(_long_enough(w, minutes) for s in shifts for w in open_windows(wish, s.day)):
        return (
            LeftOutReason.CLOSED,
            f"Takes {minutes} min, longer than the site is open on any day of the week. "
            "Ask the owner for longer hours.",
        )
    drives = problem.travel.minutes
    for shift in shifts:
        drive = int(drives[shift.home, wish.place] + drives[wish.place, shift.home])
        if drive + minutes <= longest_min(problem, shift.from_min, shift.until_min):
            return None
    return (
        LeftOutReason.TOO_LONG,
        f"Takes {minutes} min and the drive, longer than a day that keeps room for surprises. "
        "Place it by hand.",
    )


def longest_min(problem: WeekProblem, from_min: int, until_min: int) -> int:
    """How long a planned day may be without its break.

    problem: gives the break and the share of paid time that may be filled.
    from_min, until_min: the shift, minutes of the day.
    Returns minutes.
    Source: full at 80 percent of paid time by default, our judgement.
    """
    lunch = problem.lunch
    spans = from_min < lunch.from_min and until_min > lunch.until_min
    paid = until_min - from_min - (lunch.minutes if spans else 0)
    return paid * problem.full_percent // 100


def _long_enough(window: Window, minutes: int) -> bool:
    return window.closes_min - window.opens_min >= minutes


def is_good_day(wish: StopWish, day: int) -> bool:
    """Whether a day lies inside the tolerance of the work at a site.

    wish: the site's stop.
    day: of the week, 0 to 6.
    Returns False for days on which the work is overdue.
    Source: our own rule.
    """
    return wish.good_until_day >= NEVER_TOO_LATE or day <= wish.good_until_day
