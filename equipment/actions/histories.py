"""All that a verdict rests on, for many systems at once, in a constant number of queries."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

from equipment.actions.rigs import Setup, setups_of
from equipment.condition.history import (
    BaselineRead,
    Changed,
    GaugeUsed,
    History,
    SetRead,
    Tolerances,
)
from equipment.kinds import RUNNING, PositionKind, Quantity, Sign
from equipment.models import Baseline, Gauge, Position, Reading, Schedule, SignSeen, StateChange

ONE_DAY = timedelta(days=1)
JUDGED = frozenset(Quantity) - {
    Quantity.OXYGEN,
    Quantity.SECCHI,
    Quantity.ICE,
    Quantity.WATER_TEMPERATURE,
}


def histories_of(
    system_ids: Collection[int],
    *,
    until: datetime,
    changes: Mapping[int, Sequence[Changed]] | None = None,
    tolerances: Tolerances = Tolerances(),  # noqa: B008 - frozen
    units: str = "us",
    setups: Mapping[int, Setup] | None = None,
    for_bands: bool = False,
) -> dict[int, History]:
    """The history of each system up to an instant.

    `changes` are days of work that starts a series anew, such as the cleaning of membranes;
    what was fitted and rebuilt is known here. `units` are those of whoever reads the sentences.
    `for_bands` leaves out what no band hangs on: run hours, and what people saw.
    """
    setups = setups_of(system_ids) if setups is None else setups
    waters = _waters(setups)
    sets = _sets(setups, waters, until, for_bands)
    baselines = _baselines(setups)
    gauges = _gauges(setups)
    found = {}
    for pk, setup in setups.items():
        day = until.astimezone(ZoneInfo(setup.system.site.time_zone)).date()
        compressors = setup.fitted(PositionKind.COMPRESSOR, day)
        kinds = {row.component.type.compressor_kind for row in compressors}
        meters = setup.fitted(PositionKind.METER, day)
        found[pk] = History(
            sets=tuple(sets[pk]),
            rigs=setup.rigs(day),
            names=setup.names,
            winter=setup.winter,
            baselines=tuple(baselines[pk]),
            changes=tuple(sorted([*setup.changes(), *(changes or {}).get(pk, ())], key=_by_day)),
            gauges=gauges[pk],
            compressor_kind=kinds.pop() if len(kinds) == 1 else None,
            swing_m=_swing(waters[pk]),
            nominal_v=setup.nominal_v(day),
            turns_at_h=max(
                (float(row.component.type.nameplate.get("turns_at_h") or 0) for row in meters),
                default=0.0,
            ),
            tolerances=tolerances,
            units=units,
        )
    return found


def _by_day(change):
    return change.on, change.what, change.position or ""


def _sets(setups, waters, until, for_bands):
    """Readings by set, oldest first, each with the level of its day and what was seen."""
    rows = (
        Reading.objects.standing()
        .filter(
            set__system__in=setups,
            set__taken_at__lte=until,
            quantity__in=JUDGED - {Quantity.RUN_HOURS} if for_bands else JUDGED,
            value__isnull=False,
            doubtful=False,
        )
        .order_by("set__taken_at", "set_id", "pk")
        .values_list(
            "set__system_id",
            "set_id",
            "set__moment",
            "set__taken_at",
            "quantity",
            "position__label",
            "value",
            "gauge_id",
        )
    )
    taken: dict[int, dict[int, list]] = defaultdict(dict)
    for pk, key, moment, at, quantity, position, value, gauge in rows.iterator(chunk_size=5000):
        if key not in taken[pk]:
            taken[pk][key] = [at, moment, {}, {}]
        taken[pk][key][2][quantity, position] = value
        if gauge:
            taken[pk][key][3][quantity] = str(gauge)
    seen = {} if for_bands else _seen(setups, until, taken)
    levels = _levels(setups, waters, until)
    promised = _Promised(setups, until)
    return {
        pk: [
            *_of_one(setup, taken[pk], seen.get(pk, {}), levels.get(pk, {}), promised),
        ]
        for pk, setup in setups.items()
    }


def _of_one(setup, taken, seen, levels, promised):
    zone, meter_read_on = ZoneInfo(setup.system.site.time_zone), None
    for key, (at, moment, values, gauges) in sorted(taken.items(), key=lambda row: row[1][0]):
        on = at.astimezone(zone).date()
        level = values.pop((Quantity.LEVEL, None), None)
        scheduled = None
        if any(quantity == Quantity.RUN_HOURS for quantity, _ in values):
            if meter_read_on is not None:
                scheduled = promised.hours(setup.system.pk, meter_read_on, on)
            meter_read_on = on
        yield SetRead(
            on=on,
            values=values,
            moment=moment,
            configuration=setup.key_on(on),
            level_m=_level_near(levels, on) if level is None else level,
            gauges=gauges,
            seen=seen.get(key, {}),
            scheduled_h=scheduled,
            key=key,
        )


def _seen(setups, until, taken):
    """Signs by system and set; a set of signs alone has no reading, and joins `taken`."""
    rows = SignSeen.objects.filter(set__system__in=setups, set__taken_at__lte=until)
    found: dict[int, dict[int, dict[Sign, bool]]] = defaultdict(lambda: defaultdict(dict))
    for pk, key, at, moment, sign, present in rows.values_list(
        "set__system_id", "set_id", "set__taken_at", "set__moment", "sign", "present"
    ):
        found[pk][key][Sign(sign)] = present
        taken[pk].setdefault(key, [at, moment, {}, {}])
    return found


def _waters(setups):
    """The ponds that each system's plates lie in, each with how far its water swings."""
    lying = Position.objects.lying().filter(system__in=setups)
    found = defaultdict(dict)
    for system, pond, swing_m in lying.values_list("system_id", "pond_id", "pond__level_swing_m"):
        found[system][pond] = swing_m
    return found


