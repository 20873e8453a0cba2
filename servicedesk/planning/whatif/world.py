"""What a simulated year is played with: sites, their work and its clocks, people and their hours.

Read once from the records and never changed; a run keeps what happens in it to itself.
"""

from dataclasses import dataclass
from datetime import date

from equipment.kinds import SystemState
from servicedesk.kinds import Harm, Skill
from servicedesk.planning.due.facts import Place, TaskRule
from servicedesk.planning.due.timeline import StateFrom, Timeline
from servicedesk.planning.routing.barriers import Barrier

Reset = tuple[str, str]  # the key of a place, and the slug of work done there
Spot = tuple[float, float]  # latitude and longitude
Days = tuple[date, date]  # the first and the last of some days


@dataclass(frozen=True)
class Work:
    """What is the same of a task wherever it is done."""

    slug: str
    name: str
    minutes: int
    harm: Harm
    skill: Skill = Skill.TRAINED
    crew: int = 1
    boat: bool = False
    calendar: bool = False  # keeps its season
    parts: tuple[str, ...] = ()


@dataclass(slots=True)
class Duty:
    """One task at one place.

    `rules`: by the state of its system, what holds in it and how its clock ran; in a state that is
    not there the task does not apply. `states`: the states that its system will be in, in order.
    `resets`: which work counts as done for it.
    """

    work: Work
    place_key: str
    place: Place
    rules: dict[SystemState | None, tuple[TaskRule, Timeline]]
    state: SystemState | None
    states: tuple[StateFrom, ...]
    resets: frozenset[Reset]

    def state_on(self, day: date) -> SystemState | None:
        found = self.state
        for row in self.states:
            if row.on <= day:
                found = row.state
        return found


@dataclass(frozen=True)
class Opening:
    """Hours of a weekday in which a site may be worked at."""

    weekday: int  # 1 Monday to 7 Sunday
    opens_min: int
    closes_min: int


@dataclass(frozen=True)
class WorkSite:
    """One address with its work. No `opening`: it may be worked at on any day."""

    key: str  # "site:3"
    name: str
    latitude: float
    longitude: float
    duties: tuple[Duty, ...]
    ponds: int = 1
    road_factor: float | None = None
    speed_km_h: float | None = None
    infested: bool = False
    opening: tuple[Opening, ...] = ()
    no_van: tuple[str, str] = ("", "")  # the part of the year without a way in, "03-01" to "04-15"
    detours_hm: tuple[int, ...] = ()  # what coming here would have cost, week by week until now
    held: tuple[Days, ...] = ()  # on which nobody may come


@dataclass(frozen=True)
class ClosedWay:
    """What nobody drives through for some days."""

    barrier: Barrier
    from_on: date
    to_on: date


@dataclass(frozen=True)
class PaidDay:
    """A paid day that comes back each week."""

    weekday: int  # 1 Monday to 7 Sunday
    from_min: int
    until_min: int
    lunch_min: int
    from_on: date
    to_on: date | None = None


@dataclass(frozen=True)
class Person:
    """A technician. Without a `home` the days begin at the shop."""

    key: str
    name: str
    days: tuple[PaidDay, ...]
    skills: frozenset[Skill]
    boat: bool = False
    home: Spot | None = None
    away: tuple[tuple[date, date], ...] = ()

    def paid_day(self, day: date) -> PaidDay | None:
        if any(first <= day <= last for first, last in self.away):
            return None
        return next(
            (
                paid
                for paid in self.days
                if paid.weekday == day.isoweekday()
                and paid.from_on <= day
                and (paid.to_on is None or day <= paid.to_on)
            ),
            None,
        )


@dataclass(frozen=True)
class World:
    """A firm on the Monday on which its simulated year begins."""

    begins_on: date
    shop: Spot
    people: tuple[Person, ...]
    sites: tuple[WorkSite, ...]
    road_factor: float
    speed_km_h: float
    setup_min: int
    full_percent: int
    ways: tuple[ClosedWay, ...] = ()
