"""Nothing runs in service before its handing over is complete, or was put in by name."""

from datetime import datetime

from equipment.kinds import NOT_IN_SERVICE, RUNNING, SystemState
from equipment.models import StateChange, System
from servicedesk.models import Commissioning

IN_SERVICE = RUNNING - {SystemState.COMMISSIONING}


def gate_says(
    system: System, state: SystemState, *, at: datetime, before: StateChange | None
) -> str:
    """Why a system may not go into a state of service; empty when it may.

    Only a record of handing over that is open bars the way: systems that a register brought in,
    or that ran before there were such records, have none. What a system did before its record
    began, as one that was moved, may still be entered.
    """
    if state not in IN_SERVICE:
        return ""
    record = Commissioning.objects.open().filter(system=system).first()
    if record is None:
        return ""
    ran_before = before is not None and before.state not in NOT_IN_SERVICE
    if at < record.begun_at and ran_before and before.state != SystemState.COMMISSIONING:
        return ""
    return (
        f"{system} is being handed over, and runs in service only once its commissioning record "
        "is complete and somebody has put it into service there. Open the record: it says what "
        "is missing."
    )


def gate_says_of_striking(change: StateChange) -> str:
    """The same, where striking out a state would let an older one of service hold again."""
    rest = StateChange.objects.standing().filter(system=change.system).exclude(pk=change.pk)
    newest = rest.order_by("-at", "-state").first()
    if newest is None or newest.state not in IN_SERVICE:
        return ""
    if not Commissioning.objects.open().filter(system=change.system).exists():
        return ""
    return (
        "This state holds the system back until it is handed over. Complete the commissioning "
        "record instead of striking it out."
    )
