"""What is known of a place when readings of it come in, and what stands against each."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

from customers.models import Pond
from equipment.actions.rigs import setups_of
from equipment.kinds import RUNNING, PositionKind, Quantity
from equipment.models import Baseline, Position, Reading, Schedule, StateChange, System
from equipment.physics import limits, slips, units
from equipment.physics.atmosphere import air_pressure_pa

OF_THE_WEATHER = frozenset({Quantity.OUTSIDE_AIR, Quantity.WATER_TEMPERATURE})
WEATHER_HOLDS = timedelta(days=45)  # judgement: an older warmth says nothing of today's
OF_A_DEPTH = frozenset({Quantity.PRESSURE, Quantity.LINE_PRESSURE})
BESIDE = {Quantity.OUTSIDE_AIR: "outside_c", Quantity.WATER_TEMPERATURE: "water_c"}


@dataclass(frozen=True)
class Typed:
    """One reading as a person entered it; `confirmed` answers a question about an odd value.

    `unsure`: nobody could answer any more; an odd value is kept, marked doubtful.
    """

    quantity: str
    text: str = ""
    unit: str = ""
    position: Position | None = None
    skipped_because: str = ""
    confirmed: bool = False
    unsure: bool = False

    @property
    def key(self):
        return f"{self.quantity}:{self.position.pk}" if self.position else str(self.quantity)


@dataclass(frozen=True)
class Fault:
    """A sentence about one reading; a question is settled by confirming the value."""

    says: str
    question: bool = False
    meant_unit: str = ""


def day_at(place: System | Pond, at: datetime) -> date:
    """The date on the wall at a system's or pond's site."""
    return at.astimezone(ZoneInfo(place.site.time_zone)).date()


class Known:
    """What is known of one place at one instant, to judge the readings typed there."""

    def __init__(self, place: System | Pond, entries: Sequence[Typed], taken_at: datetime):
        self.place, self.entries, self.taken_at = place, entries, taken_at
        self.day = day_at(place, taken_at)
        self.system = place if isinstance(place, System) else None

    def fault(self, entry: Typed) -> Fault | None:
        """What stands against one reading; None when nothing does."""
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
        last = self._last.get(entry.key)
        if entry.quantity != Quantity.RUN_HOURS or last is None:
            return None
        days = (self.taken_at - last.set.taken_at).total_seconds() / 86_400
        return limits.meter_refusal(value, last.value, days, self._turns_at_h(entry))

    def _question(self, entry, value):
        if entry.quantity == Quantity.BUBBLES:
            return None  # a score is chosen by eye, not typed: there is no slip to ask about
        if entry.quantity == Quantity.RUN_HOURS and re.fullmatch(
            r"\d{1,3}\.\d{3}", entry.text.strip()
        ):
            whole = entry.text.strip().replace(".", "")
            return Fault(
                f"{entry.text.strip()} can be read in two ways. If it is {whole} h, write it "
                "without the point; if it is not, confirm the value.",
                question=True,
            )
        expected = self._expected_of(entry)
        if fault := self._slip(entry, value, expected):
            return fault
        stored = units.to_stored(entry.quantity, value, entry.unit)
        said = limits.doubts(entry.quantity, stored, expected)
        return Fault(" ".join(said), question=True) if said else None

    def _slip(self, entry, value, expected):
        usual, why = self._usual(entry, expected)
        if usual is None:
            return self._first_slip(entry, value, expected)
        meant = slips.slip(entry.quantity, value, entry.unit, usual)
        if meant is None:
            return None
        shown = units.printed(meant.value, meant.unit, entry.quantity)
        if meant.unit != entry.unit:
            as_typed = self._in(entry, units.to_stored(entry.quantity, value, meant.unit))
            return Fault(
                f"Did you mean {shown} ({as_typed})? {why} {self._in(entry, usual)}. "
                "Choose the unit, or confirm the value.",
                question=True,
                meant_unit=meant.unit,
            )
        stored = units.to_stored(entry.quantity, value, entry.unit)
        doubts = limits.doubts(entry.quantity, stored, expected)
        much = "ten times as much" if value > meant.value else "a tenth of it"
        ask = (
            f"Did you mean {shown}? {why} {self._in(entry, usual)}, and {self._in(entry, stored)} "
            f"is {much}. Correct the number, or confirm it."
        )
        return Fault(" ".join([ask, *doubts]), question=True)

    def _first_slip(self, entry, value, expected):
        """The unit by the depth alone, where nothing was ever read."""
        if entry.quantity not in OF_A_DEPTH or expected.depth_m is None:
            return None
        low, high = limits.depth_band_pa(expected.depth_m)
        meant = slips.unit_within(entry.quantity, value, entry.unit, low, high)
        if meant is None:
            return None
        as_typed = self._in(entry, units.to_stored(entry.quantity, value, meant))
        return Fault(
            f"Did you mean {units.printed(value, meant, entry.quantity)} ({as_typed})? A diffuser "
            f"at this depth asks for {self._in(entry, low)} to {self._in(entry, high)}. "
            "Choose the unit, or confirm the value.",
            question=True,
            meant_unit=meant,
        )

    def _usual(self, entry, expected):
        """What the number is compared with, and the words for it."""
        if expected.baseline is not None:
            return expected.baseline, "The baseline is"
        if entry.quantity == Quantity.CABINET_AIR and expected.outside_c is not None:
            return expected.outside_c, "The air outside is"
        last = self._last.get(entry.key)
        stale = last and self.taken_at - last.set.taken_at > WEATHER_HOLDS
        if last is None or (stale and entry.quantity in OF_THE_WEATHER):
            return None, ""
        return last.value, "Last time it was"

    def _in(self, entry, stored):
        value = units.from_stored(entry.quantity, stored, entry.unit)
        return units.printed(value, entry.unit, entry.quantity)

    def _expected_of(self, entry):
        last = self._last.get(entry.key)
        own = self._depths.get(entry.position.pk) if entry.position else None
        return replace(
            self._expected,
            depth_m=own or self._expected.depth_m,
            baseline=self._baselines.get(entry.key),
            last=last.value if last else None,
            scheduled_h=self._scheduled_h(last) if entry.quantity == Quantity.RUN_HOURS else None,
            turns_at_h=self._turns_at_h(entry) if entry.quantity == Quantity.RUN_HOURS else 0.0,
        )

    @cached_property
    def _expected(self):
        beside = {name: self._beside(quantity) for quantity, name in BESIDE.items()}
        air_pa = air_pressure_pa(self.place.site.elevation_m or 0.0)
        if self.system is None:
            return limits.Expected(air_pa=air_pa, **beside)
        types = [row.component.type for row in self._fitted(PositionKind.COMPRESSOR)]
        one = types[0] if len(types) == 1 else None  # two plates give no single figure
        reliefs = [row.component.type for row in self._fitted(PositionKind.RELIEF_VALVE)]
        opens = [float(pa) for type_ in reliefs if (pa := type_.nameplate.get("set_pa"))]
        return limits.Expected(
            depth_m=max(self._depths.values(), default=None),
            nameplate_l_min=one.free_air_l_min if one else None,
            nameplate_a=one.current_a if one else None,
            nominal_v=self._setup.nominal_v(self.day),
            relief_pa=min(opens, default=None),
            air_pa=air_pa,
            **beside,
        )

    def _beside(self, quantity):
        """What was typed of another quantity in the same set, in its stored unit."""
        for entry in self.entries:
            if entry.quantity == quantity and entry.text.strip():
                try:
                    return units.to_stored(quantity, units.typed_number(entry.text), entry.unit)
                except ValueError:
                    return None
        return None

    @cached_property
    def _setup(self):
        return setups_of([self.system.pk])[self.system.pk]

    def _fitted(self, kind):
        return self._setup.fitted(kind, self.day) if self.system else []

    @cached_property
    def _depths(self):
        """Depth of each line in use today, by its position."""
        if self.system is None:
            return {}
        begun = [one for one in self._setup.configurations if one.from_on <= self.day]
        lines = self._setup.lines[begun[-1].pk] if begun else []
        return {line.position_id: line.depth_m for line in lines if line.in_use and line.depth_m}

    @cached_property
    def _baselines(self):
        """What a person confirmed for today's configuration, by key of the entries."""
        if self.system is None:
            return {}
        rows = Baseline.objects.filter(
            configuration__system=self.system,
            confirmed_at__isnull=False,
            from_set__taken_at__lt=self.taken_at,
        ).order_by("from_set__taken_at", "pk")
        today, keys = self._setup.key_on(self.day), self._setup.keys
        return {_key(row): row.value for row in rows if keys[row.configuration_id] == today}

    def _turns_at_h(self, entry):
        """Where the meter read here begins again at zero, as its nameplate says; 0 for never."""
        for row in self._fitted(PositionKind.METER):
            if entry.position and row.position_id == entry.position.pk:
                return float(row.component.type.nameplate.get("turns_at_h") or 0)
        return 0.0

    def _scheduled_h(self, last):
        """Hours that timer and states allowed since the last reading; None without a timer."""
        if last is None or self.system is None:
            return None
        since = day_at(self.place, last.set.taken_at)
        timers = list(
            Schedule.objects.filter(system=self.system, from_on__lte=self.day)
            .order_by("from_on")
            .values_list("from_on", "hours_per_day")
        )
        if not timers:
            return None
        changes = StateChange.objects.standing().filter(system=self.system, at__lte=self.taken_at)
        states = [
            (day_at(self.place, at), state in RUNNING)
            for at, state in changes.order_by("at", "state").values_list("at", "state")
        ]
        edges = {since, self.day} | {on for on, _ in timers + states if since < on < self.day}
        return sum(
            (end - start).days * _newest(timers, start) * _newest(states, start)
            for start, end in pairwise(sorted(edges))
        )

    @cached_property
    def _last(self):
        """The newest standing reading before this moment, by key of the entries."""
        side = {"set__system": self.place} if self.system else {"set__pond": self.place}
        rows = (
            Reading.objects.standing()
            .filter(
                **side,
                quantity__in={entry.quantity for entry in self.entries},
                value__isnull=False,
                doubtful=False,
                set__taken_at__lt=self.taken_at,
            )
            .select_related("set")
            .order_by("set__taken_at", "pk")
        )
        newest = {_key(row): row for row in rows}
        return {key: row for key, row in newest.items() if not self._meter_exchanged(row)}

    def _meter_exchanged(self, row):
        """A new meter starts its own count: what the old one showed proves nothing."""
        if row.quantity != Quantity.RUN_HOURS or not row.position_id or self.system is None:
            return False
        read_on = day_at(self.place, row.set.taken_at)
        return any(
            fitting.position_id == row.position_id and read_on < fitting.from_on <= self.day
            for fitting in self._setup.fittings
        )


def _key(row):
    return f"{row.quantity}:{row.position_id}" if row.position_id else row.quantity


def _newest(rows, day):
    begun = [value for on, value in rows if on <= day]
    return begun[-1] if begun else 0
