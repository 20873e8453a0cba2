"""What is asked of a simulated year: the firm as today, or with some things changed."""

import random
import re
from dataclasses import asdict, dataclass, field, replace
from datetime import date

from equipment.physics.geodesy import great_circle_km
from servicedesk.kinds import Clock
from servicedesk.planning.due.facts import RhythmRule, TaskRule
from servicedesk.planning.whatif.world import Duty, Person, Spot, WorkSite, World

UNITS = ("h", "d", "month")
COUNTED = (Clock.RUN, Clock.OP, Clock.CAL)
NEIGHBOURS = 5
MOST_PONDS = 10_000
MOST_PEOPLE = 50


@dataclass(frozen=True)
class Interval:
    """A new interval of a task: so many of its unit, or its own times a factor."""

    every: float
    unit: str = ""  # h, d, month; empty: a factor

    def __str__(self) -> str:
        return f"{self.every:g}{self.unit}" if self.unit else f"x{self.every:g}"


@dataclass(frozen=True)
class Settings:
    """Changes to the firm as it is; none of them is the firm as it is.

    `absent` are keys of people. `factor` stretches all counted intervals, `intervals` those of
    single tasks by their slugs.
    """

    absent: tuple[str, ...] = ()
    added: int = 0
    factor: float = 1.0
    intervals: dict[str, Interval] = field(default_factory=dict)
    shop: Spot | None = None
    ponds: int = 0
    full_percent: int | None = None

    def as_data(self) -> dict:
        return asdict(self)

    @classmethod
    def from_data(cls, data: dict) -> "Settings":
        shop = data.get("shop")
        return cls(
            absent=tuple(data.get("absent", ())),
            added=data.get("added", 0),
            factor=data.get("factor", 1.0),
            intervals={slug: Interval(**row) for slug, row in data.get("intervals", {}).items()},
            shop=(shop[0], shop[1]) if shop else None,
            ponds=data.get("ponds", 0),
            full_percent=data.get("full_percent"),
        )


def interval_from(text: str) -> Interval:
    """Read a new interval as people type it.

    text: such as 150d, 2000h, 6month or x1.5 for half as long again.
    Returns an Interval.
    Raises ValueError for anything else, and for nothing or less.
    Source: our own notation.
    """
    found = re.fullmatch(r"(?:x(\d+(?:\.\d+)?)|(\d+(?:\.\d+)?)(h|d|months?))", text.strip())
    if not found or not float(found[1] or found[2]):
        raise ValueError(
            f"{text} is no interval: write 150d, 2000h, 6month, or x1.5 for half as long again."
        )
    if found[1]:
        return Interval(float(found[1]))
    return Interval(float(found[2]), found[3].rstrip("s"))


def changed(world: World, settings: Settings, seed: int) -> World:
    """A firm with some things changed.

    world: the firm as it is.
    settings: the changes.
    seed: of the random numbers by which more ponds are drawn, 0 or more; with the same seed the
        first ones are the same, however many are asked for.
    Returns a World; what the changes do not touch is shared.
    Raises ValueError for people or tasks that are not there, and for figures out of range.
    Source: our own rule.
    """
    _refuse(world, settings)
    sites = world.sites
    if settings.factor != 1 or settings.intervals:
        sites = tuple(_with_intervals(site, settings, world.begins_on) for site in sites)
    if settings.ponds:
        sites += _more(sites, settings.ponds, seed)
    return replace(
        world,
        people=_people(world.people, settings),
        sites=sites,
        shop=settings.shop or world.shop,
        full_percent=settings.full_percent or world.full_percent,
    )


def _refuse(world: World, settings: Settings) -> None:
    unknown = set(settings.absent) - {person.key for person in world.people}
    if unknown:
        raise ValueError(f"There is no technician {', '.join(sorted(unknown))}.")
    if not 0 <= settings.added <= MOST_PEOPLE:
        raise ValueError(f"Technicians added: 0 to {MOST_PEOPLE}.")
    if not 0 <= settings.ponds <= MOST_PONDS:
        raise ValueError(f"More ponds: 0 to {MOST_PONDS}.")
    if not 0.1 <= settings.factor <= 10:
        raise ValueError("The factor of all intervals lies between 0.1 and 10.")
    if settings.full_percent is not None and not 10 <= settings.full_percent <= 100:
        raise ValueError("The share of a day that is filled lies between 10 and 100 percent.")
    if settings.shop and not (abs(settings.shop[0]) <= 90 and abs(settings.shop[1]) <= 180):
        raise ValueError("The shop's latitude lies between -90 and 90, its longitude to 180.")
    for slug, interval in settings.intervals.items():
        _refuse_interval(world, slug, interval)


