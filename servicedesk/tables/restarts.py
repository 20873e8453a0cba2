"""A restart as its page shows it: what was read, what was said, and the days of its ramp."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from servicedesk.actions.restarts.approve import told_by_mail
from servicedesk.actions.restarts.course import course_of, timer_of, today_of, watcher_of
from servicedesk.models import OwnerAnswer, RampStep, Reminder, Restart
from servicedesk.planning.restart.proposal import run_words
from servicedesk.planning.restart.ramps import DayIs, Timer
from servicedesk.planning.restart.states import RestartState
from servicedesk.templatetags.house import words

TAGS = {
    DayIs.DONE: ("ok", _("Ran")),
    DayIs.SHORT: ("due", _("Too short: again")),
    DayIs.MISSED: ("due", _("Not run")),
    DayIs.STOPPED: ("late", _("Stopped")),
    DayIs.HELD: ("late", _("On hold")),
    DayIs.DUE: ("drift", _("Today")),
    DayIs.AHEAD: ("rest", _("To come")),
}
STATES = {
    RestartState.PROPOSED: ("due", _("Waits for a manager")),
    RestartState.APPROVED: ("drift", _("Approved, not started")),
    RestartState.UNDER_WAY: ("drift", _("Ramp under way")),
    RestartState.DONE: ("ok", _("Done")),
    RestartState.CLOSED: ("rest", _("Closed")),
    RestartState.OVERRIDDEN: ("late", _("Started without readings")),
}
NAMES = {
    "off_hours": _("Hours off"),
    "ran_full_time": _("Ran all day before"),
    "surface_c": _("Surface, °C"),
    "surface_mg_l": _("Oxygen near the surface, mg/L"),
    "bottom_mg_l": _("Oxygen at the bottom, mg/L"),
    "difference": _("Heavier below by, kg/m3"),
    "fish": _("Fish"),
    "past_kill": _("Fish died here before"),
    "smell": _("Foul smell or black water"),
    "stop_sign": _("Signs of distress"),
    "ice": _("Ice"),
    "layered_season": _("Warm season, in layers"),
    "bad_weather_coming": _("Hot, still spell forecast"),
    "ramp_days": _("Days since the last step of a ramp"),
}


@dataclass(frozen=True)
class DayRow:
    """A day of a ramp, as a line."""

    on: date
    run: str
    shape: str
    words: str
    because: str
    watcher: str
    timer: Timer
    is_today: bool
    step: RampStep | None


def shown(restart: Restart, *, now: datetime) -> dict:
    """What the page of a restart says; the same number of questions for any ramp."""
    found = {
        "restart": restart,
        "said": restart.proposed,
        "facts": facts_of(restart),
        "state": STATES[RestartState(restart.state)],
        "answers": list(
            OwnerAnswer.objects.standing()
            .filter(link__about=f"restart:{restart.pk}")
            .select_related("contact")
            .order_by("recorded_at", "pk")
        ),
        "told": list(
            Reminder.objects.filter(topic="restart", period=f"restart:{restart.pk}")
            .select_related("contact", "message")
            .order_by("pk")
        ),
        "told_at": told_by_mail(restart),
    }
    if restart.first_on and restart.minutes:
        found |= days_of(restart, now=now)
    return found


def days_of(restart: Restart, *, now: datetime) -> dict:
    """The days of a ramp up to today and to come, with today's step."""
    today = today_of(restart, now)
    if restart.state not in {RestartState.APPROVED, RestartState.UNDER_WAY}:
        today = max(
            restart.first_on, today_of(restart, restart.ended_at) if restart.ended_at else today
        )
    steps, holds = list(restart.steps.all()), list(restart.holds.all())
    walk = course_of(restart, today=today, steps=steps, holds=holds)
    over = restart.state in {RestartState.CLOSED, RestartState.DONE}
    rows = [
        _row(restart, one, steps, today)
        for one in walk.days
        if not (over and one.what in {DayIs.DUE, DayIs.AHEAD})
    ]
    hold = next((hold for hold in holds if hold.resumed_at is None), None)
    return {
        "days": rows,
        "course": walk,
        "today_step": next((one for one in walk.days if one.what == DayIs.DUE), None),
        "hold": hold,
        "may_resume_at": hold and hold.from_at + timedelta(hours=24),
    }


def facts_of(restart: Restart) -> list[tuple[str, str]]:
    """What was read, name and words; what nobody knows says so."""
    readings = restart.inputs.get("readings", {})
    return [(name, _in_words(key, readings[key])) for key, name in NAMES.items() if key in readings]


def _in_words(key, value):
    if value is None:
        return _("not known") if key != "ramp_days" else "\u2013"
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, float | int):
        return f"{value:.2f}" if key == "difference" else f"{value:.1f}".removesuffix(".0")
    return words(value)


def _row(restart, one, steps, today):
    shape, said = TAGS[one.what]
    step = next((s for s in steps if s.on == one.on and s.end), None)
    return DayRow(
        one.on,
        run_words(one.minutes),
        shape,
        said,
        one.because,
        watcher_of(restart, one.on, steps),
        timer_of(restart, one.on, one.minutes),
        one.on == today,
        step,
    )
