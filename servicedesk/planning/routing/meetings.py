"""Several people at one site at one time: on which day, who, and at what minute.

A search cannot keep two routes in step. So a meeting is laid down first, as one narrow window on
each route, where it costs least; the rest is searched around it.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise, product

from servicedesk.planning.routing.choices import prize_on
from servicedesk.planning.routing.cost import CENTS_PER_DAY, CENTS_PER_HM
from servicedesk.planning.routing.crews import Crew, crews, is_due, wants_meeting
from servicedesk.planning.routing.insertion import (
    Day,
    Orders,
    best_order,
    fits,
    tier,
)
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    Lock,
    Lunch,
    Shift,
    StopWish,
    WeekProblem,
    jobs_at,
    open_windows,
)
from servicedesk.planning.routing.sorting import (
    CENTS_PER_MIN,
    PLACED_BY_HAND,
    longest_min,
    prize_cents,
)
from servicedesk.planning.routing.timetable import Visit, latest_leaving, timed_route, working_min

TRIES = 300  # places looked at closely for one meeting, the cheapest first; our judgement
COMPARED = 6  # of those that fit, the costs of so many are worked out; our judgement
SWEPT = 12  # days and crews from which milder work is taken to compare; our judgement
WORTH_MAKING_ROOM = 5_000  # cents by which the best day beats a free one; our judgement

_Known = dict[tuple[str, int, tuple[Job, ...]], list[tuple[int, int, int]]]
IsMilder = Callable[[Visit], bool]


@dataclass(frozen=True)
class Meeting:
    """A stop with its people, its minute and the days as they become."""

    wish: StopWish  # with its pins, and only the work that is done then
    changed: Orders
    out: tuple[Visit, ...]  # milder stops that have to go
    cost: int  # cents: driving, time and what is lost, less what it is worth

    @property
    def day(self) -> int:
        return self.wish.pins[0].day

    def put_into(self, orders: Orders) -> list[StopWish]:
        """Make it so; returns the stops that lost their place, free of their own meetings."""
        orders.update(self.changed)
        gone = {visit.wish.key: visit.wish for visit in self.out}  # a meeting once, not for each
        return [take_off(orders, wish) for wish in gone.values()]


@dataclass(frozen=True)
class _Idea:
    """Somewhere in the days of a crew, not yet tried."""

    cost: int
    crew: Crew
    jobs: tuple[Job, ...]
    positions: tuple[int, ...]
    minute: int


def take_off(orders: Orders, wish: StopWish) -> StopWish:
    """Take a stop off every day that has it: nobody is left waiting for somebody.

    orders: days; changed in place.
    wish: the stop.
    Returns it without its meeting.
    Source: our own rule.
    """
    for visits in orders.values():
        if any(visit.wish.key == wish.key for visit in visits):
            visits[:] = [visit for visit in visits if visit.wish.key != wish.key]
    return replace(wish, pins=())


def free_meeting(problem: WeekProblem, orders: Orders, wish: StopWish) -> Meeting | None:
    """The cheapest meeting for which nothing has to go.

    problem: the week, or the weeks of its horizon.
    orders: its days as they stand.
    wish: the stop, sorted out.
    Returns a Meeting, or None if no crew has a common time.
    Source: cheapest insertion, a textbook method, on all days of a crew at once.
    """
    ideas = sorted(_ideas(problem, orders, wish), key=_rank)
    tried = (_tried(problem, orders, wish, idea) for idea in ideas[:TRIES])
    found = islice((one for one in tried if one), COMPARED)
    return min(found, key=lambda one: one.cost, default=None)


def meeting_in_place_of(
    problem: WeekProblem, orders: Orders, wish: StopWish, is_milder: IsMilder
) -> Meeting | None:
    """The cheapest meeting that may push out other stops.

    problem, orders, wish: as for `free_meeting`.
    is_milder: which stops may have to go; what fits again afterwards stays.
    Returns a Meeting, or None if even without them no crew has a common time.
    Source: our own rule: harm first, then kilometres.
    """
    bare = {day: [v for v in visits if not is_milder(v)] for day, visits in orders.items()}
    best: Meeting | None = None
    seen: set[tuple[int, frozenset[str]]] = set()
    for idea in sorted(_ideas(problem, bare, wish), key=_rank)[:TRIES]:
        names = (idea.crew.day, frozenset(shift.technician for shift in idea.crew.shifts))
        if names in seen or len(seen) >= SWEPT:
            continue
        if found := _tried(problem, bare, wish, idea):
            seen.add(names)
            whole = _with_the_rest(problem, orders, found)
            if best is None or whole.cost < best.cost:
                best = whole
    return best


def meeting_of(
    problem: WeekProblem,
    orders: Orders,
    wish: StopWish,
    people: Sequence[str],
    day: int,
    start_min: int | None = None,
) -> Meeting | None:
    """The cheapest meeting of named people on a named day, with all the work of the stop.

    problem, orders: as for `free_meeting`.
    wish: the stop; nobody makes it on those days.
    people: all who are to meet.
    day: of the week, 0 to 6.
    start_min: minute of the day at which they meet, or None.
    Returns a Meeting as if placed by hand, or None if they have no common time.
    Source: our own rule.
    """
    locks = tuple(Lock(person, day, start_min) for person in people)
    named = replace(wish, locks=locks, pins=())
    ideas = sorted(_ideas(problem, orders, named), key=_rank)
    whole = [idea for idea in ideas if len(idea.jobs) == len(wish.jobs)]
    return next(filter(None, (_tried(problem, orders, named, one) for one in whole)), None)


def best_meeting(problem: WeekProblem, orders: Orders, wish: StopWish) -> Meeting | None:
    """Where a meeting does the most good before the week is searched.

    problem, orders, wish: as for `free_meeting`.
    Returns the cheaper of a free place and one that pushes out work worth less, which the search
    may put elsewhere; None if there is neither.
    Source: our own rule.
    """
    free = free_meeting(problem, orders, wish)
    whole = max((_worth(problem, wish, wish.jobs, d) for d in _days(problem, wish)), default=0)
    if free and whole - _worth(problem, wish, free.wish.jobs, free.day) <= WORTH_MAKING_ROOM:
        return free
    mine = tier(wish)

    def is_milder(visit: Visit) -> bool:
        return tier(visit.wish) > mine or (tier(visit.wish) == mine and not visit.wish.held)

    forced = meeting_in_place_of(problem, orders, wish, is_milder)
    if forced and forced.cost < 0 and (free is None or forced.cost < free.cost):
        return forced
    return free


def lone_part(wish: StopWish) -> StopWish | None:
    """What one person does at a site where nobody meets.

    wish: the stop, sorted out.
    Returns it with that work alone, or None if nothing of it is wanted.
    Source: our own rule.
    """
    jobs = tuple(job for job in wish.jobs if job.people == 1)
    if all(job.pulled_forward for job in jobs):
        return None
    return replace(wish, jobs=jobs, pins=(), locks=wish.locks[:1])


def is_worth_waiting_for(wish: StopWish, meeting: Meeting) -> bool:
    """Whether the work that one person does may wait for a meeting of a later week.

    wish: the stop, sorted out.
    meeting: where its people would meet.
    Returns False if that work would be late by then and goes first, on its own.
    Source: our own rule.
    """
    due = [job for job in wish.jobs if job.people == 1 and not job.can_wait]
    return meeting.day < WEEK or not due or meeting.day <= wish.good_until_day


def _worth(problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...], day: int) -> int:
    """What is done counts, also where somebody was placed by hand and outweighs everything."""
    by_hand = PLACED_BY_HAND if wish.locks else 0
    return prize_on(problem, replace(wish, locks=()), jobs, day) + by_hand


def _days(problem: WeekProblem, wish: StopWish) -> set[int]:
    return {crew.day for crew in crews(problem, wish, wish.jobs)}


def _rank(idea: _Idea) -> tuple:
    names = tuple(shift.technician for shift in idea.crew.shifts)
    return idea.cost, idea.crew.day, names, idea.positions, len(idea.jobs)


def _ideas(problem: WeekProblem, orders: Orders, wish: StopWish) -> Iterator[_Idea]:
    """All of the work, what is due of it, and only what needs the crew; each on every day."""
    shared = tuple(job for job in wish.jobs if job.people > 1 and is_due(job))
    due = tuple(job for job in wish.jobs if job in shared or not job.can_wait)
    known: _Known = {}
    for jobs in dict.fromkeys((wish.jobs, due, shared)):
        for crew in crews(problem, wish, jobs):
            yield from _on_day(problem, orders, wish, crew, known)


def _on_day(
    problem: WeekProblem, orders: Orders, wish: StopWish, crew: Crew, known: _Known
) -> Iterator[_Idea]:
    worth = _worth(problem, wish, crew.jobs, crew.day)
    places = []
    for shift, jobs in zip(crew.shifts, _shares(crew), strict=True):
        key = (shift.technician, crew.day, jobs)
        if key not in known:  # each of many crews is asked about the same days
            visits = orders.get((shift.technician, crew.day), [])
            known[key] = _gaps(problem, shift, visits, wish, jobs)
        places.append(known[key])
    new_days = sum(not orders.get((s.technician, crew.day)) for s in crew.shifts)
    for some in product(*places):
        minute = _common_start(problem, wish, crew, max(arrives for _, _, arrives in some))
        if minute is not None:
            road = sum(detour for _, detour, _ in some) * CENTS_PER_HM
            cost = road + new_days * CENTS_PER_DAY - worth
            yield _Idea(cost, crew, crew.jobs, tuple(n for n, _, _ in some), minute)


def _shares(crew: Crew) -> list[tuple[Job, ...]]:
    """What each of a crew does: the first all of it, the others what needs them."""
    shared = tuple(job for job in crew.jobs if job.people > 1)
    return [crew.jobs, *[shared] * (len(crew.shifts) - 1)]


def _gaps(
    problem: WeekProblem,
    shift: Shift,
    visits: list[Visit],
    wish: StopWish,
    jobs: tuple[Job, ...],
) -> list[tuple[int, int, int]]:
    """Positions in a day, with the detour and the earliest arrival, where the hours might do."""
    stops = [shift.home, *(visit.wish.place for visit in visits), shift.home]
    minutes, road = problem.travel.minutes, problem.travel.hectometres
    here = wish.place
    busy = sum(visit.minutes for visit in visits) + Visit(wish, jobs).minutes
    busy += sum(int(minutes[a, b]) for a, b in pairwise(stops))
    spare = _room(problem, shift, wish, visits) - busy
    ends = [shift.from_min, *(s.ends_min for s in timed_route(problem, shift, visits).stops)]
    found = []
    for position, (before, after) in enumerate(pairwise(stops)):
        if int(minutes[before, here] + minutes[here, after] - minutes[before, after]) > spare:
            continue
        detour = int(road[before, here] + road[here, after] - road[before, after])
        arrives = _after_lunch(
            problem.lunch, shift, ends[position], ends[position] + int(minutes[before, here])
        )
        found.append((position, detour, arrives))
    return found


def _room(problem: WeekProblem, shift: Shift, wish: StopWish, visits: list[Visit]) -> int:
    if wish.locks or any(visit.wish.locks for visit in visits):
        return shift.until_min + shift.overtime_min - shift.from_min
    return longest_min(problem, shift.from_min, shift.until_min)


def _after_lunch(lunch: Lunch, shift: Shift, left: int, arrives: int) -> int:
    """An arrival, later by the break if it has to be taken before the work begins."""
    had = left > lunch.from_min  # it was taken at the stop before, or the day began after it
    if not lunch.minutes or had or shift.from_min >= lunch.from_min or arrives < lunch.from_min:
        return arrives
    return max(arrives, lunch.from_min) + lunch.minutes


def _common_start(problem: WeekProblem, wish: StopWish, crew: Crew, ready: int) -> int | None:
    """The first minute at which all are there and the site is open, outside everybody's lunch."""
    lunch = problem.lunch
    for window in open_windows(wish, crew.day, jobs=crew.jobs):
        start = max(ready, window.opens_min)
        if lunch.minutes and lunch.from_min <= start < lunch.until_min:
            start = lunch.until_min
        latest = window.closes_min - Visit(wish, crew.jobs).minutes
        if window.starts_by_min is not None:
            latest = min(latest, window.starts_by_min)
        told = [lock.start_min for lock in wish.locks if lock.start_min is not None]
        if told and start <= told[0]:
            start = told[0]
        elif told:
            continue
        if start <= latest:
            return start
    return None


