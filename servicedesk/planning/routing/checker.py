"""Is a plan allowed? Written without the solver and without the timetable, to judge both."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from servicedesk.planning.routing.problem import (
    Job,
    PlannedRoute,
    PlannedStop,
    StopWish,
    WeekPlan,
    WeekProblem,
)

DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


def faults(problem: WeekProblem, plan: WeekPlan) -> list[str]:
    """Everything that is wrong with a plan.

    problem: the week that was to be planned.
    plan: routes and left-out work, from whatever source.
    Returns one sentence for each fault; none for a plan that may be published.
    Source: our own rule; it checks shifts, driving, lunch, opening hours, promises, skills,
    crews, boats, vans, parts that are not there yet, clean water before infested, that no site or
    ticket comes twice and that nothing is lost. The days of later weeks are held to all of it.
    """
    found: list[str] = []
    for route in [*plan.routes, *plan.ahead]:
        found += _route_faults(problem, route)
    found += _in_its_week(problem, plan)
    found += _twice(problem, plan)
    found += _crew_faults(problem, plan)
    found += _accounting_faults(problem, plan)
    return found


def route_name(problem: WeekProblem, route: PlannedRoute) -> str:
    """How a route is called in a sentence.

    problem: the week, for the name of the person.
    route: a technician's day.
    Returns such as "Wen Achterberg on Tuesday".
    Source: our own words.
    """
    return f"{problem.name_of(route.technician)} on {_day(route.day)}"


def clock(minute: int) -> str:
    """A minute of the day as a time.

    minute: from midnight.
    Returns such as "08:05".
    Source: ISO 8601, hours and minutes.
    """
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _day(number: int) -> str:
    weeks = number // 7
    return DAYS[number % 7] + ("" if weeks == 0 else f" {weeks} weeks on")


def _in_its_week(problem: WeekProblem, plan: WeekPlan) -> Iterator[str]:
    """Only the first week is handed out, and no stay of it is promised again later."""
    for route in plan.routes:
        if route.day > 6:
            yield f"{route_name(problem, route)}: is not in the week that is published."
    for route in plan.ahead:
        if not 6 < route.day < 7 * problem.weeks:
            yield f"{route_name(problem, route)}: is not in a later week of the horizon."
    both = Counter(
        (stop.wish, key)
        for route in [*plan.routes, *plan.ahead]
        for stop in route.stops
        for key in stop.jobs
        if stop.wish in problem.wish_by_key
    )
    crews = {(w.key, job.key): _crew_size(job) for w in problem.wishes for job in w.jobs}
    for (wish, key), count in both.items():
        if count > max(crews.get((wish, key), 1), len(problem.wish_by_key[wish].locks)):
            yield f"{wish}, {key}: is planned {count} times."


def _route_faults(problem: WeekProblem, route: PlannedRoute) -> Iterator[str]:
    name = route_name(problem, route)
    shift = problem.shift_by_day.get((route.technician, route.day))
    if shift is None:
        yield f"{name}: there is no shift on that day."
        return
    if route.leaves_min < shift.from_min:
        yield f"{name}: leaves at {clock(route.leaves_min)}, before the shift begins."
    by_hand = any(
        problem.wish_by_key[s.wish].locks for s in route.stops if s.wish in problem.wish_by_key
    )
    if route.back_min > shift.until_min + (shift.overtime_min if by_hand else 0):
        yield (
            f"{name}: back at {clock(route.back_min)}, "
            f"after the shift ends at {clock(shift.until_min)}."
        )
    yield from _legs(problem, route, shift.home)
    yield from _lunch_faults(problem, route)
    yield from _van_and_water_faults(problem, route, shift.van_units)
    for stop in route.stops:
        wish = problem.wish_by_key.get(stop.wish)
        if wish is None:
            yield f"{name}: a stop at {stop.wish}, which nobody asked for."
        else:
            yield from _stop_faults(problem, wish, stop, route)


def _legs(problem: WeekProblem, route: PlannedRoute, home: int) -> Iterator[str]:
    """Every drive takes its time, and the break where it falls into one."""
    name = route_name(problem, route)
    here, left = home, route.leaves_min
    drive = road = 0
    known = [stop for stop in route.stops if stop.wish in problem.wish_by_key]
    ends = [
        (problem.wish_by_key[s.wish].place, s.arrives_min, s.starts_min, s.ends_min) for s in known
    ]
    for place, arrives, starts, ends_min in [*ends, (home, route.back_min, route.back_min, 0)]:
        minutes = int(problem.travel.minutes[here, place])
        drive += minutes
        road += int(problem.travel.hectometres[here, place])
        if arrives < left + minutes:
            there = clock(left + minutes)
            yield f"{name}: arrives at {clock(arrives)}, but the drive ends at {there}."
        elif starts < arrives:
            yield f"{name}: begins at {clock(starts)}, before the arrival."
        elif _break_between(problem, route, left, starts) and (
            starts - left < minutes + problem.lunch.minutes
        ):
            yield f"{name}: no time for lunch between {clock(left)} and {clock(starts)}."
        here, left = place, ends_min
    if (drive, road) != (route.drive_min, route.drive_hm):
        yield f"{name}: the driving does not add up."


def _break_between(problem: WeekProblem, route: PlannedRoute, left: int, starts: int) -> bool:
    begin = route.lunch_from_min
    return begin is not None and left <= begin and begin + problem.lunch.minutes <= starts


def _lunch_faults(problem: WeekProblem, route: PlannedRoute) -> Iterator[str]:
    """Whoever works on both sides of the break's time has it, right after what he was doing."""
    lunch = problem.lunch
    name = route_name(problem, route)
    worked_past = any(stop.ends_min > lunch.from_min for stop in route.stops)
    begin = route.lunch_from_min
    if lunch.minutes == 0 or route.leaves_min >= lunch.from_min or not worked_past:
        if begin is not None:
            yield f"{name}: has a lunch break without a morning and an afternoon."
        return
    if begin is None:
        yield f"{name}: has no lunch break."
        return
    for stop in route.stops:
        if stop.starts_min < begin + lunch.minutes and begin < stop.ends_min:
            yield f"{name}: lunch at {clock(begin)} falls into work."
    busy_until = [s.ends_min for s in route.stops if s.starts_min < lunch.from_min < s.ends_min]
    busy_until += [s.arrives_min for s in route.stops if s.arrives_min > lunch.from_min]
    latest = max(lunch.from_min, min(busy_until, default=lunch.from_min))
    if not lunch.from_min <= begin <= latest:
        yield f"{name}: lunch begins at {clock(begin)}."