def _refuse_interval(world: World, slug: str, interval: Interval) -> None:
    rhythms = {
        (rhythm.clock, rhythm.unit)
        for site in world.sites
        for duty in site.duties
        if duty.work.slug == slug
        for rule, _ in duty.rules.values()
        for rhythm in rule.rhythms
    }
    if not rhythms:
        raise ValueError(f"No task {slug} is done anywhere. Use its short name, as filter_change.")
    units = {unit for clock, unit in rhythms if clock in COUNTED}
    if not units:
        raise ValueError(f"{slug} keeps a season or follows an event: it has no interval.")
    if interval.unit and interval.unit not in units:
        raise ValueError(f"{slug} is counted in {' and '.join(sorted(units))}: use one of these.")


def _people(people: tuple[Person, ...], settings: Settings) -> tuple[Person, ...]:
    """Who is added works the hours and has the skills of the first who stays."""
    stay = tuple(person for person in people if person.key not in settings.absent)
    models = stay or people
    if not models:
        return ()
    return stay + tuple(
        replace(models[0], key=f"new:{n}", name=f"New technician {n}", home=None, away=())
        for n in range(1, settings.added + 1)
    )


def _with_intervals(site: WorkSite, settings: Settings, from_on: date) -> WorkSite:
    return replace(site, duties=tuple(_at(duty, settings, from_on) for duty in site.duties))


def _at(duty: Duty, settings: Settings, from_on: date) -> Duty:
    interval = settings.intervals.get(duty.work.slug) or Interval(settings.factor)
    rules = {
        state: (_of_rule(rule, interval, from_on), line)
        for state, (rule, line) in duty.rules.items()
    }
    return replace(duty, rules=rules)


def _of_rule(rule: TaskRule, interval: Interval, from_on: date) -> TaskRule:
    rhythms = tuple(_of_rhythm(rhythm, interval, from_on) for rhythm in rule.rhythms)
    return rule if rhythms == rule.rhythms else replace(rule, rhythms=rhythms)


def _of_rhythm(rhythm: RhythmRule, interval: Interval, from_on: date) -> RhythmRule:
    """As the firm would change it: from a day on, and nothing becomes overdue backwards."""
    if rhythm.clock not in COUNTED or not rhythm.every:
        return rhythm
    if interval.unit and interval.unit != rhythm.unit:
        return rhythm
    every = interval.every if interval.unit else rhythm.every * interval.every
    if rhythm.unit == "month":
        every = max(1, round(every))
    if every == rhythm.every:
        return rhythm
    return replace(rhythm, every=every, previous_every=rhythm.every, changed_on=from_on)


def _more(sites: tuple[WorkSite, ...], ponds: int, seed: int) -> tuple[WorkSite, ...]:
    """Sites like those of today, each somewhere between one of them and one of its neighbours."""
    wet = [site for site in sites if site.ponds]
    chance, found, count = random.Random(seed), [], 0
    near: dict[str, list[WorkSite]] = {}
    while wet and count < ponds:
        like, share, which = chance.choice(wet), chance.random(), chance.random()
        if like.ponds > ponds - count:
            like = min(wet, key=lambda site: (site.ponds, site.key))
        around = near.setdefault(like.key, _neighbours(like, wet))
        there = around[int(which * len(around))] if around else like
        found.append(_copy(like, there, share, len(found) + 1))
        count += like.ponds
    return tuple(found)


def _neighbours(site: WorkSite, sites: list[WorkSite]) -> list[WorkSite]:
    km = great_circle_km(
        site.latitude,
        site.longitude,
        [other.latitude for other in sites],
        [other.longitude for other in sites],
    )
    order = sorted(range(len(sites)), key=lambda n: (km[n], sites[n].key))
    return [sites[n] for n in order if sites[n].key != site.key][:NEIGHBOURS]


def _copy(like: WorkSite, there: WorkSite, share: float, number: int) -> WorkSite:
    """Its places bear names of their own, so that work there counts for no other site."""
    mark = f"new{number}/"
    duties = tuple(
        replace(
            duty,
            place_key=mark + duty.place_key,
            resets=frozenset((mark + key, slug) for key, slug in duty.resets),
        )
        for duty in like.duties
    )
    return replace(
        like,
        key=f"new:{number}",
        name=f"New site {number}",
        latitude=like.latitude + share * (there.latitude - like.latitude),
        longitude=like.longitude + share * (there.longitude - like.longitude),
        duties=duties,
        detours_hm=(),
        held=(),
    )
