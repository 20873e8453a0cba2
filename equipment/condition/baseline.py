"""Series of comparable readings, and the baseline that each is compared with."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from equipment.condition.expected import expected_flow, level_pa
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
from equipment.kinds import CompressorKind, Moment, Quantity

SETTLE = timedelta(days=7)  # until then membranes settle and the pond mixes: common practice
SETTLED_BY = timedelta(days=30)
_ZERO_C_K = 273.15
_FELT_M = 0.1  # of level, from which on a steep machine's flow is worked out anew: judgement
STEEP = frozenset({CompressorKind.LINEAR, CompressorKind.OTHER})


@dataclass(frozen=True)
class At:
    """Water against its mark and air at the intake when something was read; None: not known."""

    level_m: float | None
    intake_c: float | None = None


@dataclass(frozen=True)
class Read:
    """One value of a series; `raw` as read, with the level and the air of that day."""

    on: date
    moment: Moment
    raw: float
    level_m: float | None
    set: SetRead

    @property
    def intake_c(self):
        return self.set.intake_c

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
    """The value to compare with, and how water and air were when it was read."""

    value: float
    at: At
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


def normalised(history: History, series: Series, read: Read, at: At) -> float:
    """A value as it would read with water and air as they were for the baseline.

    history: everything known of the system.
    series: the series of the reading.
    read: the value with its day's level and air.
    at: level and intake air of the baseline.
    Returns the value: pressures without what the level adds; flow with the volume that the
        machine draws in, and for one whose flow falls steeply with pressure, at the level of the
        baseline; as read where the level, or the air, of either is not known.
    Source: hydrostatics, rho g h; ideal gas; operating point of `network`.
    """
    rise = None if read.level_m is None or at.level_m is None else read.level_m - at.level_m
    if series.quantity in PRESSURES:
        return read.raw if rise is None else read.raw - level_pa(rise)
    if series.key != FLOW:
        return read.raw
    value = read.raw
    if read.intake_c is not None and at.intake_c is not None:
        value *= (read.intake_c + _ZERO_C_K) / (at.intake_c + _ZERO_C_K)
    rig = history.rigs.get(series.configuration)
    if rig and rise is not None and abs(rise) >= _FELT_M and history.compressor_kind in STEEP:
        then, now = (expected_flow(rig, level_m=level) for level in (at.level_m, read.level_m))
        if then and now and now.expected:
            value *= then.expected / now.expected
    return value


def reference_for(history: History, series: Series, before: Read | None = None) -> Reference | None:
    """The reading that a series is compared with.

    history: everything known of the system.
    series: the comparable readings.
    before: a read of it that is to be judged; it is never its own reference.
    Returns the confirmed baseline of this configuration, gauge and generation, else the first
        settled reading before that one; None where there is neither.
    Source: our own rule; 7 days to settle are common practice, no source.
    """
    known = [pair for pair in history.baselines_judged if _fits(history, pair[0], series)]
    if known:
        row, intake = max(known, key=lambda pair: (pair[0].confirmed_on is not None, pair[0].on))
        sure = row.confirmed_on is not None
        words = f"baseline of {day(row.on)}" + ("" if sure else ", not yet confirmed")
        return Reference(row.value, At(row.level_m, intake), row.on, sure, words)
    settled = series.reads[0].on + _settling(history, series)
    for read in series.reads:
        if before is not None and read.order >= before.order:
            break
        if read.on >= settled and (before is None or read.on < before.on):
            words = f"reading of {day(read.on)}, not yet confirmed as baseline"
            return Reference(read.raw, At(read.level_m, read.intake_c), read.on, False, words)
    return None


def proposals(
    history: History, on: date, by_key: Mapping[Key, list[Series]] | None = None
) -> tuple[Proposal, ...]:
    """The readings that a person may confirm as baseline of the present configuration.

    history: everything known of the system.
    on: the day.
    by_key: from `all_series` of that day, where it is at hand.
    Returns one proposal, with its set where one is settled, or nothing where the manifold's
        pressure has its baseline.
    Source: common practice, no source: readings 7 to 30 days after the start are compared with.
    """
    series = (by_key or all_series(history, on)).get(MANIFOLD)
    if not series:
        return ()
    now = series[-1]
    if any(row.confirmed_on for row, _ in history.baselines_judged if _fits(history, row, now)):
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
