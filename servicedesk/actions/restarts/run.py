"""A restart that runs: its start, each day's step, a stop, going on, and its end."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction

from customers.kinds import Role
from customers.models import Contact, User
from equipment.kinds import RUNNING, Certainty, SystemState
from servicedesk.actions.alarms import raise_alarm
from servicedesk.actions.due import lock_sites
from servicedesk.actions.restarts.approve import refuse_now, state_of_start, told_by_mail
from servicedesk.actions.restarts.course import course_of, today_of, watcher_of
from servicedesk.actions.restarts.propose import RestartRefused, note, readings_of
from servicedesk.actions.states import StateRefused, record_state, state_at
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import OfficeTask, RampHold, RampStep, Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day
from servicedesk.planning.restart.proposal import run_words
from servicedesk.planning.restart.ramps import HOLD_AT_LEAST_D, DayIs, StepEnd
from servicedesk.planning.restart.readings import RAMP_KEEPS_D
from servicedesk.planning.restart.states import RestartState
from servicedesk.planning.restart.stops import STOP, stop_signs

DAY = timedelta(days=1)
LONGER = 1.25  # of the planned minutes: the office hears of it; judgement


@dataclass(frozen=True)
class StepSeen:
    """What somebody says of a day's run."""

    end: StepEnd
    minutes: int = 0
    before_mg_l: float | None = None
    after_mg_l: float | None = None
    seen: tuple[str, ...] = ()
    note: str = ""


@transaction.atomic
def start_restart(restart: Restart, *, by: User, now: datetime, told_how: str = "") -> Restart:
    """Switch on, as approved: owners were told before, or somebody says how he told them."""
    lock_sites([restart.system.site_id])
    restart.refresh_from_db()
    if restart.state != RestartState.APPROVED:
        raise RestartRefused("Only a restart that a manager approved can be started.")
    today = today_of(restart, now)
    if today < restart.first_on:
        raise RestartRefused(f"It is approved for {day(restart.first_on)}, not before.")
    if (today - site_date(restart.read_at, restart.system.site.time_zone)).days > RAMP_KEEPS_D:
        raise RestartRefused("The readings are too old by now. Read anew.")
    refuse_now(restart, [today], now)
    told_at = told_by_mail(restart) or (now if told_how.strip() else None)
    if told_at is None:
        raise RestartRefused(
            "The mail to the owner has not gone out yet. Wait for it, or phone and write down whom "
            "you told."
        )
    restart.told_at, restart.told_how = told_at, told_how.strip()[:200]
    restart.first_on, restart.started_at, restart.started_by = today, now, by
    ramp = len(restart.minutes) > 1
    restart.state = RestartState.UNDER_WAY if ramp else RestartState.DONE
    if not ramp:
        restart.ended_at, restart.ended_because = now, "It runs without a break."
    restart.save()
    _state(restart, state_of_start(restart), by=by, now=now)
    note(restart, "start restart", by, now, told=restart.told_how or "by mail")
    if not ramp:
        _look_on_day_two(restart, now)
    return restart


@transaction.atomic
def record_step(restart: Restart, on: date, said: StepSeen, *, by: User, now: datetime) -> RampStep:
    """What became of a day; a sign to stop at stops the ramp. A day told again is replaced."""
    lock_sites([restart.system.site_id])
    restart.refresh_from_db()
    planned = _planned(restart, on, said, now)
    signs = []
    if said.end != StepEnd.MISSED:
        limits = readings_of(restart).stop_limits
        signs = stop_signs(limits, said.before_mg_l, said.after_mg_l, said.seen)
    stopped = bool(signs) or said.end == StepEnd.STOPPED
    step, _new = RampStep.objects.update_or_create(
        restart=restart,
        on=on,
        defaults={
            "end": StepEnd.STOPPED if stopped else said.end,
            "planned_minutes": planned.minutes,
            "minutes": 0 if said.end == StepEnd.MISSED else said.minutes,
            "before_mg_l": said.before_mg_l,
            "after_mg_l": said.after_mg_l,
            "seen": list(said.seen),
            "note": said.note[:250],
            "recorded_at": now,
            "recorded_by": by,
        },
    )
    note(restart, "record ramp step", by, now, on=on.isoformat(), end=step.end)
    if stopped:
        stop_ramp(restart, signs or [said.note or "Stopped."], by=by, now=now, stands_still=True)
    elif said.minutes > LONGER * planned.minutes:
        _ran_long(restart, step, now)
    if course_of(restart, today=today_of(restart, now)).complete:
        _complete(restart, by, now)
    return step


@transaction.atomic
def stop_ramp(
    restart: Restart,
    because: list[str],
    *,
    now: datetime,
    by: User | None = None,
    contact: Contact | None = None,
    stands_still: bool = False,
) -> RampHold:
    """Hold a ramp and wake the managers, whatever the hour. Stopped twice it is stopped once.

    `stands_still`: somebody switched it off; else its timer may still run it, and the alarm says
    so.
    """
    text = " ".join(because)
    fields = {"from_at": now, "because": text, "by": by, "contact": contact}
    try:
        with transaction.atomic():
            hold, new = RampHold.objects.get_or_create(
                restart=restart, resumed_at=None, defaults=fields
            )
    except IntegrityError:  # the other stop was a moment faster
        hold, new = RampHold.objects.get(restart=restart, resumed_at=None), False
    if stands_still and state_at(restart.system, now).state in RUNNING:
        _state(restart, SystemState.SHUT_OTHER, by=by, now=now, why=f"Ramp stopped. {text}")
    if new:
        who = f" Reported by {contact or by}." if contact or by else ""
        off = "" if stands_still else " Its timer may start it again: have somebody switch it off."
        raise_alarm(
            key=f"ramp-stopped:{hold.pk}",
            kind=OfficeTaskKind.RESTART,
            site=restart.system.site,
            subject=f"Ramp stopped: {restart.system} at {restart.system.site}",
            text=f"{restart.system}: {text}{who}{off} {STOP}",
            now=now,
        )
        note(restart, "stop ramp", by, now, because=text)
    return hold


