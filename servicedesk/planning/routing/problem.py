"""What goes into the planning of a week and what comes out of it: our own types.

Days count from the Monday of the week: 0 to 6 are planned and published, 7 and on belong to the
weeks after it, which are looked at only to know what may wait. Minutes of a day count from local
midnight.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property

from servicedesk.kinds import Harm, Skill
from servicedesk.planning import travel
from servicedesk.planning.routing.barriers import Barrier, ways_round

WHOLE_DAY = 24 * 60
WEEK = 7
NEVER_TOO_LATE = 999  # a day after every horizon
LADDER = [Skill.TRAINED, Skill.TECHNICIAN, Skill.REBUILD]  # each includes those before it


class LeftOutReason(StrEnum):
    """Why work has no place in the week."""

    TWO_PEOPLE = "two_people"
    BOAT = "boat"
    SKILL = "skill"
    NO_DAY = "no_day"
    TOO_LONG = "too_long"
    CLOSED = "closed"
    FULL = "full"
    LATER = "later"  # would have been done early, along with other work


@dataclass(frozen=True)
class Place:
    """A point on the map: the shop, a technician's home or a site."""

    latitude: float
    longitude: float
    road_factor: float | None = None  # of its region; None: that of the problem
    speed_km_h: float | None = None  # of its region, in the same way


@dataclass(frozen=True)
class Lunch:
    """The break of everyone whose day spans its start; no minutes: none."""

    from_min: int = 12 * 60
    minutes: int = 30

    @property
    def until_min(self) -> int:
        return self.from_min + self.minutes


@dataclass(frozen=True)
class Shift:
    """One technician's paid time on one day, from `home` and back to it."""

    technician: str
    day: int
    from_min: int
    until_min: int
    home: int  # index into the places
    skills: frozenset[Skill]
    overtime_min: int = 0  # only for what is placed by hand
    boat: bool = False  # qualified for work from one
    van_units: int | None = None  # what the van holds; None: whatever is asked


@dataclass(frozen=True)
class Job:
    """One ticket, or work due soon that is done along with one."""

    key: str  # "ticket:12", "due:4"
    minutes: int
    harm: Harm
    skill: Skill = Skill.TRAINED
    days_late: int = 0  # on the Monday of the week; below zero: not due yet
    crew: int = 1
    boat: bool = False
    pulled_forward: bool = False
    name: str = ""
    opens_day: int | None = None  # first day of its window; None: open already
    closes_day: int | None = None  # last day inside its tolerance; None: none is known
    ready_day: int | None = None  # when its parts are there; None: they are
    every_days: float | None = None  # how soon it comes back; None: not counted on
    calendar: bool = False  # comes back on its day of the year, whenever it was done
    units: int = 0  # room its parts take in the van
    waits: bool | None = None  # decided over a horizon of weeks; None: by its due day

    @property
    def can_wait(self) -> bool:
        """Not due before the week is over: done this week only if somebody passes near."""
        if self.waits is not None:
            return self.waits
        return self.pulled_forward or self.days_late < -6

    @property
    def first_day(self) -> int:
        """Before this day it can not be done: its window is shut or its parts are not there."""
        return max(self.opens_day or 0, self.ready_day or 0)

    @property
    def people(self) -> int:
        """Never alone in a boat."""
        return max(self.crew, 2) if self.boat else self.crew

    @property
    def called(self) -> str:
        return self.name or self.key


@dataclass(frozen=True)
class Window:
    """When a site may be worked at: from opening to closing; a promise also bounds the start.

    Work from a boat begins and ends inside the light of the day besides.
    """

    day: int
    opens_min: int = 0
    closes_min: int = WHOLE_DAY
    starts_by_min: int | None = None
    boat_from_min: int = 0
    boat_until_min: int = WHOLE_DAY


@dataclass(frozen=True)
class Lock:
    """A stop that somebody placed by hand: this person, this day, perhaps this minute."""

    technician: str
    day: int
    start_min: int | None = None


