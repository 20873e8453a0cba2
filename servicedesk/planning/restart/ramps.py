"""Minutes of running day by day, and what follows where a day was missed or stopped."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from servicedesk.planning.restart.readings import RAMP_KEEPS_D

WHOLE_DAY = 1440
CONTINUOUS = (WHOLE_DAY,)
SHORT = (240, 480, 960, WHOLE_DAY)  # judgement
STANDARD = (30, 60, 120, 240, 480, 960, WHOLE_DAY)  # half an hour, doubled: common practice
SLOW = (*range(15, 121, 15), 240, 480, 960, WHOLE_DAY)  # judgement
ENOUGH = 0.75  # of the planned minutes: less does not count as the step; judgement
HOLD_AT_LEAST_D = 1
HOLD_AT_MOST_D = 2
DAY = timedelta(days=1)


class StepEnd(StrEnum):
    """What became of the run of a day."""

    DONE = "done"
    MISSED = "missed"
    STOPPED = "stopped"


class DayIs(StrEnum):
    """What a day of a ramp is."""

    DONE = "done"
    SHORT = "short"  # it ran, too briefly to count
    MISSED = "missed"
    STOPPED = "stopped"
    HELD = "held"
    DUE = "due"
    AHEAD = "ahead"


@dataclass(frozen=True)
class Ran:
    """What is on record of a day."""

    end: StepEnd
    minutes: int = 0


@dataclass(frozen=True)
class Held:
    """A stop: from this day on, until somebody resumes on a later one."""

    from_on: date
    resumed_on: date | None = None


@dataclass(frozen=True)
class Day:
    """One day of a ramp: the step that belongs to it, and why that one."""

    on: date
    step: int
    minutes: int
    what: DayIs
    because: str = ""


@dataclass(frozen=True)
class Course:
    """How a ramp stands today. `lapsed`: the table is read anew. `complete`: the last step ran."""

    days: tuple[Day, ...]
    complete: bool = False
    lapsed: bool = False
    held: bool = False

    @property
    def coming(self) -> tuple[Day, ...]:
        return tuple(day for day in self.days if day.what in {DayIs.DUE, DayIs.AHEAD})


def course(
    minutes: Sequence[int],
    first_on: date,
    today: date,
    ran: Mapping[date, Ran],
    holds: Iterable[Held] = (),
) -> Course:
    """The days of a ramp, worked out from what is on record and from nothing else.

    minutes: of each step, in order.
    first_on: the day of the first step.
    today: the day at the site. A day before it without a record counts as missed.
    ran: what is on record, by day.
    holds: stops, each with the day on which it was resumed, if it was.
    Returns the days up to today with what they were, today's step, and the steps to come as if
        all went well; complete once the last step ran, lapsed once more than three days lie
        between today and the last step that ran.
    Raises ValueError for a ramp without steps.
    Source: common practice, no source, and judgement: one missed day, the same step again; two, one
    step back; after a stop one step back from the last that ran; longer than three days, read the
    table anew. A day that ran too briefly does not count as its step.
    """
    if not minutes:
        raise ValueError("a ramp has at least one step")
    walk = _Walk(tuple(minutes), first_on, tuple(sorted(holds, key=lambda h: h.from_on)))
    day = first_on
    while day <= today and not walk.complete and not walk.lapsed:
        walk.pass_day(day, ran.get(day), today)
        day += DAY
    return walk.course(day)


class _Walk:
    """A ramp walked day by day."""

    def __init__(self, minutes, first_on, holds):
        self.minutes, self.holds = minutes, holds
        self.step, self.missed, self.last_step = 0, 0, 0
        self.last_on = first_on - DAY  # of a step that ran; before the first one, the day before
        self.days, self.complete, self.lapsed, self.held = [], False, False, False
        self.because = ""

    def pass_day(self, on, ran, today):
        self._resume(on)
        self.lapsed = (on - self.last_on).days > RAMP_KEEPS_D
        if self.lapsed:
            return
        self.held = any(_holds(hold, on) for hold in self.holds)
        if ran and ran.end != StepEnd.MISSED:
            self._ran(on, ran)
        elif self.held:
            self._add(on, DayIs.HELD, "on hold")
            self._one_back()
        elif on < today or ran:
            self._add(on, DayIs.MISSED, self.because)
            self.missed += 1
            self._after_missed()
        else:
            self._add(on, DayIs.DUE, self.because)

    def _ran(self, on, ran):
        asked, step = self.minutes[self.step], self.step
        self.last_on, self.last_step, self.missed = on, step, 0
        if ran.end == StepEnd.STOPPED:
            self._add(on, DayIs.STOPPED, self.because)
            self._one_back()
        elif ran.minutes < ENOUGH * asked:
            self._add(on, DayIs.SHORT, self.because)
            self.because = "the day before ran too briefly: the same step again"
        else:
            self._add(on, DayIs.DONE, self.because)
            self.complete = step + 1 == len(self.minutes) and not self.held
            self.step = min(step + 1, len(self.minutes) - 1)
            self.because = ""

    def _after_missed(self):
        if self.missed == 1:
            self.because = "a day was missed: the same step again"
        elif self.missed == 2:
            self.step = max(self.step - 1, 0)
            self.because = "two days were missed: one step back"

    def _one_back(self):
        self.step = max(self.last_step - 1, 0)
        self.missed = 0
        self.because = "after the stop: one step back"

    def _resume(self, on):
        """A hold ends with the day on which it was resumed; the days of it are no missed days."""
        if any(hold.resumed_on == on and hold.from_on < on for hold in self.holds):
            self.missed = 0
            self._one_back()

    def _add(self, on, what, because):
        self.days.append(Day(on, self.step, self.minutes[self.step], what, because))

    def course(self, on):
        if not (self.complete or self.lapsed or self.held):
            due = self.days and self.days[-1].what == DayIs.DUE
            first = self.step + 1 if due else self.step
            ahead = range(first, len(self.minutes))
            self.days += [
                Day(
                    on + (step - first) * DAY,
                    step,
                    self.minutes[step],
                    DayIs.AHEAD,
                    self.because if step == first and not due else "",
                )
                for step in ahead
            ]
        return Course(tuple(self.days), self.complete, self.lapsed, self.held)


def _holds(hold, on):
    return hold.from_on <= on and (hold.resumed_on is None or on < hold.resumed_on)


@dataclass(frozen=True)
class Timer:
    """What a timer is set to on a day of the ramp."""

    on: date
    starts: datetime
    ends: datetime
    all_day: bool
    clocks_change: bool  # in the night before: a mechanical timer does not know


def timer(day: date, minutes: int, starts: time, zone: str) -> Timer:
    """When the air runs on a day, by the clock at the site.

    day: of the step.
    minutes: of running, 1 to 1440.
    starts: local time at which it is switched on.
    zone: such as Europe/Madrid.
    Returns the two instants; minutes that pass are minutes, also in the night when clocks change.
    Raises ValueError for minutes outside a day.
    Source: our own rule; time zones from the IANA data.
    """
    if not 1 <= minutes <= WHOLE_DAY:
        raise ValueError("a day has 1 to 1440 minutes of running")
    at_site = ZoneInfo(zone)
    begins = datetime.combine(day, starts, at_site)
    ends = (begins.timestamp() + minutes * 60) if minutes < WHOLE_DAY else begins.timestamp()
    before = datetime.combine(day - DAY, starts, at_site)
    return Timer(
        day,
        begins,
        datetime.fromtimestamp(ends, at_site),
        minutes == WHOLE_DAY,
        begins.utcoffset() != before.utcoffset(),
    )