def _swing(ponds):
    """The wider swing of two ponds; None where one of them was never said."""
    return None if None in ponds.values() else max(ponds.values(), default=None)


def _levels(setups, waters, until):
    """The water against its mark, as read at the pond, by system and day."""
    ponds = defaultdict(set)
    for system, own in waters.items():
        for pond in own:
            ponds[pond].add(system)
    rows = Reading.objects.standing().filter(
        set__pond__in=ponds,
        set__taken_at__lte=until,
        quantity=Quantity.LEVEL,
        value__isnull=False,
        doubtful=False,
    )
    found = defaultdict(lambda: defaultdict(dict))  # by system, day and pond
    for pond, at, value in rows.order_by("set__taken_at").values_list(
        "set__pond_id", "set__taken_at", "value"
    ):
        for pk in ponds[pond]:
            zone = ZoneInfo(setups[pk].system.site.time_zone)
            found[pk][at.astimezone(zone).date()][pond] = value
    return found


def _level_near(levels, on):
    """The level of a day, else of the day before or after; the mean where it feeds two ponds."""
    for day in (on, on - ONE_DAY, on + ONE_DAY):
        if day in levels:
            return sum(levels[day].values()) / len(levels[day])
    return None


def _baselines(setups):
    rows = Baseline.objects.filter(configuration__system__in=setups)
    found = defaultdict(list)
    for (
        pk,
        plan,
        quantity,
        label,
        value,
        level,
        gauge,
        confirmed_at,
        taken_at,
        moment,
    ) in rows.order_by("from_set__taken_at", "pk").values_list(
        "configuration__system_id",
        "configuration_id",
        "quantity",
        "position__label",
        "value",
        "level_m",
        "gauge_id",
        "confirmed_at",
        "from_set__taken_at",
        "from_set__moment",
    ):
        zone = ZoneInfo(setups[pk].system.site.time_zone)
        found[pk].append(
            BaselineRead(
                configuration=setups[pk].keys[plan],
                quantity=quantity,
                value=value,
                on=taken_at.astimezone(zone).date(),
                position=label,
                level_m=level,
                gauge=str(gauge or ""),
                confirmed_on=confirmed_at.astimezone(zone).date() if confirmed_at else None,
                moment=moment,
            )
        )
    return found


def _gauges(setups):
    found = defaultdict(dict)
    for row in Gauge.objects.filter(system__in=setups):
        known = row.full_scale is not None and row.error_percent is not None
        error = row.full_scale * row.error_percent / 100 if known else None
        found[row.system_id][str(row.pk)] = GaugeUsed(row.label, error)
    return found


class _Promised:
    """The hours that timer and states promised between two days, read once somebody asks."""

    def __init__(self, setups, until):
        self.setups, self.until = setups, until

    @cached_property
    def states(self):
        found = defaultdict(list)
        changes = StateChange.objects.standing().filter(system__in=self.setups, at__lte=self.until)
        for pk, at, state in changes.order_by("at", "state").values_list(
            "system_id", "at", "state"
        ):
            zone = ZoneInfo(self.setups[pk].system.site.time_zone)
            found[pk].append((at.astimezone(zone).date(), state in RUNNING))
        return found

    @cached_property
    def hours_a_day(self):
        found = defaultdict(list)
        rows = Schedule.objects.filter(system__in=self.setups).order_by("from_on")
        for pk, from_on, hours in rows.values_list("system_id", "from_on", "hours_per_day"):
            found[pk].append((from_on, hours))
        return found

    def hours(self, pk: int, first: date, last: date) -> float | None:
        """None where no timer is on record."""
        if not self.hours_a_day[pk]:
            return None
        edges = {first, last}
        edges |= {on for on, _ in self.states[pk] if first < on < last}
        edges |= {on for on, _ in self.hours_a_day[pk] if first < on < last}
        steps = sorted(edges)
        return sum(
            (end - start).days * _newest(self.hours_a_day[pk], start)
            for start, end in pairwise(steps)
            if _newest(self.states[pk], start)
        )


def _newest(rows, day):
    begun = [value for on, value in rows if on <= day]
    return begun[-1] if begun else 0