@dataclass(frozen=True)
class StopWish:
    """Everything wanted at one site: one stop, however many tickets."""

    key: str  # "site:3"
    place: int  # index into the places
    jobs: tuple[Job, ...]
    windows: tuple[Window, ...]
    setup_min: int = 10
    good_until_day: int = NEVER_TOO_LATE  # the last day inside the tolerance
    locks: tuple[Lock, ...] = ()  # placed by hand; fewer than a crew: the others are found
    name: str = ""
    infested: bool = False  # invasive species in its water: after every clean pond of a day
    detours_hm: tuple[int, ...] = ()  # what coming here would have cost, week by week until now
    pins: tuple[Lock, ...] = ()  # where the planner lets its people meet; planning anew moves it

    @property
    def called(self) -> str:
        return self.name or self.key

    @property
    def held(self) -> tuple[Lock, ...]:
        """Everybody whose day the stop has for now, by hand or by the planner."""
        return self.pins or self.locks


@dataclass(frozen=True)
class WeekProblem:
    """A week to plan, complete in itself: frozen with the run that plans it."""

    places: tuple[Place, ...]
    shifts: tuple[Shift, ...]
    wishes: tuple[StopWish, ...]
    lunch: Lunch = field(default_factory=Lunch)
    full_percent: int = 80  # of paid time; the rest is kept for surprises; our judgement
    names: tuple[tuple[str, str], ...] = ()  # of technicians, for sentences
    road_factor: float = travel.ROAD_FACTOR
    speed_km_h: float = travel.SPEED_KM_H
    weeks: int = 1  # of the horizon; only the first is published
    roads: str = ""  # a table of drives between the first places, packed; empty: all are guessed
    areas: tuple[Barrier, ...] = ()  # that nobody drives through in the week

    @cached_property
    def travel(self) -> travel.Travel:
        """The ways between all places: by the table, else guessed, and round closed areas."""
        spots = [(place.latitude, place.longitude) for place in self.places]
        factors = [place.road_factor or self.road_factor for place in self.places]
        speeds = [place.speed_km_h or self.speed_km_h for place in self.places]
        open_ways = travel.travel_between(spots, factors, speeds)
        if self.roads:
            open_ways = travel.with_table(open_ways, travel.unpacked(self.roads))
        if not self.areas:
            return open_ways
        return ways_round(self.areas, spots, open_ways, self.road_factor, self.speed_km_h)

    @property
    def last_day(self) -> int:
        return WEEK * self.weeks - 1

    @cached_property
    def wish_by_key(self) -> dict[str, StopWish]:
        return {wish.key: wish for wish in self.wishes}

    @cached_property
    def shift_by_day(self) -> dict[tuple[str, int], Shift]:
        return {(shift.technician, shift.day): shift for shift in self.shifts}

    def name_of(self, technician: str) -> str:
        return dict(self.names).get(technician, technician)


@dataclass(frozen=True)
class PlannedStop:
    """One stay at one site, with the work that is done in it."""

    wish: str
    jobs: tuple[str, ...]
    arrives_min: int
    starts_min: int
    ends_min: int


@dataclass(frozen=True)
class PlannedRoute:
    """One technician's day."""

    technician: str
    day: int
    leaves_min: int
    back_min: int
    lunch_from_min: int | None
    drive_min: int
    drive_hm: int  # hundreds of metres
    stops: tuple[PlannedStop, ...]


@dataclass(frozen=True)
class LeftOut:
    """Work without a place in the week, and why."""

    wish: str
    job: str
    reason: LeftOutReason
    because: str
    day: int | None = None  # the best day for it after all: one of this week or a later one
    detour_hm: int | None = None  # what going on that day would add


