"""What a person says by name at a handing over, and what cannot be taken."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Model

from customers.models import Trail, User
from servicedesk.actions.commissioning.sheet import Sheet
from servicedesk.actions.due import lock_sites
from servicedesk.kinds import Point, Step
from servicedesk.models import Acknowledged, Commissioning, DoubtConfirmed


class StepRefused(Exception):
    """Nothing was written; `field` names what the sentence is about, if it is one thing."""

    def __init__(self, says: str, field: str = ""):
        super().__init__(says)
        self.field = field


@dataclass(frozen=True)
class Said:
    """Beside the facts of a step: points answered for, points taken back, doubts confirmed."""

    points: Mapping[str, str] = field(default_factory=dict)  # point, and to whom or how
    taken_back: Sequence[str] = ()
    doubts: Sequence[str] = ()


def lock(sheet: Sheet) -> Commissioning:
    """The open record, held until the transaction ends. Raises StepRefused when it is closed."""
    lock_sites([sheet.site.pk])
    record = Commissioning.objects.select_for_update(no_key=True).get(pk=sheet.record.pk)
    if record.in_service_at is not None:
        raise StepRefused(
            "This system is in service: its commissioning record is closed. Correct the system's "
            "own records, or begin a configuration where plates were moved."
        )
    return record


def keep_said(record: Commissioning, step: Step, said: Said, *, by: User, now: datetime) -> None:
    """Write down who answers for what; a point that was answered for before stays as it was."""
    for point in said.taken_back:
        gone = Acknowledged.objects.filter(commissioning=record, point=point).first()
        if gone is not None:
            Trail.objects.create(
                at=now,
                by=by,
                did="took a point back",
                about=f"commissioning:{record.pk}",
                before={"point": point, "by": gone.by_id, "at": gone.at.isoformat()},
            )
            gone.delete()
    for point, note in said.points.items():
        Acknowledged.objects.get_or_create(
            commissioning=record,
            point=Point(point),
            defaults={"by": by, "at": now, "note": note.strip()[:200]},
        )
    DoubtConfirmed.objects.bulk_create(
        DoubtConfirmed(commissioning=record, step=step, says=says[:400], by=by, at=now)
        for says in said.doubts
    )


def save(thing: Model, values: Mapping[str, object]) -> None:
    """Write some fields of one record."""
    for name, value in values.items():
        setattr(thing, name, value)
    if values:
        thing.save(update_fields=list(values))
