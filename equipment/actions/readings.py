"""Record readings as they were typed, ask about what is odd, and correct without wiping out."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from customers.models import Pond, Trail, User
from equipment.actions.gauges import gauges_on
from equipment.actions.known import Fault, Known, Typed, day_at
from equipment.kinds import Moment
from equipment.models import Configuration, Reading, ReadingSet, System
from equipment.physics import units


class ReadingsRefused(Exception):
    """`faults` maps the key of each reading that cannot be taken to its Fault."""

    def __init__(self, faults: dict[str, Fault]):
        super().__init__(" ".join(fault.says for fault in faults.values()))
        self.faults = faults


def faults_of(
    place: System | Pond, entries: Sequence[Typed], *, taken_at: datetime
) -> dict[str, Fault]:
    """What stands against taking these readings; empty when nothing does."""
    known = Known(place, entries, taken_at)
    return {entry.key: fault for entry in entries if (fault := known.fault(entry))}


@transaction.atomic
def record_readings(
    place: System | Pond,
    *,
    moment: Moment,
    taken_at: datetime,
    entered_at: datetime,
    entries: Sequence[Typed],
    taken_by: User | None,
    key: uuid.UUID | None = None,
    note: str = "",
    ask: bool = True,
) -> ReadingSet:
    """Keep a set of readings of one moment, all or none.

    `key` is made where the readings were taken: the same set sent twice is kept once.
    With `ask` an odd value is refused until it is confirmed; without (an import, where nobody
    can be asked), or where the entry is unsure, it is kept and marked doubtful.
    Raises ReadingsRefused.
    """
    key = key or uuid.uuid4()
    if known := ReadingSet.objects.filter(uuid=key).first():
        return known
    faults = faults_of(place, entries, taken_at=taken_at)
    unsure = set() if ask else set(faults)
    unsure |= {entry.key for entry in entries if entry.unsure}
    refused = {k: f for k, f in faults.items() if not (f.question and k in unsure)}
    if refused:
        raise ReadingsRefused(refused)
    system = place if isinstance(place, System) else None
    new = ReadingSet.objects.create(
        uuid=key,
        system=system,
        pond=None if system else place,
        moment=moment,
        taken_at=taken_at,
        entered_at=entered_at,
        taken_by=taken_by,
        configuration=configuration_at(system, taken_at) if system else None,
        note=note,
    )
    gauges = gauges_on(system, day_at(system, taken_at)) if system else {}
    rows = [_row(new, entry, doubtful=entry.key in faults) for entry in entries]
    for row in rows:
        row.gauge = gauges.get(row.quantity)
    Reading.objects.bulk_create(rows)
    return new


@transaction.atomic
def correct_reading(
    wrong: Reading, *, text: str, unit: str, by: User, entered_at: datetime, confirmed: bool = False
) -> Reading:
    """Put a new row over a wrong one; the wrong one stays and is named by it.

    Raises ReadingsRefused, also where another row has corrected this one already.
    """
    entry = Typed(wrong.quantity, text, unit, wrong.position, confirmed=confirmed)
    if Reading.objects.filter(corrects=wrong).exists():
        raise ReadingsRefused(
            {entry.key: Fault("This reading was corrected already. Correct the newer one.")}
        )
    place = wrong.set.system or wrong.set.pond
    if faults := faults_of(place, [entry], taken_at=wrong.set.taken_at):
        raise ReadingsRefused(faults)
    new = _row(wrong.set, entry, doubtful=False)
    new.corrects, new.gauge = wrong, wrong.gauge
    new.save()
    Trail.objects.create(
        at=entered_at,
        by=by,
        did="corrected a reading",
        about=f"reading:{wrong.pk}",
        before={"typed": f"{wrong.typed_value} {wrong.typed_unit}".strip()},
        after={"typed": f"{text} {unit}".strip(), "reading": new.pk},
    )
    return new


def configuration_at(system: System, at: datetime) -> Configuration | None:
    """The configuration that held at an instant."""
    return (
        Configuration.objects.filter(system=system, from_on__lte=day_at(system, at))
        .order_by("-from_on")
        .first()
    )


def _row(of: ReadingSet, entry: Typed, *, doubtful: bool) -> Reading:
    row = Reading(set=of, quantity=entry.quantity, position=entry.position)
    if not entry.text.strip():
        row.skipped_because = entry.skipped_because.strip()
        return row
    row.typed_value, row.typed_unit, row.doubtful = entry.text.strip(), entry.unit, doubtful
    row.value = units.to_stored(entry.quantity, units.typed_number(entry.text), entry.unit)
    return row
