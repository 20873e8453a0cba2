"""Record readings as they were typed, ask about what is odd, and correct without wiping out."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from customers.models import Pond, Trail, User
from equipment.kinds import Moment, PositionKind, Quantity
from equipment.models import (
    Configuration,
    ConfigurationLine,
    Fitting,
    Position,
    Reading,
    ReadingSet,
    System,
)
from equipment.physics import limits, units


@dataclass(frozen=True)
class Typed:
    """One reading as a person entered it; `confirmed` answers a question about an odd value."""

    quantity: str
    text: str = ""
    unit: str = ""
    position: Position | None = None
    skipped_because: str = ""
    confirmed: bool = False

    @property
    def key(self):
        return f"{self.quantity}:{self.position.pk}" if self.position else str(self.quantity)


@dataclass(frozen=True)
class Fault:
    """A sentence about one reading; a question is settled by confirming the value."""

    says: str
    question: bool = False
    meant_unit: str = ""


class ReadingsRefused(Exception):
    """`faults` maps the key of each reading that cannot be taken to its Fault."""

    def __init__(self, faults: dict[str, Fault]):
        super().__init__(" ".join(fault.says for fault in faults.values()))
        self.faults = faults


def faults_of(
    place: System | Pond, entries: Sequence[Typed], *, taken_at: datetime
) -> dict[str, Fault]:
    """What stands against taking these readings; empty when nothing does."""
    known = _Known(place, entries, taken_at)
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
    can be asked) it is kept and marked doubtful.
    Raises ReadingsRefused.
    """
    key = key or uuid.uuid4()
    if known := ReadingSet.objects.filter(uuid=key).first():
        return known
    faults = faults_of(place, entries, taken_at=taken_at)
    refused = {k: fault for k, fault in faults.items() if ask or not fault.question}
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
    Reading.objects.bulk_create(_row(new, entry, doubtful=entry.key in faults) for entry in entries)
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


def day_at(place: System | Pond, at: datetime) -> date:
    """The date on the wall at a system's or pond's site."""
    return at.astimezone(ZoneInfo(place.site.time_zone)).date()


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


class _Known:
    """What is known of a place when readings of it come in."""

    def __init__(self, place, entries, taken_at):
        self.place, self.taken_at = place, taken_at
        self.day = day_at(place, taken_at)
        self.last = self._last(entries)
        self.expected = self._expected(entries)

    def fault(self, entry):
        if not entry.text.strip():
            reasoned = entry.skipped_because.strip()
            return None if reasoned else Fault("Enter the value, or say why it was not read.")
        try:
            value = units.typed_number(entry.text)
            says = limits.refusal(entry.quantity, value, entry.unit)
        except ValueError as error:
            return Fault(str(error))
        says = says or self._meter_fault(entry, value)
        if says:
            return Fault(says)
        return None if entry.confirmed else self._question(entry, value)

    def _meter_fault(self, entry, value):
        last = self.last.get(entry.key)
        if entry.quantity != Quantity.RUN_HOURS or last is None:
            return None
        days = (self.taken_at - last.set.taken_at).total_seconds() / 86_400
        return limits.meter_refusal(value, last.value, days, self._turns_at_h(entry))

    def _turns_at_h(self, entry):
        """Where the meter read here begins again at zero, as its nameplate says; 0 for never."""
        sits = Fitting.objects.on_day(self.day).filter(position=entry.position)
        fitting = sits.select_related("component__type").first() if entry.position else None
        return float(fitting.component.type.nameplate.get("turns_at_h") or 0) if fitting else 0.0

    def _question(self, entry, value):
        if entry.quantity == Quantity.BUBBLES:
            return None  # a score is chosen by eye, not typed: there is no slip to ask about
        last = self.last.get(entry.key)
        if last is not None and entry.quantity != Quantity.RUN_HOURS:
            meant = limits.meant_unit(entry.quantity, value, entry.unit, last.value)
            if meant:
                return Fault(
                    f"Did you mean {units.printed(value, meant, entry.quantity)}? Last time it "
                    f"was {self._as_typed(last, meant)}. Choose the unit, or confirm the value.",
                    question=True,
                    meant_unit=meant,
                )
        doubts = limits.doubts(
            entry.quantity, units.to_stored(entry.quantity, value, entry.unit), self.expected
        )
        return Fault(" ".join(doubts), question=True) if doubts else None

    def _as_typed(self, last, unit):
        return units.printed(
            units.from_stored(last.quantity, last.value, unit), unit, last.quantity
        )

    def _last(self, entries):
        """The newest standing reading before this moment, by key of the entries."""
        side = {"set__system": self.place}
        if isinstance(self.place, Pond):
            side = {"set__pond": self.place}
        rows = (
            Reading.objects.standing()
            .filter(
                **side,
                quantity__in={entry.quantity for entry in entries},
                value__isnull=False,
                doubtful=False,
                set__taken_at__lt=self.taken_at,
            )
            .select_related("set")
            .order_by("set__taken_at", "pk")
        )
        newest = {
            f"{row.quantity}:{row.position_id}" if row.position_id else row.quantity: row
            for row in rows
        }
        return {key: row for key, row in newest.items() if not self._meter_exchanged(row)}

    def _meter_exchanged(self, row):
        """A new meter starts its own count: what the old one showed proves nothing."""
        if row.quantity != Quantity.RUN_HOURS or not row.position_id:
            return False
        return Fitting.objects.filter(
            position=row.position_id,
            from_on__gt=day_at(self.place, row.set.taken_at),
            from_on__lte=self.day,
        ).exists()

    def _expected(self, entries):
        if isinstance(self.place, Pond):
            return limits.Expected()
        fitted = (
            Fitting.objects.on_day(self.day)
            .filter(position__system=self.place, position__kind=PositionKind.COMPRESSOR)
            .select_related("component__type")
        )
        types = [fitting.component.type for fitting in fitted]
        one = types[0] if len(types) == 1 else None  # two plates give no single figure
        return limits.Expected(
            depth_m=self._depth_m(),
            nameplate_l_min=one.free_air_l_min if one else None,
            nameplate_a=one.current_a if one else None,
            outside_c=_outside_c(entries),
        )

    def _depth_m(self):
        configuration = configuration_at(self.place, self.taken_at)
        lines = ConfigurationLine.objects.filter(configuration=configuration, in_use=True)
        depths = [line.depth_m for line in lines if line.depth_m] if configuration else []
        return max(depths, default=None)


def _outside_c(entries):
    for entry in entries:
        if entry.quantity == Quantity.OUTSIDE_AIR and entry.text.strip():
            try:
                return units.to_stored(entry.quantity, units.typed_number(entry.text), entry.unit)
            except ValueError:
                return None
    return None