def _van_and_water_faults(
    problem: WeekProblem, route: PlannedRoute, van_units: int | None
) -> Iterator[str]:
    """What the day's parts take in the van, and no clean pond after an infested one."""
    name = route_name(problem, route)
    taken, infested_before = 0, ""
    for stop in route.stops:
        wish = problem.wish_by_key.get(stop.wish)
        if wish is None:
            continue
        taken += sum(job.units for job in wish.jobs if job.key in stop.jobs)
        if wish.infested:
            infested_before = wish.called
        elif infested_before:
            yield f"{name}: {wish.called} comes after {infested_before}, whose water is infested."
    if van_units is not None and taken > van_units:
        yield f"{name}: its parts take {taken} units, and the van holds {van_units}."


def _stop_faults(
    problem: WeekProblem, wish: StopWish, stop: PlannedStop, route: PlannedRoute
) -> Iterator[str]:
    name = f"{route_name(problem, route)}, {wish.called}"
    jobs = {job.key: job for job in wish.jobs}
    if unknown := [key for key in stop.jobs if key not in jobs]:
        yield f"{name}: work that does not belong there: {', '.join(unknown)}."
        return
    work = [jobs[key] for key in stop.jobs]
    if not work:
        yield f"{name}: a stop without work."
    for job in work:
        if job.opens_day is not None and route.day < job.opens_day:
            yield f"{name}: {job.called} opens only on {_day(job.opens_day)}."
        if job.ready_day is not None and route.day < job.ready_day:
            yield f"{name}: parts for {job.called} come only on {_day(job.ready_day)}."
    needed = wish.setup_min + sum(job.minutes for job in work)
    if stop.ends_min - stop.starts_min < needed:
        yield f"{name}: takes {needed} min, but has {stop.ends_min - stop.starts_min}."
    yield from _window_faults(name, wish, stop, route.day)
    yield from _dusk_faults(name, wish, work, stop, route.day)
    yield from _lock_faults(name, wish, work, stop, route)


def _window_faults(name: str, wish: StopWish, stop: PlannedStop, day: int) -> Iterator[str]:
    if not any(window.day == day for window in wish.windows):
        yield (
            f"{name}: nobody may work there on {_day(day)}: it is closed or held, or another "
            "day is promised."
        )
    elif not any(
        window.day == day
        and window.opens_min <= stop.starts_min
        and stop.ends_min <= window.closes_min
        and (window.starts_by_min is None or stop.starts_min <= window.starts_by_min)
        for window in wish.windows
    ):
        yield (
            f"{name}: {clock(stop.starts_min)} to {clock(stop.ends_min)} "
            "is outside its opening hours or the promised time."
        )


