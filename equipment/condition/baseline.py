"""What to expect in the configuration of a day: series of comparable readings, and their baseline.

A confirmed baseline of the same configuration and gauge comes first, level for level; then the
first settled readings, not yet confirmed; then a baseline from elsewhere, moved here by physics;
then physics alone.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from equipment.condition import expected
from equipment.condition.expected import Band, level_pa
from equipment.condition.history import (
    FLOW,
    MANIFOLD,
    POWER,
    PRESSURES,
    RISE,
    BaselineRead,
    Change,
    Changed,
    History,
    Key,
    SetRead,
    judged_values,
)
from equipment.condition.wording import day
from equipment.kinds import Moment, Quantity

SETTLE = timedelta(days=7)  # until then membranes settle and the pond mixes: common practice
SETTLED_BY = timedelta(days=30)
NORMAL_BOIL = 3.0


@dataclass(frozen=True)
class Read:
    """One value of a series; `raw` as read, with the level of that day."""

    on: date
    moment: Moment
    raw: float
    level_m: float | None
    set: SetRead

    @property
    def order(self):
        return self.set.order


@dataclass(frozen=True)
class Series:
    """Readings that may be compared: one gauge, one configuration, nothing changed between.

    generation: which plates and machine; a baseline holds within it. step: counts cleanings too,
    since a trend starts anew with each.
    """

    key: Key
    configuration: str
    gauge: str
    generation: int
    step: int
    reads: tuple[Read, ...]

    @property
    def quantity(self) -> str:
        return self.key[0]

    @property
    def position(self) -> str | None:
        return self.key[1]


@dataclass(frozen=True)
class Reference:
    """The value to compare with, at the level it was read at (None: not known)."""

    value: float
    level_m: float | None
    on: date
    sure: bool
    words: str


@dataclass(frozen=True)
class Proposal:
    """A set that may become the baseline of its configuration once a person confirms it."""

    configuration: str
    set: SetRead | None
    says: str


def all_series(history: History, on: date) -> dict[Key, list[Series]]:
    """The comparable readings of a system, by what was read.

    history: everything known of the system.
    on: the day of the verdict; later readings are left aside.
    Returns for each key its series, the one read last at the end.
    Source: our own rule: a new gauge, another configuration, cleaning, new membranes, another
    compressor each start a new series.
    """
    groups = defaultdict(list)
    for read in history.until(on):
        for key, value in judged_values(read):
            generation, step = _counts(history.changes, key, read.on, read.moment)
            group = (key, read.configuration, gauge_of(read, key), generation, step)
            groups[group].append(Read(read.on, read.moment, value, read.level_m, read))
    by_key = defaultdict(list)
    for group, reads in groups.items():
        by_key[group[0]].append(Series(*group, tuple(reads)))
    for series in by_key.values():
        series.sort(key=lambda one: one.reads[-1].order)
    return dict(by_key)


def gauge_of(read: SetRead, key: Key) -> str:
    """The instrument behind a value; lines are read with the manifold's gauge unless named.

    read: the set.
    key: what was read.
    Returns the gauge's key, empty where none is recorded; bubbles are read by eye.
    Source: our own rule.
    """
    if key[0] == Quantity.LINE_PRESSURE:
        return read.gauges.get(key[0]) or read.gauges.get(Quantity.PRESSURE, "")
    return read.gauges.get(key[0], "")


def normalised(read: Read, key: Key, reference_level_m: float | None) -> float:
    """A value as it would read with the water where it stood for the baseline.

    read: the value with its day's level.
    key: what was read; only pressures hang on the level.
    reference_level_m: level of the baseline [m]; None where it is not known.
    Returns the value; as read where either level is not known.
    Source: hydrostatics, rho g h.
    """
    if key[0] not in PRESSURES or read.level_m is None or reference_level_m is None:
        return read.raw
    return read.raw - level_pa(read.level_m - reference_level_m)


def reference_for(history: History, series: Series, before: Read | None = None) -> Reference | None:
    """The reading that a series is compared with.

    history: everything known of the system.
    series: the comparable readings.
    before: a read of it that is to be judged; it is never its own reference.
    Returns the confirmed baseline of this configuration, gauge and generation, else the first
        settled reading before that one; None where there is neither.
    Source: our own rule; 7 days to settle are common practice, no source.
    """
    known = [row for row in _baselines(history) if _fits(history, row, series)]
    if known:
        row = max(known, key=lambda r: (r.confirmed_on is not None, r.on))
        sure = row.confirmed_on is not None
        words = f"baseline of {day(row.on)}" + ("" if sure else ", not yet confirmed")
        return Reference(row.value, row.level_m, row.on, sure, words)
    settled = series.reads[0].on + _settling(history, series)
    for read in series.reads:
        if before is not None and read.order >= before.order:
            break
        if read.on >= settled and (before is None or read.on < before.on):
            words = f"reading of {day(read.on)}, not yet confirmed as baseline"
            return Reference(read.raw, read.level_m, read.on, False, words)
    return None


def band_for(
    history: History, series: Series, read: Read, others: Sequence[Series] = ()
) -> tuple[Band | None, float | None]:
    """What a reading should have been, with its band, at the level of the reference.

    history: everything known of the system.
    series: the series of the reading.
    read: the reading to judge.
    others: all series of the same key; an earlier one lends its baseline where this has none.
    Returns the band (None where nothing is known) and the level it holds at [m], or None.
    Source: our own rule, see the top of this file.
    """
    found = reference_for(history, series, read)
    if found:
        return _around(history, series, read, found), found.level_m
    lent = _lent(history, series, read, others)
    if lent:
        return lent
    return _by_physics(history, series, read), read.level_m or 0.0


def proposals(history: History, on: date) -> tuple[Proposal, ...]:
    """The readings that a person may confirm as baseline of the present configuration.

    history: everything known of the system.
    on: the day.
    Returns one proposal, with its set where one is settled, or nothing where the manifold's
        pressure has its baseline.
    Source: common practice, no source: readings 7 to 30 days after the start are compared with.
    """
    series = all_series(history, on).get(MANIFOLD)
    if not series:
        return ()
    now = series[-1]
    if any(r.confirmed_on for r in _baselines(history) if _fits(history, r, now)):
        return ()
    start, name = now.reads[0].on, history.name(now.configuration)
    opens = start + _settling(history, now)
    settled = [read for read in now.reads if read.on >= opens]
    if not settled:
        says = (
            f"The readings of {day(start)} in {name} are the first and provisional. Take a full "
            f"set between {day(opens)} and {day(start + SETTLED_BY)}: it can become the baseline."
        )
        return (Proposal(now.configuration, None, says),)
    first = settled[0]
    late = (first.on - start).days
    says = f"The readings of {day(first.on)} can become the baseline of {name}, once confirmed."
    if first.on > start + SETTLED_BY:
        says += f" They were taken {late} days after the first; 7 to 30 are usual."
    return (Proposal(now.configuration, first.set, says),)


def _counts(changes: Sequence[Changed], key, on, moment):
    """(generation, step): how many changes end a baseline, and how many end a trend."""
    past = [c for c in changes if c.touches(*key) and c.before(on, moment)]
    return sum(c.what != Change.CLEANED for c in past), len(past)


def _baselines(history):
    """Baselines as comparable values: volts times amperes, rise over outside air."""
    sets = defaultdict(dict)
    for row in history.baselines:
        group = (row.configuration, row.on, row.moment, row.confirmed_on)
        sets[group][row.quantity, row.position] = row
    for rows in sets.values():
        one = next(iter(rows.values()))
        read = SetRead(one.on, {key: row.value for key, row in rows.items()})
        for key, value in judged_values(read):
            known = rows.get(key, one)
            yield replace(known, quantity=key[0], position=key[1], value=value)


def _fits(history, row: BaselineRead, series: Series):
    if (row.quantity, row.position) != series.key or row.configuration != series.configuration:
        return False
    if row.gauge and series.gauge and row.gauge != series.gauge:
        return False
    return _counts(history.changes, series.key, row.on, row.moment)[0] == series.generation


def _settling(history, series):
    """New plates, and a configuration not seen before, need days; a gauge or a machine none."""
    first = series.reads[0]
    earlier = [s for s in history.until(first.on) if s.order < first.order]
    if any(
        s.configuration == series.configuration
        and gauge_of(s, series.key) != series.gauge
        and s.value(*series.key) is not None
        for s in earlier
    ):
        return timedelta(0)
    return timedelta(0) if series.key in (POWER, FLOW, RISE) else SETTLE


def _around(history, series, read, reference: Reference):
    value = reference.value
    away = _tolerance(history, series, value)
    note = ""
    if series.quantity in PRESSURES and (read.level_m is None or reference.level_m is None):
        away += level_pa(history.swing)
        note = "The level was not read: the band is wider by what the water may swing in a year."
    return Band(
        series.quantity,
        value,
        value - away,
        value + away,
        reference.words,
        reference.sure,
        (),
        note,
    )


def _tolerance(history, series, value):
    t = history.tolerances
    if series.quantity in PRESSURES:
        return expected.pressure_tolerance_pa(value, history.gauge_error_pa(series.gauge), t)
    if series.key == FLOW:
        return t.flow_share * value
    if series.key == POWER:
        return t.power_share * value
    return t.rise_c if series.key == RISE else t.bubble_steps


def _lent(history, series, read, others):
    """A baseline of another configuration, gauge or generation, moved here by physics."""
    if series.key == RISE or series.quantity == Quantity.BUBBLES:
        return None
    for other in reversed([s for s in others if s.reads[0].order < series.reads[0].order]):
        found = reference_for(history, other, read)
        if found is None or (series.generation != other.generation and series.key in (POWER, FLOW)):
            continue
        moved = _moved(history, other, series, found)
        if moved is None:
            continue
        value = found.value + moved
        away = _lent_tolerance(history, series, other, value, moved)
        words = found.words + _from_where(history, series, other)
        if series.quantity in PRESSURES and (read.level_m is None or found.level_m is None):
            away += level_pa(history.swing)
        return Band(series.quantity, value, value - away, value + away, words), found.level_m
    return None


def _moved(history, old, new, reference):
    if old.configuration == new.configuration:
        return 0.0
    before, after = (history.rigs.get(s.configuration) for s in (old, new))
    if before is None or after is None:
        return None
    level = reference.level_m or 0.0
    was, now = (_physics(rig, new.key, level) for rig in (before, after))
    if was is None or now is None:
        return None
    if new.quantity in PRESSURES:
        return now.expected - was.expected
    return reference.value * (now.expected / was.expected - 1) if was.expected else None


def _lent_tolerance(history, series, other, value, moved):
    away = _tolerance(history, series, value) + history.tolerances.moved_share * abs(moved)
    if series.quantity not in PRESSURES:
        return away
    if series.gauge != other.gauge:
        errors = [history.gauge_error_pa(s.gauge) for s in (series, other)]
        away += history.tolerances.gauge_errors * max(errors)
    if series.generation != other.generation:
        away = max(
            away,
            expected.pressure_tolerance_pa(
                value, history.gauge_error_pa(series.gauge), history.tolerances, by_physics=True
            ),
        )
    return away


def _from_where(history, series, other):
    if series.configuration != other.configuration:
        name = history.name(other.configuration)
        return f" in {name}, moved to this configuration by physics"
    if series.gauge != other.gauge:
        return ", read with the gauge before this one"
    return ", from before the last work"


def _by_physics(history, series, read):
    if series.quantity == Quantity.BUBBLES:
        return Band(series.quantity, NORMAL_BOIL, 2.0, 4.0, "a normal boil")
    if series.key == RISE:
        limit = history.tolerances.before_c
        return Band(series.quantity, 0.0, -limit, limit, "no baseline: 15 °C over outside air")
    rig = history.rigs.get(series.configuration)
    if rig is None or series.key == POWER:
        return None
    band = _physics(rig, series.key, read.level_m or 0.0, history, series)
    if band and series.quantity in PRESSURES and read.level_m is None:
        swing = level_pa(history.swing)
        band = replace(band, low=band.low - swing, high=band.high + swing)
    if band and series.key == FLOW:  # a curve to begin with is not this machine's own
        away = 2 * band.tolerance
        band = replace(band, low=band.expected - away, high=band.expected + away)
    return band


def _physics(rig, key, level_m, history=None, series=None):
    if key == POWER:
        return expected.expected_power_w(rig, level_m=level_m)
    if key == FLOW:
        return expected.expected_flow(rig, level_m=level_m)
    more = {}
    if history is not None:
        more = {
            "gauge_error_pa": history.gauge_error_pa(series.gauge),
            "tolerances": history.tolerances,
        }
    if key == MANIFOLD:
        return expected.expected_pressure(rig, level_m=level_m, **more)
    return expected.expected_line_pressure(rig, key[1], level_m=level_m, **more)
