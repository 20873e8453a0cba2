"""Where one more stop would cost the least driving in the week that is published."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from servicedesk.planning.routing.insertion import Orders, fits
from servicedesk.planning.routing.problem import WEEK, Shift, WeekProblem
from servicedesk.planning.routing.sorting import longest_min
from servicedesk.planning.routing.timetable import Visit

TRIES = 25  # places looked at closely, the cheapest first; our judgement


@dataclass(frozen=True)
class Gaps:
    """Every place between two stops of the first week, side by side in arrays."""

    problem: WeekProblem
    orders: Orders
    shifts: NDArray[np.int64]  # which shift each gap belongs to
    positions: NDArray[np.int64]
    before: NDArray[np.int64]
    after: NDArray[np.int64]
    spare_min: NDArray[np.int64]  # what its day has left


def gaps_of(problem: WeekProblem, orders: Orders) -> Gaps:
    """The gaps of a planned week, read once for many questions.

    problem: the week, or the weeks of its horizon.
    orders: its days, stops in order.
    Returns Gaps, of the first week alone.
    Source: our own form.
    """
    rows = []
    for number, shift in enumerate(problem.shifts):
        if shift.day >= WEEK:
            continue
        visits = orders.get((shift.technician, shift.day), [])
        stops = [shift.home, *(visit.wish.place for visit in visits), shift.home]
        legs = list(pairwise(stops))
        busy = sum(visit.minutes for visit in visits)
        busy += sum(int(problem.travel.minutes[a, b]) for a, b in legs)
        spare = longest_min(problem, shift.from_min, shift.until_min) - busy
        rows += [(number, n, a, b, spare) for n, (a, b) in enumerate(legs)]
    columns = np.array(rows, dtype=np.int64).reshape(-1, 5).T
    return Gaps(problem, orders, *columns)


def best_day(gaps: Gaps, visit: Visit) -> tuple[int, int] | None:
    """The day on which one more stop would cost the least driving.

    gaps: of the planned week.
    visit: the stop.
    Returns day and detour in hundreds of metres; None if none of the cheapest places fits.
    Source: cheapest insertion, a textbook method.
    """
    found = best_place(gaps, visit)
    return (found[0].day, found[1]) if found else None


def best_place(gaps: Gaps, visit: Visit) -> tuple[Shift, int] | None:
    """Whose day one more stop would cost the least driving.

    gaps: of the planned week.
    visit: the stop.
    Returns shift and detour in hundreds of metres; None if none of the cheapest places fits.
    Source: cheapest insertion, a textbook method.
    """
    problem, here = gaps.problem, visit.wish.place
    minutes, road = problem.travel.minutes, problem.travel.hectometres
    a, b = gaps.before, gaps.after
    longer = minutes[a, here] + minutes[here, b] - minutes[a, b] + visit.minutes
    detour = road[a, here] + road[here, b] - road[a, b]
    roomy = np.flatnonzero((longer <= gaps.spare_min) & _may(gaps, visit)[gaps.shifts])
    cheapest = roomy[np.argsort(detour[roomy], kind="stable")]
    for n in cheapest[:TRIES].tolist():
        shift = problem.shifts[gaps.shifts[n]]
        trial = [*gaps.orders.get((shift.technician, shift.day), [])]
        trial.insert(int(gaps.positions[n]), visit)
        if fits(problem, shift, trial):
            return shift, int(detour[n])
    return None


def _may(gaps: Gaps, visit: Visit) -> NDArray[np.bool_]:
    """By shift: whether the site is open, the work too, and the person able."""
    open_days = {window.day for window in visit.wish.windows}
    first = max((job.first_day for job in visit.jobs), default=0)
    skills = {job.skill for job in visit.jobs}
    return np.array(
        [
            shift.day in open_days and first <= shift.day and skills <= shift.skills
            for shift in gaps.problem.shifts
        ]
    )