@dataclass(frozen=True)
class WeekPlan:
    """Routes, and what has no place on them; every job is in one or the other."""

    routes: tuple[PlannedRoute, ...]
    left_out: tuple[LeftOut, ...]
    seed: int = 0
    iterations: int = 0  # run, not asked for
    capped: bool = False  # stopped by the clock: the same seed may give another plan
    cancelled: bool = False
    ahead: tuple[PlannedRoute, ...] = ()  # of the weeks after it: a guess, never published


def skills_held(named: frozenset[Skill]) -> frozenset[Skill]:
    """All skills of a person, with those that a higher one includes.

    named: the skills noted for the person.
    Returns the same and every step of the ladder below the highest of them; a licence stands
    apart and brings nothing else.
    Source: our own rule.
    """
    steps = [LADDER.index(skill) for skill in named if skill in LADDER]
    return frozenset(named) | frozenset(LADDER[: max(steps, default=-1) + 1])


def minutes_of(wish: StopWish, jobs: tuple[Job, ...]) -> int:
    """Length of a stop.

    wish: the site's stop, for its minutes of set-up.
    jobs: the work done in it.
    Returns minutes from arrival to leaving: set-up once, and each job.
    Source: our own rule.
    """
    return wish.setup_min + sum(job.minutes for job in jobs)


def crew_of(jobs: Sequence[Job]) -> int:
    """How many people some work needs at one time.

    jobs: the work.
    Returns 1 or more; 1 for no work.
    Source: our own rule.
    """
    return max((job.people for job in jobs), default=1)


def jobs_at(wish: StopWish, lock: Lock | None) -> tuple[Job, ...]:
    """What one person does at a stop.

    wish: the site's stop.
    lock: where it is held, by hand or by the planner; None for a stop that is free.
    Returns every job for the planner and for the first person held there; whoever comes along
    has those that need more than one.
    Source: our own rule.
    """
    if lock is None or lock == wish.held[0]:
        return wish.jobs
    return tuple(job for job in wish.jobs if job.people > 1)


def shared_min(wish: StopWish, jobs: Sequence[Job]) -> int:
    """How long people stay together, who do first what needs them all.

    wish: the site's stop, for its minutes of set-up.
    jobs: the work done in it.
    Returns minutes from their start.
    Source: our own rule.
    """
    return wish.setup_min + sum(job.minutes for job in jobs if job.people > 1)


def open_windows(
    wish: StopWish, day: int, held_at: int | None = None, jobs: Sequence[Job] = ()
) -> list[Window]:
    """When work at a site may begin on one day, and by when it must end.

    wish: the site's stop.
    day: of the week, 0 to 6.
    held_at: minute of the start that is held, or None.
    jobs: the work; from a boat it is also bound to the light of the day.
    Returns its windows of that day, earliest first; with a held start only those around it.
    Source: our own rule.
    """
    windows = sorted((w for w in wish.windows if w.day == day), key=lambda w: w.opens_min)
    if any(job.boat for job in jobs):
        windows = [in_light(wish, window, jobs) for window in windows]
        windows = [w for w in windows if w.starts_by_min >= w.opens_min]
    if held_at is None:
        return windows
    return [
        replace(window, opens_min=held_at, starts_by_min=held_at)
        for window in windows
        if window.opens_min
        <= held_at
        <= min(
            window.closes_min,
            WHOLE_DAY if window.starts_by_min is None else window.starts_by_min,
        )
    ]


def in_light(wish: StopWish, window: Window, jobs: Sequence[Job]) -> Window:
    """A window as it is for work from a boat: not begun before the light, ended inside it.

    wish: the site's stop.
    window: of one of its days.
    jobs: the work, some of it from a boat.
    Returns the window with its earliest and its last start; what one person does afterwards on
    the bank may last longer.
    Source: our own rule.
    """
    latest = window.boat_until_min - shared_min(wish, jobs)
    if window.starts_by_min is not None:
        latest = min(latest, window.starts_by_min)
    return replace(
        window, opens_min=max(window.opens_min, window.boat_from_min), starts_by_min=latest
    )
