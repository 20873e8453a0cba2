"""The weeks of the invented firm as this program plans them, three weeks ahead."""

from collections import defaultdict
from functools import partial

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing import checker
from servicedesk.planning.routing.ahead import WEEKS_KEPT, detours_hm
from servicedesk.planning.routing.cost import plan_cost_cents
from servicedesk.planning.routing.problem import (
    Job,
    Lunch,
    Shift,
    StopWish,
    WeekPlan,
    WeekProblem,
    Window,
)
from servicedesk.planning.routing.solver import plan_week
from tests.benchmarks.ponds import (
    DAY_MIN,
    FROM_MIN,
    SETUP_MIN,
    TECHNICIANS,
    Pond,
    Task,
    World,
)


class Planner:
    """Plans week after week, and remembers what each pond would have cost on its roads."""

    def __init__(
        self,
        world: World,
        iterations: int,
        horizon: int = 3,
        full_percent: int = 100,
        solves: int = 1,
    ):
        self.world, self.iterations, self.horizon = world, iterations, horizon
        self.full_percent, self.solves = full_percent, solves
        self.sites = {f"site:{n}": place for n, place in enumerate(world.places) if n}
        self.seen: dict[str, list[int]] = defaultdict(list)

    def week(self, monday: int) -> str:
        """Plan and work one week; what is said of it."""
        problem = self.problem(monday)
        plan = self._best(problem)
        faults = checker.faults(problem, plan)
        if faults:
            raise AssertionError(faults[:5])
        if plan.routes:
            for key, hm in detours_hm(problem, plan.routes, self.sites).items():
                self.seen[key] = [*self.seen[key], hm][-WEEKS_KEPT:]
        self._work(monday, problem, plan)
        stops = sum(len(route.stops) for route in plan.routes)
        return f"{len(problem.wishes)} ponds, {stops} stops on {len(plan.routes)} days"

    def _best(self, problem: WeekProblem) -> WeekPlan:
        """Of some seeds the better plan, one after another."""
        seeds = range(1, self.solves + 1)
        plans = [plan_week(problem, iterations=self.iterations, seed=seed) for seed in seeds]
        return plans[0] if self.solves == 1 else min(plans, key=partial(plan_cost_cents, problem))

    def problem(self, monday: int) -> WeekProblem:
        skills = frozenset(Skill)
        shifts = tuple(
            Shift(f"tech {n}", 7 * w + day, FROM_MIN, FROM_MIN + DAY_MIN, 0, skills)
            for w in range(self.horizon)
            for day in range(5)
            for n in range(TECHNICIANS)
        )
        last = monday + 7 * self.horizon - 1
        wishes = tuple(
            self._wish(pond, monday)
            for pond in self.world.ponds
            if any(task.opens <= last for task in pond.tasks)
        )
        return WeekProblem(
            self.world.places,
            shifts,
            wishes,
            Lunch(minutes=0),
            self.full_percent,
            weeks=self.horizon,
        )

    def _wish(self, pond: Pond, monday: int) -> StopWish:
        jobs = tuple(_job(task, monday) for task in pond.tasks)
        windows = tuple(Window(7 * w + day) for w in range(self.horizon) for day in range(5))
        key = f"site:{pond.number}"
        return StopWish(
            key, pond.number, jobs, windows, SETUP_MIN, detours_hm=tuple(self.seen[key])
        )

    def _work(self, monday: int, problem: WeekProblem, plan: WeekPlan) -> None:
        for route in plan.routes:
            day = monday + route.day
            self.world.drove(
                route.drive_hm, route.drive_min, route.back_min - route.leaves_min, day
            )
            for stop in route.stops:
                pond = self.world.ponds[int(stop.wish.split(":")[1]) - 1]
                tasks = [task for task in pond.tasks if task.name in stop.jobs]
                self.world.visit(pond, tasks, day)


def _job(task: Task, monday: int) -> Job:
    due = round(task.due) - monday
    return Job(
        task.name,
        task.minutes,
        Harm.ASSET,
        Skill.TRAINED,
        -due,
        opens_day=task.opens - monday,
        closes_day=task.closes - monday,
        every_days=task.every,
        calendar=task.calendar,
    )
