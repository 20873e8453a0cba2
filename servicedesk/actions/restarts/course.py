"""The days of a ramp, worked out from what is on record; nothing here is counted or kept."""

from collections.abc import Iterable
from datetime import date, datetime

from servicedesk.models import RampHold, RampStep, Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.restart.ramps import Course, Held, Ran, StepEnd, Timer, course, timer

SATURDAY = 6


def course_of(
    restart: Restart,
    *,
    today: date,
    steps: Iterable[RampStep] | None = None,
    holds: Iterable[RampHold] | None = None,
) -> Course:
    """How a ramp stands on a day; `steps` and `holds` where they are fetched already."""
    steps = restart.steps.all() if steps is None else steps
    holds = restart.holds.all() if holds is None else holds
    zone = restart.system.site.time_zone
    return course(
        restart.minutes,
        restart.first_on,
        today,
        {step.on: Ran(StepEnd(step.end), step.minutes or 0) for step in steps if step.end},
        [
            Held(
                site_date(hold.from_at, zone),
                site_date(hold.resumed_at, zone) if hold.resumed_at else None,
            )
            for hold in holds
        ],
    )


def timer_of(restart: Restart, on: date, minutes: int) -> Timer:
    """What the timer is set to on a day, by the clock at the site."""
    return timer(on, minutes, restart.starts, restart.system.site.time_zone)


def watcher_of(restart: Restart, on: date, steps: Iterable[RampStep]) -> str:
    """Who watches on a day: named for it, else for such days; nobody is an empty name."""
    named = next((step.watcher for step in steps if step.on == on and step.watcher), "")
    return named or (restart.weekend_watcher if on.isoweekday() >= SATURDAY else restart.watcher)


def today_of(restart: Restart, now: datetime) -> date:
    return site_date(now, restart.system.site.time_zone)