def _dusk_faults(
    name: str, wish: StopWish, work: list[Job], stop: PlannedStop, day: int
) -> Iterator[str]:
    """A boat goes out and comes back by daylight; what needs one person comes after it."""
    if not any(job.boat for job in work):
        return
    ends = stop.starts_min + wish.setup_min
    ends += sum(job.minutes for job in work if _crew_size(job) > 1)
    light = [w for w in wish.windows if w.day == day and stop.starts_min >= w.opens_min]
    if not any(w.boat_from_min <= stop.starts_min and ends <= w.boat_until_min for w in light):
        last = max((w.boat_until_min for w in light), default=0)
        first = min((w.boat_from_min for w in light), default=0)
        yield (
            f"{name}: work from a boat from {clock(stop.starts_min)} to {clock(ends)}, but there "
            f"is daylight only from {clock(first)} to {clock(last)}."
        )


def _crew_size(job: Job) -> int:
    """Nobody is alone in a boat."""
    return 2 if job.boat and job.crew < 2 else job.crew


def _lock_faults(
    name: str, wish: StopWish, work: list[Job], stop: PlannedStop, route: PlannedRoute
) -> Iterator[str]:
    if not wish.locks:
        return
    for lock in wish.locks:
        if (lock.technician, lock.day) == (route.technician, route.day):
            if lock.start_min not in (None, stop.starts_min):
                yield f"{name}: moved from {clock(lock.start_min or 0)}."
            return
    helps = all(_crew_size(job) > len(wish.locks) for job in work)
    if helps and route.day in {lock.day for lock in wish.locks}:
        return  # the second of a crew of which only the first was named
    yield f"{name}: was placed by hand elsewhere."


def _twice(problem: WeekProblem, plan: WeekPlan) -> Iterator[str]:
    days = Counter((route.technician, route.day) for route in [*plan.routes, *plan.ahead])
    for (technician, day), count in days.items():
        if count > 1:
            yield f"{problem.name_of(technician)} has {count} routes on {_day(day)}."


def _crew_faults(problem: WeekProblem, plan: WeekPlan) -> Iterator[str]:
    """Each job has exactly its crew, at one and the same time, with the skills it asks for."""
    crews = defaultdict(list)
    visits = Counter(stop.wish for route in plan.routes for stop in route.stops)
    for route in [*plan.routes, *plan.ahead]:
        for stop in route.stops:
            for key in stop.jobs:
                crews[stop.wish, key].append((route, stop))
    for wish in problem.wishes:
        done = [job for job in wish.jobs if crews[wish.key, job.key]]
        most = max((_crew_size(job) for job in done), default=1)
        if not wish.locks and visits[wish.key] > most:
            yield f"{wish.called}: visited {visits[wish.key]} times in one week."
        for job in done:
            yield from _one_crew(problem, wish, job, crews[wish.key, job.key])


def _one_crew(
    problem: WeekProblem,
    wish: StopWish,
    job: Job,
    crew: list[tuple[PlannedRoute, PlannedStop]],
) -> Iterator[str]:
    name = f"{wish.called}, {job.called}"
    people = {route.technician for route, _ in crew}
    wanted = _crew_size(job)
    if len(crew) != wanted or len(people) != wanted:
        yield f"{name}: needs {wanted} people at one time, has {len(people)} on {len(crew)} stops."
    if len({(route.day, stop.starts_min) for route, stop in crew}) != 1:
        yield f"{name}: its people do not come at the same time."
    named = {lock.technician for lock in wish.locks}
    if len(named) < wanted:  # by hand only some of a crew were named
        for technician in sorted(named - people):
            yield f"{name}: was placed by hand with {problem.name_of(technician)}, who is missing."
    shifts = [problem.shift_by_day.get((route.technician, route.day)) for route, _ in crew]
    if not any(shift and job.skill in shift.skills for shift in shifts):
        yield f"{name}: nobody on that stop has the skill {job.skill}."
    if job.boat and not any(shift and shift.boat for shift in shifts):
        yield f"{name}: nobody on that stop is qualified for a boat."


def _accounting_faults(problem: WeekProblem, plan: WeekPlan) -> Iterator[str]:
    planned = {(s.wish, key) for route in plan.routes for s in route.stops for key in s.jobs}
    left = Counter((out.wish, out.job) for out in plan.left_out)
    known = {(wish.key, job.key) for wish in problem.wishes for job in wish.jobs}
    for wish, job in sorted(known - planned - set(left)):
        yield f"{wish}, {job}: is neither on a route nor left out."
    for wish, job in sorted(planned & set(left)):
        yield f"{wish}, {job}: is on a route and left out."
    for wish, job in sorted(set(left) - known):
        yield f"{wish}, {job}: left out, but nobody asked for it."
    for out in plan.left_out:
        if not out.because.strip():
            yield f"{out.wish}, {out.job}: left out without a reason."
