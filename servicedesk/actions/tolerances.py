"""The firm's own figures for judging readings; all systems are judged again when they change."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from customers.models import Firm, Trail, User
from equipment.actions.assessment import tolerances_of
from equipment.condition.history import Tolerances
from servicedesk.actions.assessing import BEAT, JOB, NEVER
from servicedesk.models import JobBeat
from servicedesk.wakeups import wake


@transaction.atomic
def set_tolerances(values: Mapping[str, float], *, by: User, now: datetime) -> Tolerances:
    """Judge readings by these figures from now on, in the units that `Tolerances` names."""
    firm = Firm.objects.select_for_update().get()
    before = tolerances_of(firm)
    usual = asdict(Tolerances())
    firm.tolerances = {
        name: value for name, value in values.items() if abs(value - usual[name]) > 1e-9
    }
    firm.save(update_fields=["tolerances"])
    Trail.objects.create(
        at=now,
        by=by,
        did="changed the tolerances for readings",
        about="firm",
        before={name: getattr(before, name) for name in values},
        after=dict(values),
    )
    JobBeat.objects.filter(name=BEAT).update(beat_at=NEVER, reached=0)
    wake(JOB)
    return tolerances_of(firm)