def _tried(problem: WeekProblem, orders: Orders, wish: StopWish, idea: _Idea) -> Meeting | None:
    pins = tuple(Lock(shift.technician, idea.crew.day, idea.minute) for shift in idea.crew.shifts)
    pinned = replace(wish, jobs=idea.jobs, pins=pins)
    changed: Orders = {}
    more = 0
    for shift, pin, position in zip(idea.crew.shifts, pins, idea.positions, strict=True):
        day: Day = (shift.technician, shift.day)
        before = orders.get(day, [])
        trial = [*before]
        trial.insert(position, Visit(pinned, jobs_at(pinned, pin), idea.minute))
        if not fits(problem, shift, trial):
            return None
        changed[day] = trial
        more += _day_cents(problem, shift, trial) - _day_cents(problem, shift, before)
    return Meeting(pinned, changed, (), more - _worth(problem, wish, idea.jobs, idea.crew.day))


def _day_cents(problem: WeekProblem, shift: Shift, visits: list[Visit]) -> int:
    if not visits:
        return 0
    route = latest_leaving(problem, shift, visits)
    paid = working_min(route, problem.lunch.minutes) * CENTS_PER_MIN
    return route.drive_hm * CENTS_PER_HM + paid + CENTS_PER_DAY


def _with_the_rest(problem: WeekProblem, orders: Orders, meeting: Meeting) -> Meeting:
    """The same with everything that still fits put back; the dearest first."""
    out, lost = [], 0
    changed = dict(meeting.changed)
    for day, visits in meeting.changed.items():
        shift = problem.shift_by_day[day]
        there = {visit.wish.key for visit in visits}
        gone = [visit for visit in orders.get(day, []) if visit.wish.key not in there]
        for other in sorted(gone, key=lambda v: (-prize_cents(v.wish, v.jobs), v.wish.key)):
            if more := best_order(problem, shift, changed[day], other):
                changed[day] = more
            else:
                out.append(other)
                lost += prize_cents(other.wish, other.jobs)
    return replace(meeting, changed=changed, out=tuple(out), cost=meeting.cost + lost)


def wants(wish: StopWish) -> bool:
    """Whether a stop is still to get its people.

    wish: a stop, perhaps with its meeting.
    Returns False for one that has them.
    Source: our own rule.
    """
    return not wish.pins and wants_meeting(wish)
