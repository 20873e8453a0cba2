"""What it is worth to go now: the price of coming back later, and the visits that are saved."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from servicedesk.planning.routing.horizon import deadline
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    Place,
    PlannedRoute,
    StopWish,
    WeekProblem,
)
from servicedesk.planning.routing.sorting import (
    CENTS_PER_DETOUR_KM,
    CENTS_PER_MIN,
    LATE_PERCENT,
    detour_worth_hm,
    worth_cents,
)
from servicedesk.planning.travel import road_hm

WEEKS_KEPT = 20  # of detours that are learned from
LOOK_DAYS = 53 * WEEK
MIDWEEK = 2
STOPPING_HM = 20  # turning in, parking, the gate: a visit's own price; our judgement
WAIT_HM = 20  # a week beyond its due day, for work that gains nothing by waiting; our judgement
SPARE_HM = (0, 100, 200)  # worth of no, one, two or more weeks left to the deadline; our judgement
ROOM_PERCENT = 20  # of a paid day kept for surprises, where spare weeks count whole
LATER_PERCENT = 10  # of the prize, for each further week that late work is late; our judgement


@dataclass
class Occasion:
    """When a piece of work is done next, as the look into the next year counts it."""

    opens: float
    due: float
    closes: float
    job: Job


def later_hm(detours_hm: Sequence[float], chances: int) -> float:
    """What coming back later costs, if the best of the chances left is waited for.

    detours_hm: detours that the site would have meant in past weeks [hundreds of metres].
    chances: weeks left to go, 1 or more; the last one is taken at whatever it costs.
    Returns hundreds of metres: the value of stopping at the right week.
    Raises ValueError without detours or chances.
    Source: optimal stopping by backward induction, a textbook method.
    """
    if not len(detours_hm) or chances < 1:
        raise ValueError("detours and at least one chance are needed")
    seen = np.asarray(detours_hm, dtype=float)
    value = float(seen.mean())
    for _ in range(chances - 1):
        value = float(np.minimum(seen, value).mean())
    return value


def visit_hm(
    detours_hm: Sequence[float], minutes: float, away_min: float, paid_min: float
) -> float:
    """What one visit costs beyond its work: its detour, and its share of a day's way out.

    detours_hm: as for `later_hm`; not empty.
    minutes: length of the visit.
    away_min: drive from the shop, one way.
    paid_min: length of a day without its break.
    Returns hundreds of metres, the way out counted at 55 km/h.
    Source: half of the radial bound of Haimovich and Rinnooy Kan (1985), from memory.
    """
    left = max(paid_min - 2 * away_min, 60.0)
    way_hm = 2 * away_min * 55 / 6
    return float(np.mean(detours_hm)) + 0.5 * minutes * way_hm / left + STOPPING_HM


def visits_ahead(
    jobs: Sequence[Job], first_day: float | None, first: Sequence[Job] | None = None
) -> float:
    """How many visits a site asks for within a year, if each waits for the first deadline.

    jobs: its work, with windows and the days after which it comes back.
    first_day: day of the next visit; None: it waits for its deadline, too.
    first: what is done on that day; None: all that is open.
    Returns visits; the last one counts as far as the year reaches towards the next.
    Source: our own rule.
    """
    return _visits_ahead(tuple(jobs), first_day, None if first is None else tuple(first))


@lru_cache(50_000)  # the same sites are asked about in every week and by every seed
def _visits_ahead(
    jobs: tuple[Job, ...], first_day: float | None, first: tuple[Job, ...] | None
) -> float:
    work = [_occasion(job) for job in jobs]
    count, day = 0.0, first_day
    if day is None:
        day = min((one.closes for one in work), default=float(LOOK_DAYS))
    while day < LOOK_DAYS:
        for one in work:
            if one.opens <= day and (first is None or one.job in first):
                _again(one, day)
        first = None
        after = max(min((one.closes for one in work), default=math.inf), day + 1)
        count += 1.0 if math.isinf(after) else min(1.0, (LOOK_DAYS - day) / (after - day))
        day = after
    return count


def detours_hm(
    problem: WeekProblem, routes: Sequence[PlannedRoute], sites: Mapping[str, Place]
) -> dict[str, int]:
    """What each site would have added to the week, where it fits best on the road.

    problem: the week that was planned.
    routes: its days.
    sites: where each site lies, by the key of its stop.
    Returns hundreds of metres by key; for a site on a route, what it adds there. Nothing for a
    week without routes.
    Source: cheapest insertion, a textbook method.
    """
    keys = list(sites)
    spots = [(sites[key].latitude, sites[key].longitude) for key in keys]
    homes = {(shift.technician, shift.day): shift.home for shift in problem.shifts}
    best = np.full(len(keys), np.inf)
    for route in routes:
        home = homes[route.technician, route.day]
        names = ["", *(stop.wish for stop in route.stops), ""]
        here = [home, *(problem.wish_by_key[stop.wish].place for stop in route.stops), home]
        at = [(problem.places[n].latitude, problem.places[n].longitude) for n in here]
        to, legs = road_hm(at, spots, problem.road_factor), road_hm(at, at, problem.road_factor)
        along = np.diagonal(legs, 1)
        added = to[:-1] + to[1:] - along[:, None]
        for n, key in enumerate(names):
            if key in sites:
                column = keys.index(key)
                added[[n - 1, n], column] = along[n - 1] + along[n] - legs[n - 1, n + 1]
        best = np.minimum(best, added.min(axis=0))
    return {key: round(hm) for key, hm in zip(keys, best.tolist(), strict=True) if hm < np.inf}


def prize_ahead_cents(problem: WeekProblem, wish: StopWish, jobs: tuple[Job, ...], day: int) -> int:
    """What it is worth to make a stop in one of the weeks.

    problem: the weeks.
    wish: the stop, settled.
    jobs: what would be done.
    day: the first day of the choice.
    Returns cents; 0 for a choice that does not do what has to be done first. Harm outweighs
    kilometres; among weeks that are in time the visits saved decide, and how much a surprise may
    put off before the work is late.
    Source: our own rule, measured by simulation.
    """
    forced = [job for job in wish.jobs if not job.waits]
    first = min(forced, key=deadline, default=None)
    if first is not None and first not in jobs:
        return 0
    minutes = sum(job.minutes for job in jobs)
    past = wish.detours_hm or (detour_worth_hm(jobs),)
    week = day // WEEK
    saved = visits_ahead(wish.jobs, None) - visits_ahead(
        wish.jobs, max(day, WEEK * week + MIDWEEK), jobs
    )
    road = saved * _one_visit_hm(problem, wish, past, minutes) - _waiting_hm(jobs, week)
    if first is not None:
        road += _spare_hm(problem, wish.good_until_day // WEEK - week)
        prize = max(worth_cents(job) for job in forced)
        if day > wish.good_until_day:
            weeks_late = week - wish.good_until_day // WEEK
            prize = prize * max(20, LATE_PERCENT - LATER_PERCENT * weeks_late) // 100
    else:
        minutes += wish.setup_min
        ends = min(deadline(job) for job in wish.jobs)
        prize, road = 0, road + later_hm(past, max(1, (ends - problem.last_day) // WEEK))
    return max(0, prize + round(road * CENTS_PER_DETOUR_KM / 10) + minutes * CENTS_PER_MIN)


def _one_visit_hm(
    problem: WeekProblem, wish: StopWish, past: Sequence[float], minutes: int
) -> float:
    shift = problem.shifts[0]
    away = int(problem.travel.minutes[shift.home, wish.place])
    return visit_hm(past, minutes + wish.setup_min, away, shift.until_min - shift.from_min)


def _waiting_hm(jobs: tuple[Job, ...], week: int) -> float:
    """What speaks against a week beyond the due day; work that comes back gains days by it."""
    once = [job for job in jobs if job.every_days is None and not job.pulled_forward]
    due = min((max(0, -job.days_late) for job in once), default=WEEK * week)
    return WAIT_HM * max(0, week - due // WEEK)


def _spare_hm(problem: WeekProblem, weeks_left: int) -> float:
    """What it is worth that a visit may be called off and is still in time.

    Whoever keeps room for surprises in his days expects some.
    """
    room = min(1.0, max(0, 100 - problem.full_percent) / ROOM_PERCENT)
    return room * SPARE_HM[min(max(weeks_left, 0), len(SPARE_HM) - 1)]


def _occasion(job: Job) -> Occasion:
    due = float(-job.days_late)
    closes = float(deadline(job))
    return Occasion(float(job.first_day), due, max(closes, 0.0), job)


def _again(one: Occasion, day: float) -> None:
    """The next occasion of work done on a day; work that does not come back is over."""
    every = one.job.every_days
    if every is None:
        one.opens = one.due = one.closes = math.inf
        return
    due = -float(one.job.days_late)
    early = due - one.job.opens_day if one.job.opens_day is not None else 0.0
    late = one.job.closes_day - due if one.job.closes_day is not None else 0.0
    one.due = one.due + every if one.job.calendar else day + every
    one.opens, one.closes = one.due - early, one.due + late
