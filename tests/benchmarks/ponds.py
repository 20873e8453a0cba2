"""An invented firm for a year of visits: ponds, their work, and what each plan makes of them.

Intervals, windows and minutes are assumptions of this benchmark, no facts of the trade.
"""

import math
import random
from collections import Counter
from dataclasses import dataclass, field

from servicedesk.planning.routing.problem import Place, WeekProblem

PONDS, TOWNS, TECHNICIANS = 400, 9, 3
WIDE_KM, HIGH_KM, TOWN_KM, IN_TOWN = 120, 90, 4, 0.6
SETUP_MIN, DAY_MIN, FROM_MIN = 10, 480, 480
WARM_UP_DAYS = 13 * 7  # the measured year begins on 1 January
SPRING, AUTUMN = 100, 295  # days of the year


@dataclass
class Task:
    """A piece of recurring work; days count from the first one of the warm-up."""

    name: str
    minutes: int
    early: int
    late: int
    every: float
    due: float
    calendar: bool = False  # keeps its day of the year

    @property
    def opens(self) -> int:
        return math.ceil(self.due - self.early)

    @property
    def closes(self) -> int:
        return math.floor(self.due + self.late)

    def done(self, day: int) -> None:
        self.due = self.due + self.every if self.calendar else day + self.every


@dataclass
class Pond:
    number: int  # of its place; the shop is 0
    tasks: list[Task]


@dataclass
class Tally:
    """What a policy did in the measured weeks."""

    hm: int = 0
    visits: int = 0
    tasks: int = 0
    late: int = 0
    days: int = 0
    over_shift: int = 0
    late_days: float = 0
    early_days: float = 0
    drive_min: int = 0
    notes: Counter = field(default_factory=Counter)

    @property
    def late_percent(self) -> float:
        return 100 * self.late / max(1, self.tasks)


class World:
    """The same ponds and due days for every policy; each works on a world of its own."""

    def __init__(self, seed: int):
        dice = random.Random(seed)
        towns = [
            (dice.uniform(0.1, 0.9) * WIDE_KM, dice.uniform(0.1, 0.9) * HIGH_KM)
            for _ in range(TOWNS)
        ]
        spots = [(WIDE_KM / 2 + dice.gauss(0, 3), HIGH_KM / 2 + dice.gauss(0, 3))]
        spots += [_spot(dice, towns) for _ in range(PONDS)]
        self.places = tuple(
            Place(45 + y / 111.2, -93 + x / (111.2 * math.cos(math.radians(45)))) for x, y in spots
        )
        self.spots = spots
        self.ponds = [Pond(n, _tasks(dice)) for n in range(1, PONDS + 1)]
        travel = WeekProblem(self.places, (), ()).travel
        self.minutes = travel.minutes.tolist()
        self.hm = travel.hectometres.tolist()
        self.tally = Tally()

    def measured(self, day: int) -> bool:
        return day >= WARM_UP_DAYS

    def visit(self, pond: Pond, tasks: list[Task], day: int) -> None:
        """Do some work at a pond; each counts as late after its tolerance."""
        for task in tasks:
            if self.measured(day):
                self.tally.tasks += 1
                self.tally.late += day > task.closes
                self.tally.late_days += max(0, day - task.closes)
                self.tally.early_days += max(0.0, task.due - day)
            task.done(day)
        if self.measured(day):
            self.tally.visits += 1

    def drove(self, hm: int, minutes: int, whole_min: int, day: int) -> None:
        if self.measured(day):
            self.tally.hm += hm
            self.tally.drive_min += minutes
            self.tally.days += 1
            self.tally.over_shift += whole_min > DAY_MIN

    def overdue(self, day: int) -> int:
        """Work that is past its tolerance and not done."""
        return sum(task.closes < day for pond in self.ponds for task in pond.tasks)


def _spot(dice, towns):
    if dice.random() >= IN_TOWN:
        return dice.uniform(0, WIDE_KM), dice.uniform(0, HIGH_KM)
    x, y = dice.choice(towns)
    return x + dice.gauss(0, TOWN_KM), y + dice.gauss(0, TOWN_KM)


def _tasks(dice) -> list[Task]:
    tasks = []
    if dice.random() < 0.3:
        tasks.append(_floating(dice, "check", 20, 10, 7, dice.randint(40, 60)))
    tasks.append(_floating(dice, "filter", 30, 21, 14, dice.choice([90, 120, 150, 180])))
    tasks.append(_floating(dice, "membranes", 90, 60, 60, dice.uniform(24, 36) * 30.4))
    hours = dice.choice([8000, 12000, 16000]) / dice.choice([12, 18, 24])
    tasks.append(_floating(dice, "rebuild", 75, 30, 14, hours))
    if dice.random() < 0.6:
        for name, day in (("spring", SPRING), ("autumn", AUTUMN - 365)):
            due = WARM_UP_DAYS + day + dice.randint(-10, 10)
            tasks.append(Task(name, 45, 24, 24, 365, due, calendar=True))
    return tasks


def _floating(dice, name, minutes, early, late, every):
    return Task(name, minutes, early, late, every, dice.uniform(0, every))
