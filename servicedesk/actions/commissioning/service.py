"""Put a system into service: one action, with a name and an instant."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext, ngettext

from customers.models import User
from equipment.kinds import RUNNING, SystemState
from equipment.models import StateChange
from servicedesk.actions.commissioning.gate import IN_SERVICE
from servicedesk.actions.commissioning.missing import missing_of
from servicedesk.actions.commissioning.said import Said, StepRefused, keep_said, lock, save
from servicedesk.actions.commissioning.sheet import sheet_of
from servicedesk.actions.states import StateRefused, record_state, state_at
from servicedesk.kinds import Step
from servicedesk.models import Commissioning


@transaction.atomic
def put_in_service(
    record: Commissioning, *, at: datetime, state: str, said: Said, by: User, now: datetime
) -> StateChange:
    """From `at` the system is in service, by the word of `by`. Raises StepRefused.

    Its clocks begin, its plates begin to settle, and a second set of readings falls due.
    """
    sheet = sheet_of(record.system_id, on=now.date())
    kept = lock(sheet)
    if missing := missing_of(sheet):
        raise StepRefused(wanting(len(missing)))
    if state not in IN_SERVICE:
        raise StepRefused("Choose how it runs from now on.", "state")
    before = state_at(sheet.system, at)
    if before is None or before.state not in RUNNING:
        raise StepRefused(
            "By its record it did not run then. Choose a moment after the first start.", "at"
        )
    on = sheet.day_of(at)
    save(kept, {"in_service_at": at, "in_service_by": by})
    if sheet.is_new:
        save(sheet.system, {"commissioned_on": on})
    if sheet.configuration is not None:
        save(sheet.configuration, {"settles_from_on": on})
    keep_said(kept, Step.PAPERS, said, by=by, now=now)
    try:
        return record_state(
            sheet.system,
            at=at,
            state=SystemState(state),
            by=by,
            reason="Put into service; the commissioning record is complete.",
            now=now,
        )
    except StateRefused as refusal:
        raise StepRefused(str(refusal), "at") from None


def wanting(count: int) -> str:
    """How many things are missing, as a sentence."""
    if not count:
        return gettext("Nothing is missing; it waits to be put into service.")
    return (
        ngettext(
            "%s thing is missing before it may go into service.",
            "%s things are missing before it may go into service.",
            count,
        )
        % count
    )
