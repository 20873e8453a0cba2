"""A system that stood still is started through its restart, or by a name that stands beside it."""

from datetime import datetime

from customers.models import User
from equipment.models import StateChange, System
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import OfficeTask, Restart
from servicedesk.planning.restart.states import RestartState

ASKS = {
    RestartState.PROPOSED: "It waits for a manager to approve it.",
    RestartState.APPROVED: "It is approved and not started yet.",
    RestartState.UNDER_WAY: "Its ramp goes on there, or is on hold.",
}


def restart_says(system: System) -> str:
    """Why a start may not be written down past an open restart; empty where there is none."""
    found = Restart.objects.open().filter(system=system).first()
    if found is None:
        return ""
    return (
        f"A restart of {system} is open. {ASKS[RestartState(found.state)]} Go on there, or close "
        "it there by name and reason first."
    )


def note_override(
    change: StateChange, *, approved_by: User, reason: str, stopped_at: datetime | None
) -> Restart:
    """A start without readings, on record with the name that answers for it.

    Where a restart is open all the same, the office is told: what is done is done.
    """
    if says := restart_says(change.system):
        OfficeTask.objects.get_or_create(
            key=f"past-restart:{change.pk}",
            defaults={
                "kind": OfficeTaskKind.RESTART,
                "text": f"{change.system} was started past its restart, approved by {approved_by}. "
                f"{says}",
                "site_id": change.system.site_id,
                "urgent": True,
                "opened_at": change.entered_at,
            },
        )
    return Restart.objects.create(
        system=change.system,
        state=RestartState.OVERRIDDEN,
        inputs={"off_since": stopped_at.isoformat() if stopped_at else None},
        read_at=change.at,
        made_at=change.entered_at,
        approved_by=approved_by,
        approved_at=change.at,
        override_reason=(reason or "Nobody wrote down why.")[:250],
        started_at=change.at,
        started_by=change.by,
        ended_at=change.at,
        ended_because="Started without readings before it.",
    )
