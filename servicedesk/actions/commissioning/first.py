"""The first start of a system that is handed over, and the readings of its first day."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from customers.models import Pond, User
from equipment.actions.readings import Typed, record_readings
from equipment.kinds import RUNNING, Moment, SystemState
from equipment.models import ReadingSet, StateChange
from servicedesk.actions.commissioning.missing import missing_before_start
from servicedesk.actions.commissioning.said import Said, StepRefused, keep_said, lock, save
from servicedesk.actions.commissioning.sheet import Sheet
from servicedesk.actions.states import StateRefused, record_state, state_at
from servicedesk.kinds import Point, Step


@transaction.atomic
def keep_start(
    sheet: Sheet, *, started_at: datetime | None, said: Said, by: User, now: datetime
) -> StateChange | None:
    """From an instant on air runs by steps. Raises StepRefused while the electrics are open."""
    record = lock(sheet)
    keep_said(record, Step.START, said, by=by, now=now)
    if started_at is None:
        return None
    if wanted := missing_before_start(sheet):
        raise StepRefused(
            f"Before air is started, these are missing: {'; '.join(wanted)}. Enter them first."
        )
    if not record.acknowledged.filter(point=Point.RESTART_CAUTION).exists():
        raise StepRefused("Read the caution on starting, and confirm that you did.")
    known = first_start(sheet)
    if known is not None and known.at == started_at:
        return known
    known = known or _waiting_since(sheet, started_at)
    try:
        return record_state(
            sheet.system,
            at=started_at,
            state=SystemState.COMMISSIONING,
            by=by,
            reason="First start, running in by steps.",
            corrects=known,
            now=now,
        )
    except StateRefused as refusal:
        raise StepRefused(str(refusal), "started_at") from None


@transaction.atomic
def keep_first_readings(
    sheet: Sheet,
    *,
    taken_at: datetime,
    entries: Sequence[Typed],
    of_ponds: Mapping[Pond, Sequence[Typed]],
    said: Said,
    by: User,
    now: datetime,
) -> ReadingSet:
    """The provisional set, and the water against its mark at the same moment.

    Taken anew, the newest set is the one that is shown; the others stay on record. Raises
    StepRefused, and ReadingsRefused with what is odd.
    """
    record = lock(sheet)
    state = state_at(sheet.system, taken_at)
    if state is None or state.state not in RUNNING:
        raise StepRefused(
            "By its record no air ran then. Enter the first start before the readings.", "taken_at"
        )
    key = uuid.uuid4()
    known = {"taken_at": taken_at, "entered_at": now, "taken_by": by}
    taken = record_readings(
        sheet.system,
        moment=Moment.AS_LEFT,
        entries=entries,
        key=key,
        note="Provisional: day of the first start.",
        **known,
    )
    for pond, levels in of_ponds.items():
        if levels:
            own = uuid.uuid5(key, f"pond:{pond.pk}")
            record_readings(pond, moment=Moment.AS_LEFT, entries=levels, key=own, **known)
    save(record, {"first_set": taken})
    keep_said(record, Step.READINGS, said, by=by, now=now)
    return taken


def first_start(sheet: Sheet) -> StateChange | None:
    """The start that this handing over has on record."""
    rows = StateChange.objects.standing().filter(
        system=sheet.system,
        state=SystemState.COMMISSIONING,
        entered_at__gte=sheet.record.begun_at,
    )
    return rows.order_by("at").first()


def _waiting_since(sheet, at):
    """A plan that was entered after the start was, by mistake or late: the start replaces it."""
    rows = StateChange.objects.standing().filter(
        system=sheet.system, at__gte=at, state__in=[SystemState.PLANNED, SystemState.INSTALLED]
    )
    return rows.order_by("at").first()
