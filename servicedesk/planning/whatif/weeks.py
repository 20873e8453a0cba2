"""A simulated week as the route planner wants it, with the two weeks after it."""

from collections.abc import Mapping
from datetime import date, timedelta

from servicedesk.planning.calendar import is_in_part_of_year
from servicedesk.planning.routing.barriers import Barrier
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    Lunch,
    Place,
    Shift,
    StopWish,
    WeekProblem,
    Window,
)
from servicedesk.planning.whatif.running import Clocks, RunningDuty
from servicedesk.planning.whatif.world import WorkSite, World

HORIZON = 3  # weeks


class _Places:
    """The points of a problem, each once."""

    def __init__(self) -> None:
        self.known: dict[Place, int] = {}

    def number(self, place: Place) -> int:
        return self.known.setdefault(place, len(self.known))


def place_of(site: WorkSite) -> Place:
    """Where a site lies for the route planner.

    site: with its region's road factor and speed, if it has one.
    Returns a Place.
    Source: our own rule.
    """
    return Place(site.latitude, site.longitude, site.road_factor, site.speed_km_h)


def week_problem(
    world: World, clocks: Clocks, detours: Mapping[str, tuple[int, ...]], monday: date
) -> WeekProblem:
    """What is to be planned in a week: all whose window opens within three weeks.

    world: people and sites.
    clocks: what is due at them.
    detours: what coming to each site would have cost in the weeks before [hundreds of metres].
    monday: the first day.
    Returns a WeekProblem; a job's key is that of its duty.
    Source: our own rule, as the weeks of the real firm are planned.
    """
    places = _Places()
    shifts, lunch_min = _shifts(world, monday, places)
    wishes = []
    for site in world.sites:
        jobs = tuple(
            job for row in clocks.by_site[site.key] if (job := _job(row, monday)) is not None
        )
        if jobs:
            wishes.append(_wish(site, jobs, world, detours[site.key], places, monday))
    return WeekProblem(
        tuple(places.known),
        shifts,
        tuple(wishes),
        Lunch(minutes=lunch_min),
        world.full_percent,
        tuple((person.key, person.name) for person in world.people),
        world.road_factor,
        world.speed_km_h,
        weeks=HORIZON,
        areas=_closed_ways(world, monday),
    )


def _closed_ways(world: World, monday: date) -> tuple[Barrier, ...]:
    """One table of drives serves the week, so a way that is closed one day is closed in all."""
    sunday = monday + timedelta(days=WEEK - 1)
    there = (way for way in world.ways if way.from_on <= sunday and way.to_on >= monday)
    return tuple(dict.fromkeys(way.barrier for way in there))


def _shifts(world: World, monday: date, places: _Places) -> tuple[tuple[Shift, ...], int]:
    found, lunch_min = [], 0
    for number in range(WEEK * HORIZON):
        day = monday + timedelta(days=number)
        for person in world.people:
            if paid := person.paid_day(day):
                home = places.number(Place(*(person.home or world.shop)))
                lunch_min = max(lunch_min, paid.lunch_min)
                found.append(
                    Shift(
                        person.key,
                        number,
                        paid.from_min,
                        paid.until_min,
                        home,
                        person.skills,
                        boat=person.boat,
                    )
                )
    return tuple(found), lunch_min


def _job(row: RunningDuty, monday: date) -> Job | None:
    item, work = row.due_on(monday), row.duty.work
    last = monday + timedelta(days=WEEK * HORIZON - 1)
    if item is None or (item.opens_on or item.on) > last:
        return None
    return Job(
        row.key,
        work.minutes,
        work.harm,
        work.skill,
        (monday - item.on).days,
        work.crew,
        work.boat,
        name=work.name,
        opens_day=_number(item.opens_on, monday),
        closes_day=_number(item.closes_on, monday),
        every_days=row.every_days,
        calendar=work.calendar,
    )


def _number(day: date | None, monday: date) -> int | None:
    return None if day is None else (day - monday).days


def _wish(
    site: WorkSite,
    jobs: tuple[Job, ...],
    world: World,
    detours_hm: tuple[int, ...],
    places: _Places,
    monday: date,
) -> StopWish:
    return StopWish(
        site.key,
        places.number(place_of(site)),
        jobs,
        _windows(site, monday),
        world.setup_min,
        name=site.name,
        infested=site.infested,
        detours_hm=detours_hm,
    )


def _is_shut(site: WorkSite, day: date) -> bool:
    if any(first <= day <= last for first, last in site.held):
        return True
    return is_in_part_of_year(day, *site.no_van)


def _windows(site: WorkSite, monday: date) -> tuple[Window, ...]:
    """The same hours in each week, without the days on which nobody comes."""
    days = [
        number
        for number in range(WEEK * HORIZON)
        if not _is_shut(site, monday + timedelta(days=number))
    ]
    if not site.opening:
        return tuple(Window(number) for number in days)
    return tuple(
        Window(number, row.opens_min, row.closes_min)
        for number in days
        for row in site.opening
        if row.weekday == number % WEEK + 1
    )
