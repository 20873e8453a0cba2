"""The arithmetic of single clocks, for whoever wants to check one due day by hand."""

from datetime import date, timedelta

from equipment.kinds import SystemState
from equipment.physics.limits import hours_counted
from servicedesk.planning.calendar import add_months
from servicedesk.planning.due.timeline import ScheduleFrom, StateFrom, timeline

PULL_FORWARD_DAYS = 21  # how far ahead of its due day a task joins a visit; a judgement
PULL_FORWARD_SHARE = 0.2  # of its interval; a judgement
MOST_HOURS_PER_DAY = 24.0


def series_day(anchor: date, months: int, number: int) -> date:
    """A day of a series that keeps its day of the month.

    anchor: the original day.
    months: step of the series [calendar months], 1 or more.
    number: which occasion, 0 for the anchor itself.
    Returns the day: from 31 January the next ones of a monthly series are 28 February and
        31 March, since each is counted from the anchor and never from the one before.
    Raises ValueError for a step below 1 or a negative number.
    Source: dateutil's relativedelta; counting from the anchor is our own rule.
    """
    if months < 1 or number < 0:
        raise ValueError("months must be 1 or more, and number 0 or more")
    return add_months(anchor, months * number)


def due_by_running_days(
    done_on: date, every_days: float, off_from: date | None = None, off_until: date | None = None
) -> date | None:
    """When an interval of running days is over.

    done_on: the day of the last work; the system runs from then on.
    every_days: the interval [d], more than 0.
    off_from, off_until: a pause: its first day, and the day on which the system runs again.
    Returns the day; nothing while the pause has no end and the interval is not over before.
    Raises ValueError for an interval of nothing, or a pause that ends before it begins.
    Source: our own rule.
    """
    if every_days <= 0:
        raise ValueError("every_days must be more than 0")
    line = timeline(_history(done_on, off_from, off_until))
    return line.when_days_run(line.days_run(done_on) + every_days)


def due_by_run_hours(
    done_on: date,
    every_h: float,
    hours_per_day: float = MOST_HOURS_PER_DAY,
    off_from: date | None = None,
    off_until: date | None = None,
) -> date | None:
    """When an interval of run hours is over, at a timer's hours.

    done_on: the day of the last work; the system runs from then on.
    every_h: the interval [h], more than 0.
    hours_per_day: what the timer lets it run [h/d], 0 to 24.
    off_from, off_until: a pause: its first day, and the day on which the system runs again.
    Returns the day; nothing when it is not in sight.
    Raises ValueError for figures outside these ranges.
    Source: our own rule.
    """
    if every_h <= 0 or not 0 <= hours_per_day <= MOST_HOURS_PER_DAY:
        raise ValueError("every_h must be more than 0, and hours_per_day between 0 and 24")
    plan = [ScheduleFrom(done_on, hours_per_day)]
    line = timeline(_history(done_on, off_from, off_until), plan)
    return line.when_hours_run(line.hours_run(done_on) + every_h)


def meter_hours(first_h: float, second_h: float, days: float, turns_at_h: float = 0) -> float:
    """The hours that one meter counted between two readings.

    first_h, second_h: what it showed [h], 0 or more.
    days: days from the first reading to the second [d], 0 or more.
    turns_at_h: where a mechanical meter begins again at zero [h], such as 9999.9 or 99999;
        0 for a meter that does not.
    Returns hours [h].
    Raises ValueError for hours that cannot have passed in so many days.
    Source: our own rule; a reading is taken at some hour of its day, so a day more is allowed.
    """
    hours = hours_counted(first_h, second_h, turns_at_h)
    if not 0 <= hours <= (days + 1) * MOST_HOURS_PER_DAY:
        raise ValueError(
            f"{hours:g} h cannot have passed in {days:g} days: look for a typing mistake, another "
            "meter, a meter that was replaced, or one that turned over"
        )
    return hours


def pull_forward_days(every_days: float, most: int = PULL_FORWARD_DAYS) -> int:
    """How many days before its due day a task joins a visit that goes to its site anyway.

    every_days: the interval of the task [d], more than 0.
    most: the firm's limit [d], 21 unless it says otherwise.
    Returns days [d]: at most that limit, and at most a fifth of the interval.
    Raises ValueError for an interval of nothing.
    Source: common practice, no source; both limits are a judgement.
    """
    if every_days <= 0:
        raise ValueError("every_days must be more than 0")
    return int(min(most, PULL_FORWARD_SHARE * every_days))


def _history(done_on, off_from, off_until):
    if off_until and (off_from is None or off_until < off_from):
        raise ValueError("a pause needs its first day, and ends after it")
    history = [StateFrom(done_on - timedelta(days=1), SystemState.RUNNING)]
    if off_from:
        history.append(StateFrom(off_from, SystemState.SHUT_OTHER))
    if off_until:
        history.append(StateFrom(off_until, SystemState.RUNNING))
    return history