@transaction.atomic
def resume_ramp(restart: Restart, *, by: User, now: datetime) -> RampHold:
    """Go on one step back, a day after the stop at the earliest, by a manager's name."""
    lock_sites([restart.system.site_id])
    restart.refresh_from_db()
    hold = restart.holds.filter(resumed_at=None).first()
    if restart.state != RestartState.UNDER_WAY or hold is None:
        raise RestartRefused("This ramp is not on hold. Load the page again.")
    if by.role != Role.MANAGER:
        raise RestartRefused("Only a manager may let a stopped ramp go on.")
    if now < hold.from_at + HOLD_AT_LEAST_D * DAY:
        raise RestartRefused("A stopped ramp rests for 24 hours at least. Look again after that.")
    if course_of(restart, today=today_of(restart, now)).lapsed:
        raise RestartRefused("It rested for too long. Close it, and read the water anew.")
    refuse_now(restart, [today_of(restart, now)], now)
    RampHold.objects.filter(pk=hold.pk, resumed_at=None).update(resumed_at=now, resumed_by=by)
    if state_at(restart.system, now).state not in RUNNING:
        restart.approved_by = by
        _state(restart, SystemState.RAMPING, by=by, now=now)
    note(restart, "resume ramp", by, now)
    return hold


@transaction.atomic
def close_restart(restart: Restart, *, by: User | None, reason: str, now: datetime) -> bool:
    """Give a restart up, by name and reason; a ramp that began leaves the system standing still."""
    lock_sites([restart.system.site_id])
    if not reason.strip():
        raise RestartRefused("Give the reason: it stays beside the readings.")
    before = Restart.objects.get(pk=restart.pk).state
    closed = Restart.objects.open().filter(pk=restart.pk)
    if not closed.update(state=RestartState.CLOSED, ended_at=now, ended_because=reason[:250]):
        return False
    if before == RestartState.UNDER_WAY and state_at(restart.system, now).state in RUNNING:
        _state(
            restart,
            SystemState.SHUT_OTHER,
            by=by,
            now=now,
            why=f"Ramp closed. {reason}",
            certainty=Certainty.ASSUMED,
        )
    note(restart, "close restart", by, now, because=reason)
    return True


def name_watcher(restart: Restart, on: date, name: str, *, by: User, now: datetime) -> None:
    """Who watches on one day."""
    if not name.strip():
        raise RestartRefused("Name somebody.")
    RampStep.objects.update_or_create(restart=restart, on=on, defaults={"watcher": name.strip()})
    note(restart, "name watcher", by, now, on=on.isoformat(), watcher=name.strip())


def _planned(restart, on, said, now):
    today = today_of(restart, now)
    if restart.state != RestartState.UNDER_WAY:
        raise RestartRefused("No ramp is under way here. Load the page again.")
    if not restart.first_on <= on <= today:
        raise RestartRefused("Give a day of this ramp up to today.")
    earlier = [s for s in restart.steps.all() if s.on < on]
    walk = course_of(restart, today=on, steps=earlier)
    found = next((one for one in walk.days if one.on == on), None)
    if found is None:
        raise RestartRefused(
            "No step belongs to that day: it was missed for too long. Close the ramp, and read "
            "the water anew."
        )
    if found.what == DayIs.HELD and said.end != StepEnd.MISSED and not _stopped_on(restart, on):
        raise RestartRefused("The ramp is on hold on that day. A manager lets it go on.")
    if said.end == StepEnd.DONE and said.minutes <= 0:
        raise RestartRefused("Say how many minutes it ran.")
    return found


def _stopped_on(restart, on):
    zone = restart.system.site.time_zone
    return any(site_date(hold.from_at, zone) == on for hold in restart.holds.all())


def _complete(restart, by, now):
    Restart.objects.filter(pk=restart.pk).update(
        state=RestartState.DONE, ended_at=now, ended_because="The last step ran."
    )
    _state(restart, SystemState.RUNNING, by=by, now=now)


def _state(restart, state, *, by, now, why="", certainty=Certainty.OBSERVED):
    try:
        record_state(
            restart.system,
            at=now,
            state=state,
            now=now,
            by=by,
            certainty=certainty,
            reason=why or f"Restart {restart.pk}, approved by {restart.approved_by}.",
            approved_by=restart.approved_by,
            caution_read=True,
            restart=restart,
        )
    except StateRefused as refused:
        raise RestartRefused(str(refused)) from None


def _ran_long(restart, step, now):
    OfficeTask.objects.get_or_create(
        key=f"ramp-long:{step.pk}",
        defaults={
            "kind": OfficeTaskKind.RESTART,
            "text": f"{restart.system} ran {run_words(step.minutes)} on {day(step.on)}; "
            f"{run_words(step.planned_minutes)} were planned. Ask why, and look at the fish.",
            "site": restart.system.site,
            "urgent": True,
            "opened_at": now,
        },
    )


def _look_on_day_two(restart, now):
    on = restart.first_on + DAY
    OfficeTask.objects.get_or_create(
        key=f"restart-look:{restart.pk}",
        defaults={
            "kind": OfficeTaskKind.RESTART,
            "text": f"Day 2 of {restart.system}: {watcher_of(restart, on, ())} looks at fish, "
            "smell and every boil, from the bank.",
            "site": restart.system.site,
            "due_on": on,
            "opened_at": now,
        },
    )
