"""Record what a system is doing from a moment on, also when that is learnt late."""

from datetime import datetime, timedelta

from django.db import transaction

from customers.kinds import Role
from customers.models import Trail, User
from equipment.kinds import NOT_IN_SERVICE, RUNNING, Certainty, SystemState
from equipment.models import StateChange, System
from servicedesk.actions.commissioning.gate import gate_says, gate_says_of_striking
from servicedesk.actions.due import lock_sites, refresh_sites
from servicedesk.actions.facts import CLOCK_SLACK
from servicedesk.actions.happenings import STOPPED
from servicedesk.actions.restarts.gate import note_override, restart_says
from servicedesk.actions.tickets import follow_up_stop, open_tickets_at
from servicedesk.actions.winter.blocking import tell_of_barred_run, winter_says
from servicedesk.models import Restart
from servicedesk.planning.due.sentences import day
from servicedesk.wakeups import wake

NEWS = timedelta(days=60)  # an older stop is history, not a call to act


class StateRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def record_state(
    system: System,
    *,
    at: datetime,
    state: str,
    now: datetime,
    by: User | None = None,
    certainty: str = Certainty.OBSERVED,
    reason: str = "",
    approved_by: User | None = None,
    caution_read: bool = False,
    started_by_us: bool = True,
    corrects: StateChange | None = None,
    derive: bool = True,
    restart: Restart | None = None,
    already_done: bool = False,
) -> StateChange:
    """From `at` the system is in `state`; due days follow, however late it was entered.

    Starting a system that stood still needs a manager who approved it and the restart caution
    read; without a `restart` whose readings led to it, name and reason stand as an override.
    `started_by_us` is off for a start that somebody else made; then the reason says who.
    A system whose handing over is open is refused until it is put into service there, and one
    that is to run under ice until nothing bars its winter. What is `already_done` at the pond is
    kept all the same, and the office is told.
    The same state at the same instant is recorded once; the same state later is a fact of its
    own, for another may yet be learnt that lies between.
    """
    lock_sites([system.site_id])
    state = SystemState(state)
    before = state_at(system, at, leaving_out=corrects)
    _refuse_faults(system, at, now, reason, corrects, planned=state == SystemState.PLANNED)
    if barred := gate_says(system, state, at=at, before=before):
        raise StateRefused(barred)
    if before and (before.at, before.state) == (at, state) and corrects is None:
        return before
    if corrects is None and started_by_us:
        _refuse_winter(system, state, at, already_done, now)
    starts = state in RUNNING and before and before.state not in RUNNING | NOT_IN_SERVICE
    past_restart = starts and started_by_us and restart is None
    if starts:
        _refuse_start(approved_by, caution_read, started_by_us, reason)
    if past_restart and not already_done:
        _refuse_past_restart(system, reason)
    change = StateChange.objects.create(
        system=system,
        at=at,
        state=state,
        certainty=certainty,
        by=by,
        approved_by=approved_by,
        reason=reason[:250],
        corrects=corrects,
        entered_at=now,
    )
    _note(change, before, caution_read)
    if past_restart and corrects is None:
        note_override(change, approved_by=approved_by, reason=reason, stopped_at=before.at)
    if derive:
        derive_from_state(change, now=now)
    return change


def date_anew(
    change: StateChange, *, at: datetime, by: User, reason: str, now: datetime
) -> StateChange:
    """The same state from another instant on; tickets and decisions about it go with it.

    Whoever approved a start stays named. Raises StateRefused.
    """
    return record_state(
        change.system,
        at=at,
        state=change.state,
        now=now,
        by=by,
        certainty=change.certainty,
        reason=reason,
        approved_by=change.approved_by,
        caution_read=change.approved_by is not None,
        started_by_us=change.approved_by is not None,
        corrects=change,
    )


@transaction.atomic
def strike_state(change: StateChange, *, by: User, reason: str, now: datetime) -> StateChange:
    """Strike out a state that was entered by mistake; both rows stay on record."""
    lock_sites([change.system.site_id])
    _refuse_faults(change.system, change.at, now, reason, change)
    if barred := gate_says_of_striking(change):
        raise StateRefused(barred)
    if not reason.strip():
        raise StateRefused("Give the reason: it stays beside the row that is struck out.")
    struck = StateChange.objects.create(
        system=change.system,
        at=change.at,
        state=change.state,
        by=by,
        reason=reason[:250],
        corrects=change,
        withdrawn=True,
        entered_at=now,
    )
    _note(struck, change, False)
    derive_from_state(struck, now=now)
    return struck


def derive_from_state(change: StateChange, *, now: datetime) -> None:
    """After a change of state: due days, tickets, and the follow-up of a stop."""
    system = change.system
    refresh_sites([system.site_id], now=now)
    open_tickets_at([system.site_id], now=now)
    current = state_at(system, now + CLOCK_SLACK)
    is_news = current is not None and current.state in STOPPED and now - current.at < NEWS
    follow_up_stop(system, current if is_news else None, now=now)
    wake("servicedesk.tasks.open_tickets")


def state_at(
    system: System, at: datetime, *, leaving_out: StateChange | None = None
) -> StateChange | None:
    """What the history says of an instant."""
    rows = StateChange.objects.standing().filter(system=system, at__lte=at)
    if leaving_out:
        rows = rows.exclude(pk=leaving_out.pk)
    return rows.order_by("-at", "-state").first()


def _refuse_faults(system, at, now, reason, corrects, planned=False):
    if at > now + CLOCK_SLACK:
        raise StateRefused("This is dated in the future. Enter when it was seen.")
    if at.date() < system.installed_on - timedelta(days=1) and not planned:
        raise StateRefused(
            f"{system} was installed on {day(system.installed_on)}; what it does cannot be dated "
            "before that. Correct the date."
        )
    if corrects is None:
        return
    if corrects.system_id != system.pk:
        raise StateRefused("The row to correct belongs to another system.")
    if StateChange.objects.filter(corrects=corrects).exists():
        raise StateRefused("That row was corrected before. Correct the newer one.")


def _refuse_winter(system, state, at, already_done, now):
    if not (barred := winter_says(system, state, at=at, now=now)):
        return
    if not already_done:
        raise StateRefused(barred)
    tell_of_barred_run(system, barred, at=at, now=now)


def _refuse_past_restart(system, reason):
    if barred := restart_says(system):
        raise StateRefused(barred)
    if not reason.strip():
        raise StateRefused(
            "Give the reason for a start without readings of the water, or begin a restart "
            "with them."
        )


def _refuse_start(approved_by, caution_read, started_by_us, reason):
    if not started_by_us:
        if not reason.strip():
            raise StateRefused("Say who started it, and how you know.")
        return
    if approved_by is None or approved_by.role != Role.MANAGER or not approved_by.is_active:
        raise StateRefused(
            "It stood still. Leave it off, or name the manager who approved the start."
        )
    if not caution_read:
        raise StateRefused("Read the caution on starting after a stop, and confirm that you did.")


def _note(change, before, caution_read):
    Trail.objects.create(
        at=change.entered_at,
        by=change.by,
        did="strike state" if change.withdrawn else "record state",
        about=f"system:{change.system_id}",
        before={"state": before.state, "at": before.at.isoformat()} if before else {},
        after={
            "state": change.state,
            "at": change.at.isoformat(),
            "approved_by": change.approved_by_id,
            "caution_read": caution_read,
        },
    )
