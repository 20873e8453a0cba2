"""Weeks that go wrong: visits called off on the day, an emergency a day, stays that take longer.

The morning's emergency is put where it costs the least driving today; what has to give way, is
called off or is not reached goes to a later day of the week where it fits, or waits for the next.
"""

import random
from dataclasses import replace

from servicedesk.kinds import Harm, Skill
from servicedesk.planning.routing.insertion import Orders, put_in
from servicedesk.planning.routing.problem import Job, StopWish, WeekPlan, WeekProblem, Window
from servicedesk.planning.routing.room import make_room
from servicedesk.planning.routing.sorting import sort_out
from servicedesk.planning.routing.timetable import Visit, visits_of
from tests.benchmarks.lookahead import Planner
from tests.benchmarks.ponds import DAY_MIN, FROM_MIN, World

CALLED_OFF = 0.05
OFF_BY = 0.2  # a stay takes so much more or less than was thought
NEXT_FRIDAY = 11  # what has time until then waits for the next plan
EMERGENCY_MIN = 60
FULL_PERCENT = 85  # of a paid day; the rest is for surprises; our judgement


class Disturbed(Planner):
    """The same planner in a year that does not go to plan."""

    def __init__(self, world: World, iterations: int, horizon: int = 3, seed: int = 0):
        super().__init__(world, iterations, horizon, FULL_PERCENT)
        self.dice = random.Random(1000 + seed)

    def _work(self, monday: int, problem: WeekProblem, plan: WeekPlan) -> None:
        known = {wish.key: wish for wish in sort_out(problem).wishes}
        problem = replace(problem, full_percent=100, weeks=1)  # the room for surprises is used now
        orders: Orders = {
            (route.technician, route.day): [
                replace(visit, wish=known[visit.wish.key]) for visit in visits_of(problem, route)
            ]
            for route in plan.routes
        }
        for day in range(5):
            self._emergency(monday, day, problem, orders)
            for technician in sorted({shift.technician for shift in problem.shifts}):
                visits = orders.pop((technician, day), [])
                if visits:
                    self._one_day(monday, day, problem, visits, orders)

    def _emergency(self, monday: int, day: int, problem: WeekProblem, orders: Orders) -> None:
        pond = self.dice.choice(self.world.ponds)
        job = Job("emergency", EMERGENCY_MIN, Harm.FISH, Skill.TRAINED)
        wish = StopWish(f"emergency:{day}", pond.number, (job,), (Window(day),), 10)
        today = replace(problem, shifts=tuple(s for s in problem.shifts if s.day == day))
        stood = {v.wish.key: v for (_, on), some in orders.items() if on == day for v in some}
        left = make_room(today, orders, [wish])
        self._count(monday + day, "changes")
        if wish in left:
            self._count(monday + day, "emergencies left for the next day")
        for other in left:
            if other is not wish:
                self._count(monday + day, "moved")
                self._put_later(day, problem, orders, stood[other.key])

    def _put_later(self, day: int, problem: WeekProblem, orders: Orders, visit: Visit) -> None:
        later = tuple(s for s in problem.shifts if day < s.day < 7)
        one = replace(visit.wish, jobs=visit.jobs)
        if later and not visit.wish.key.startswith("emergency"):
            put_in(replace(problem, shifts=later), orders, one, None)

    def _one_day(
        self, monday: int, day: int, problem: WeekProblem, visits: list[Visit], orders: Orders
    ) -> None:
        """Drive a day as it really goes."""
        minutes, road = self.world.minutes, self.world.hm
        here, now, hm, driving = 0, FROM_MIN, 0, 0
        for visit in visits:
            there = visit.wish.place
            thought = visit.minutes + minutes[here][there] + minutes[there][0]
            if self.dice.random() < CALLED_OFF:
                self._count(monday + day, "changes")
                if visit.wish.good_until_day < NEXT_FRIDAY:
                    self._put_later(day, problem, orders, visit)
                continue  # the owner called before anybody came
            if now + thought > FROM_MIN + DAY_MIN:
                self._count(monday + day, "changes")
                self._count(monday + day, "moved")
                self._put_later(day, problem, orders, visit)
                continue
            hm += road[here][there]
            driving += minutes[here][there]
            took = visit.minutes * self.dice.uniform(1 - OFF_BY, 1 + OFF_BY)
            now += minutes[here][there] + round(took)
            here = there
            self._done(visit, monday + day)
        hm += road[here][0]
        driving += minutes[here][0]
        self.world.drove(hm, driving, now + minutes[here][0] - FROM_MIN, monday + day)

    def _done(self, visit: Visit, day: int) -> None:
        if visit.wish.key.startswith("emergency"):
            self._count(day, "emergencies")
            return
        pond = self.world.ponds[visit.wish.place - 1]
        names = {job.key for job in visit.jobs}
        self.world.visit(pond, [task for task in pond.tasks if task.name in names], day)

    def _count(self, day: int, what: str) -> None:
        if self.world.measured(day):
            self.world.tally.notes[what] += 1
