"""Days that went wrong, set right: what lost its place finds another, the rest stays put."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations, islice

from servicedesk.planning.routing.crews import first_does_the_rest, is_able
from servicedesk.planning.routing.insertion import (
    Day,
    Orders,
    best_order,
    tier,
)
from servicedesk.planning.routing.problem import (
    Lock,
    StopWish,
    WeekProblem,
    crew_of,
    jobs_at,
    open_windows,
)
from servicedesk.planning.routing.room import make_room, put_in_free
from servicedesk.planning.routing.sorting import full_sentence, prize_cents, sort_out
from servicedesk.planning.routing.timetable import Visit, broken, timed_route

DONE = "held:"  # begins the key of what is done already; it stays, whatever happens
STEP_MIN = 15  # between the times tried for people who meet
TRIES = 3_000  # of people and times; our judgement, about a second


@dataclass(frozen=True)
class Repaired:
    """Days after a repair; `problem` knows where people meet now."""

    problem: WeekProblem
    orders: Orders
    undone: dict[str, str]  # key of the wish, and why it has no place
    promises_broken: frozenset[str]


def repaired(
    problem: WeekProblem,
    orders: Orders,
    *,
    out: dict[str, int],
    unpromised: dict[str, StopWish] | None = None,
    strained: Iterable[Day] = (),
    at_once: bool = False,
) -> Repaired:
    """Give another place to stops that lost theirs, and move as little else as can be.

    problem: the days that are left, with what is done already held in its place.
    orders: those days as they stand.
    out: stops that lose their place, with the day of the week on which each was expected.
    unpromised: the same stops without what their owners were promised, used where no place keeps
        the promise.
    strained: days that may have become too long; the mildest stops leave them until they fit.
    at_once: the stops are emergencies; on their day milder work makes room for them.
    Returns Repaired. People who meet are never parted: the stop moves with all of them, or is
    undone. The same day is tried first and may use its room for surprises; then the days that
    keep theirs; then any.
    Source: cheapest insertion, a textbook method; the order of trying is our own rule.
    """
    work = _Work(problem, {day: list(visits) for day, visits in orders.items()}, dict(out))
    work.take_out(out)
    for day in strained:
        work.unload(day)
    work.move_together()
    if at_once:
        work.make_room_on_the_day()
    work.place()
    work.place_without_promise(unpromised or {})
    return work.result()


class _Work:
    def __init__(self, problem: WeekProblem, orders: Orders, expected: dict[str, int]):
        self.problem = problem
        self.orders = orders
        self.expected = expected
        self.homeless: list[StopWish] = []
        self.together: list[tuple[StopWish, set[str]]] = []
        self.undone: dict[str, str] = {}
        self.broken_promises: set[str] = set()

    def take_out(self, keys: Iterable[str]) -> None:
        for key in keys:
            wish = self.problem.wish_by_key[key]
            people = set()
            for (technician, _), visits in self.orders.items():
                if any(visit.wish.key == key for visit in visits):
                    people.add(technician)
                    visits[:] = [visit for visit in visits if visit.wish.key != key]
            if any(job.people > 1 for job in wish.jobs):
                self.together.append((wish, people))
            else:
                self.homeless.append(replace(wish, locks=()))

    def unload(self, day: Day) -> None:
        """Take the mildest stops off a day that has become too long."""
        shift = self.problem.shift_by_day.get(day)
        visits = self.orders.get(day, [])
        while shift and broken(shift, visits, timed_route(self.problem, shift, visits)):
            left = [visit for visit in visits if not visit.wish.key.startswith(DONE)]
            free = [visit for visit in left if not visit.wish.locks] or left
            if not free:
                return
            mildest = min(free, key=_how_grave)
            self.expected.setdefault(mildest.wish.key, day[1])
            self.take_out([mildest.wish.key])

    def move_together(self) -> None:
        for wish, people in self.together:
            if (found := self._meeting(wish, people)) is None:
                self.undone[wish.key] = (
                    "Needs several people at one time, and no time of this week is free for all "
                    "who may do it. It waits whole; place it by hand."
                )
                continue
            moved, changed = found
            self.orders.update(changed)
            wishes = [moved if w.key == wish.key else w for w in self.problem.wishes]
            self.problem = replace(self.problem, wishes=tuple(wishes))

    def _meeting(self, wish: StopWish, people: set[str]):
        for day, shifts, minute in islice(self._meetings(wish, people), TRIES):
            locks = tuple(Lock(shift.technician, day, minute) for shift in shifts)
            moved = replace(wish, locks=locks, pins=()) if wish.locks else replace(wish, pins=locks)
            changed: Orders = {}
            for shift, lock in zip(shifts, locks, strict=True):
                key = (shift.technician, day)
                visit = Visit(moved, jobs_at(moved, lock), minute)
                order = best_order(self.problem, shift, self.orders.get(key, []), visit)
                if order is None:
                    break
                changed[key] = order
            else:
                return moved, changed
        return None

    def _meetings(self, wish: StopWish, people: set[str]) -> Iterator:
        """Days, people and minutes to try: the day as told and its people first."""
        expected = self.expected[wish.key]
        crew = crew_of(wish.jobs)
        days = sorted({s.day for s in self.problem.shifts}, key=lambda d: (d != expected, d))
        told = next((lock.start_min for lock in wish.held if lock.start_min is not None), None)
        for day in days:
            shifts = [shift for shift in self.problem.shifts if shift.day == day]
            crews = [c for c in combinations(shifts, crew) if is_able(c, wish.jobs)]
            crews.sort(key=lambda c: -sum(shift.technician in people for shift in c))
            minutes = _starts(wish, day, told)
            for crew_of_day in crews:
                for minute in minutes:
                    yield day, first_does_the_rest(crew_of_day, wish.jobs), minute

    def make_room_on_the_day(self) -> None:
        for wish in self._by_harm(self.homeless):
            that_day = self._that_day(wish)
            self.homeless.remove(wish)
            if put_in_free(that_day, self.orders, wish):
                continue
            before = self._placed()
            left = make_room(that_day, self.orders, [wish])
            self._expect(before)
            self.homeless += left

    def place(self) -> None:
        whole = replace(self.problem, full_percent=100)
        for within in (None, self.problem, whole):
            left = []
            for wish in self._by_harm(self.homeless):
                problem = within or self._that_day(wish)
                if not put_in_free(problem, self.orders, wish):
                    left.append(wish)
            self.homeless = left

    def place_without_promise(self, unpromised: dict[str, StopWish]) -> None:
        waiting, self.homeless = self.homeless, []
        stay = [wish for wish in waiting if wish.key not in unpromised]
        self.homeless = [unpromised[w.key] for w in waiting if w.key in unpromised]
        keys = {wish.key for wish in self.homeless}
        self.place()
        self.broken_promises = keys - {wish.key for wish in self.homeless}
        loose = {key: unpromised[key] for key in self.broken_promises}
        wishes = tuple(loose.get(wish.key, wish) for wish in self.problem.wishes)
        self.problem = replace(self.problem, wishes=wishes)
        self.homeless += stay

    def result(self) -> Repaired:
        rest = replace(self.problem, wishes=tuple(self.homeless))
        reasons = {out.wish: out.because for out in sort_out(rest).left_out}
        for wish in self.homeless:
            self.undone[wish.key] = reasons.get(wish.key) or full_sentence()
        placed = {v.wish.key: v.wish for visits in self.orders.values() for v in visits}
        wishes = []
        for wish in self.problem.wishes:
            now = placed.get(wish.key, wish)
            moved = wish.key in self.expected
            wishes.append(replace(wish, locks=now.locks, pins=now.pins) if moved else wish)
        problem = replace(self.problem, wishes=tuple(wishes))
        return Repaired(problem, self.orders, self.undone, frozenset(self.broken_promises))

    def _that_day(self, wish: StopWish) -> WeekProblem:
        day = self.expected[wish.key]
        shifts = tuple(shift for shift in self.problem.shifts if shift.day == day)
        return replace(self.problem, shifts=shifts, full_percent=100)

    def _by_harm(self, wishes: list[StopWish]) -> list[StopWish]:
        return sorted(wishes, key=lambda w: (tier(w), -prize_cents(w, w.jobs), w.key))

    def _placed(self) -> dict[str, tuple[StopWish, int]]:
        return {
            visit.wish.key: (visit.wish, day)
            for (_, day), visits in self.orders.items()
            for visit in visits
        }

    def _expect(self, before: dict[str, tuple[StopWish, int]]) -> None:
        """What had to give way looks for a place like the others."""
        now = self._placed()
        for key, (_, day) in before.items():
            if key not in now:
                self.expected.setdefault(key, day)


def _how_grave(visit: Visit) -> tuple[bool, int, int]:
    """What was promised stays longest, then the graver work."""
    promised = any(window.starts_by_min is not None for window in visit.wish.windows)
    return promised, -tier(visit.wish), prize_cents(visit.wish, visit.jobs)


def _starts(wish: StopWish, day: int, told: int | None) -> list[int]:
    """Minutes at which people may meet: the one told first, then every quarter of an hour."""
    minutes = []
    for window in open_windows(wish, day, jobs=wish.jobs):
        first = -(-window.opens_min // STEP_MIN) * STEP_MIN
        last = window.closes_min if window.starts_by_min is None else window.starts_by_min
        minutes += range(first, last, STEP_MIN)
    if told is not None and open_windows(wish, day, told, wish.jobs):
        minutes.insert(0, told)
    return minutes
