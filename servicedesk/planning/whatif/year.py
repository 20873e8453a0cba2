"""A year of a firm, played week by week with its due engine and its route planner."""

from collections.abc import Callable
from datetime import date, timedelta

from servicedesk.planning.routing.ahead import WEEKS_KEPT, detours_hm
from servicedesk.planning.routing.problem import (
    WEEK,
    LeftOutReason,
    PlannedRoute,
    WeekPlan,
    WeekProblem,
)
from servicedesk.planning.routing.solver import plan_week
from servicedesk.planning.whatif.months import Months
from servicedesk.planning.whatif.running import Clocks, RunningDuty
from servicedesk.planning.whatif.settings import Settings, changed
from servicedesk.planning.whatif.weeks import place_of, week_problem
from servicedesk.planning.whatif.world import World

ITERATIONS = 400  # of each week's search; a planned week has thousands
WEEKS = 52
MOST_WEEKS = 156
BY_HAND = {LeftOutReason.TWO_PEOPLE, LeftOutReason.BOAT}

Progress = Callable[[Months], None]
Watch = Callable[[WeekProblem, WeekPlan], None]


def simulate(
    world: World,
    settings: Settings,
    *,
    weeks: int = WEEKS,
    iterations: int = ITERATIONS,
    seed: int = 1,
    on_progress: Progress | None = None,
    on_pulse: Callable[[], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    on_week: Watch | None = None,
) -> Months:
    """Play the coming weeks of a firm under some settings.

    Each Monday the due engine says what is due at every place, the route planner plans the week
    three weeks ahead, and what it plans is done on its day.

    world: the firm on a Monday; it is not changed, so that two settings may share it.
    settings: what is changed in it.
    weeks: how many to play, 1 to 156.
    iterations: of each week's search, 1 or more.
    seed: of the search and of the sites that are drawn, 0 or more.
    on_progress: called after each week with what there is so far.
    on_pulse: called many times a second, as a sign of life within a long week.
    cancelled: asked as often; True ends the year with the weeks that are whole so far.
    on_week: shown each week's problem and plan, such as to check it.
    Returns Months.
    Raises ValueError for settings that do not suit the firm, or figures out of range.
    Source: our own rule.
    """
    if not 1 <= weeks <= MOST_WEEKS:
        raise ValueError(f"weeks lie between 1 and {MOST_WEEKS}")
    if iterations < 1 or seed < 0:
        raise ValueError("iterations start at 1 and seeds at 0")
    year = _Year(changed(world, settings, seed), weeks, iterations, seed)
    year.on_pulse, year.cancelled = on_pulse, cancelled or _never
    for number in range(weeks):
        if cancelled and cancelled():
            year.months.cancelled = True
            break
        problem, plan = year.play(world.begins_on + timedelta(weeks=number))
        if plan.cancelled:
            break
        if on_week:
            on_week(problem, plan)
        if on_progress:
            on_progress(year.months)
    return year.months


def _never() -> bool:
    return False


class _Year:
    on_pulse: Callable[[], None] | None
    cancelled: Callable[[], bool]

    def __init__(self, world: World, weeks: int, iterations: int, seed: int):
        self.world, self.iterations, self.seed = world, iterations, seed
        self.clocks = Clocks(world.sites, world.begins_on)
        self.spots = {site.key: place_of(site) for site in world.sites}
        self.detours = {site.key: site.detours_hm for site in world.sites}
        rows = self.clocks.by_key.values()
        self.months = Months(
            world.begins_on,
            weeks,
            iterations=iterations,
            seed=seed,
            sites=len(world.sites),
            duties=len(rows),
            inherited=sum(row.begins_late for row in rows),
        )

    def play(self, monday: date) -> tuple[WeekProblem, WeekPlan]:
        """Plan a week and do what it says."""
        problem = week_problem(self.world, self.clocks, self.detours, monday)
        plan = plan_week(
            problem,
            iterations=self.iterations,
            seed=self.seed,
            on_progress=self._pulse,
            cancelled=self.cancelled,
        )
        if plan.cancelled:
            self.months.cancelled = True
            return problem, plan
        self._pay(monday)
        done: set[str] = set()
        for route in sorted(plan.routes, key=lambda route: (route.day, route.technician)):
            self._drive(monday + timedelta(days=route.day), route, done)
        self._by_hand(monday, problem, plan)
        self._learn(problem, plan)
        late = self.clocks.late_on(monday + timedelta(weeks=1))
        self.months.still_late, self.months.still_days_late = len(late), sum(late)
        self.months.weeks_done += 1
        return problem, plan

    def _pulse(self, _done: int, _of: int) -> None:
        if self.on_pulse:
            self.on_pulse()

    def _pay(self, monday: date) -> None:
        for day in (monday + timedelta(days=n) for n in range(WEEK)):
            for person in self.world.people:
                if paid := person.paid_day(day):
                    minutes = paid.until_min - paid.from_min - paid.lunch_min
                    self.months.month(day).paid_min += minutes

    def _drive(self, day: date, route: PlannedRoute, done: set[str]) -> None:
        month = self.months.month(day)
        month.hm += route.drive_hm
        month.drive_min += route.drive_min
        month.days += 1
        for stop in route.stops:
            month.visits += 1
            month.work_min += stop.ends_min - stop.starts_min
            for key in stop.jobs:
                if key not in done:  # of two people on one job, one hands it in
                    done.add(key)
                    self._do(self.clocks.by_key[key], day)

    def _do(self, row: RunningDuty, day: date) -> None:
        month = self.months.month(day)
        days_late = self.clocks.work(row, day)
        month.tasks += 1
        month.late += days_late > 0
        month.days_late += days_late
        month.parts.update(row.duty.work.parts)

    def _by_hand(self, monday: date, problem: WeekProblem, plan: WeekPlan) -> None:
        """What the planner leaves to people is done on its due day, if there are two for it."""
        for out in plan.left_out:
            if out.reason not in BY_HAND:
                continue
            row = self.clocks.by_key[out.job]
            day = self._day_for_two(row, monday, problem)
            if day is None:
                continue
            month, work = self.months.month(day), row.duty.work
            month.by_hand += 1
            month.work_min += work.minutes * max(work.crew, 2)
            self._do(row, day)

    def _day_for_two(self, row: RunningDuty, monday: date, problem: WeekProblem) -> date | None:
        """The first day from the due day on with two people, one of them for the boat."""
        due = row.item.on if row.item and row.item.on else monday
        for number in range(max(0, (due - monday).days), WEEK):
            there = [shift for shift in problem.shifts if shift.day == number]
            if len(there) >= max(row.duty.work.crew, 2) and (
                not row.duty.work.boat or any(shift.boat for shift in there)
            ):
                return monday + timedelta(days=number)
        return None

    def _learn(self, problem: WeekProblem, plan: WeekPlan) -> None:
        """What coming to each site would have cost this week, as the planner remembers it."""
        if not plan.routes:
            return
        for key, hm in detours_hm(problem, plan.routes, self.spots).items():
            self.detours[key] = (*self.detours[key], hm)[-WEEKS_KEPT:]
