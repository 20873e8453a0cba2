"""What a day brings to restarts that are open. Run twice, late, or never for a week: the same."""

from collections.abc import Callable
from datetime import datetime, timedelta

from django.db.models import Prefetch

from servicedesk.actions.restarts.course import course_of, today_of, watcher_of
from servicedesk.actions.restarts.run import close_restart
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import OfficeTask, RampHold, RampStep, Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day
from servicedesk.planning.restart.proposal import run_words
from servicedesk.planning.restart.ramps import HOLD_AT_MOST_D, DayIs
from servicedesk.planning.restart.readings import RAMP_KEEPS_D
from servicedesk.planning.restart.states import RestartState

MISSED_TOO_LONG = "No step ran for more than three days: the table is read anew, from new readings."
TOO_OLD = "Not started within three days of its readings: read anew."


def look_after_restarts(*, clock: Callable[[], datetime]) -> int:
    """Close what lapsed, ask after days without a word, and after a day that nobody watches.

    Days follow from dates on record, so nothing is lost by a run that never came. Returns how
    many tasks and endings are new.
    """
    now = clock()
    found = (
        Restart.objects.open()
        .select_related("system__site__region", "approved_by")
        .prefetch_related(
            Prefetch("steps", RampStep.objects.order_by("on")),
            Prefetch("holds", RampHold.objects.order_by("from_at")),
        )
        .order_by("pk")
    )
    return sum(_look_after(restart, now) for restart in found)


def _look_after(restart, now):
    if restart.state == RestartState.UNDER_WAY:
        return _ramp(restart, now)
    age = today_of(restart, now) - site_date(restart.read_at, restart.system.site.time_zone)
    if age > timedelta(days=RAMP_KEEPS_D):
        return int(close_restart(restart, by=None, reason=TOO_OLD, now=now))
    return 0


def _ramp(restart, now):
    today = today_of(restart, now)
    steps, holds = list(restart.steps.all()), list(restart.holds.all())
    walk = course_of(restart, today=today, steps=steps, holds=holds)
    if walk.lapsed:
        new = close_restart(restart, by=None, reason=MISSED_TOO_LONG, now=now)
        return int(new) + _ask(restart, f"ramp-lapsed:{restart.pk}", MISSED_TOO_LONG, now)
    said = {step.on for step in steps if step.end}
    asked = 0
    for one in walk.days:
        if one.what == DayIs.MISSED and one.on not in said:
            asked += _ask(
                restart,
                f"ramp-day:{restart.pk}:{one.on}",
                f"Nobody wrote down the step of {day(one.on)} ({run_words(one.minutes)}). Ask "
                f"{watcher_of(restart, one.on, steps) or 'who watched'}; without a word it counts "
                "as missed.",
                now,
            )
        if one.on in {today, today + timedelta(days=1)} and one.what in {DayIs.DUE, DayIs.AHEAD}:
            asked += _nobody_watches(restart, one, steps, now)
    return asked + _held_long(restart, holds, now)


def _nobody_watches(restart, one, steps, now):
    if watcher_of(restart, one.on, steps):
        return 0
    text = f"Nobody is named to watch the step of {day(one.on)}. Name somebody, or run none."
    return _ask(restart, f"ramp-watch:{restart.pk}:{one.on}", text, now)


def _held_long(restart, holds, now):
    hold = next((hold for hold in holds if hold.resumed_at is None), None)
    if hold is None or now - hold.from_at < timedelta(days=HOLD_AT_MOST_D):
        return 0
    text = "The ramp has rested for 48 hours. Let it go on one step back, or close it."
    return _ask(restart, f"ramp-held:{hold.pk}", text, now)


def _ask(restart, key, text, now):
    site = restart.system.site
    fields = {"kind": OfficeTaskKind.RESTART, "site": site, "urgent": True, "opened_at": now}
    fields["text"] = f"{restart.system} at {site}: {text}"
    return int(OfficeTask.objects.get_or_create(key=key, defaults=fields)[1])
