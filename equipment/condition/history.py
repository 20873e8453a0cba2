"""What is known of one system when it is judged: readings, rigs, baselines, work done."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from functools import cached_property

from equipment.kinds import Moment, Quantity, Sign
from equipment.physics import units
from equipment.physics.atmosphere import SEA_LEVEL_PA
from equipment.physics.compressor import Curve
from equipment.physics.network import Line

PSI_PA = units.to_stored(Quantity.PRESSURE, 1.0, "psi")
MARK = "judgement"

Key = tuple[str, str | None]  # a quantity, and the label of the position it was read at


class Change(StrEnum):
    """Work or an event after which earlier readings are no longer comparable."""

    CLEANED = "cleaned"
    MEMBRANES = "membranes"
    DEPTH = "depth"
    COMPRESSOR = "compressor"
    REBUILT = "rebuilt"


AT_THE_PLATES = frozenset({Change.CLEANED, Change.MEMBRANES, Change.DEPTH, Change.REBUILT})
AT_THE_MACHINE = frozenset({Change.COMPRESSOR, Change.REBUILT})
OF_THE_PLATES = frozenset({Quantity.PRESSURE, Quantity.LINE_PRESSURE, Quantity.BUBBLES})
CHANGE_WORDS = {
    Change.CLEANED: "cleaned",
    Change.MEMBRANES: "given new membranes",
    Change.DEPTH: "moved to another depth",
    Change.COMPRESSOR: "given another compressor",
    Change.REBUILT: "rebuilt",
}


@dataclass(frozen=True)
class Tolerances:
    """How far a reading may lie from what is expected; every figure is a judgement.

    `limit_*`: the rise above the baseline at which membranes are cleaned. `physics_*`: instead of
    `pressure_*` where there is no baseline. `swing_m`: yearly swing of the water's level where the
    pond's own is not known. `before_c`: cabinet rise without a baseline.
    """

    pressure_pa: float = 0.5 * PSI_PA
    pressure_share: float = 0.10
    gauge_errors: float = 2.0
    physics_pa: float = 1.0 * PSI_PA
    physics_share: float = 0.20
    moved_share: float = 0.15
    limit_pa: float = 1.0 * PSI_PA
    limit_share: float = 0.15
    flow_share: float = 0.15
    power_share: float = 0.12
    rise_c: float = 8.0
    before_c: float = 15.0
    bubble_steps: float = 1.0
    swing_m: float = 0.3


@dataclass(frozen=True)
class Rig:
    """One configuration as physics sees it: the compressor's curve, the lines, air and water.

    curve: as it holds at the site (see `curve_at_site`); None where it is not known.
    lines: their depths [m] hold when the water stands at its mark.
    air_pa: the site's air pressure [Pa]. water_c: temperature of water and lines [degC].
    relief_pa: gauge pressure at which the relief valve opens [Pa]. compressor_kind: a word of
    `CompressorKind`.
    """

    curve: Curve | None
    lines: tuple[Line, ...]
    air_pa: float = SEA_LEVEL_PA
    water_c: float = 15.0
    relief_pa: float | None = None
    compressor_kind: str | None = None


@dataclass(frozen=True)
class GaugeUsed:
    """The instrument behind readings; `error_pa` (its class in pascals) is for pressures only."""

    label: str
    error_pa: float | None = None


@dataclass(frozen=True)
class SetRead:
    """What was read, and seen, at one moment.

    values: stored unit of each quantity, without doubtful readings; cabinet and outside air, volts
        and amperes each as read. gauges: quantity to the key of its instrument in History.gauges.
    level_m: water against its mark; None when it was not read. seen: signs that were looked for,
    true where they were there. scheduled_h: hours that timer and states promised since the hour
    meter was read before. key: of the caller, to find the set again.
    """

    on: date
    values: Mapping[Key, float]
    moment: Moment = Moment.AS_FOUND
    configuration: str = ""
    level_m: float | None = None
    gauges: Mapping[str, str] = field(default_factory=dict)
    seen: Mapping[Sign, bool] = field(default_factory=dict)
    scheduled_h: float | None = None
    key: object = None

    @property
    def order(self) -> tuple[date, int]:
        return self.on, _RANK[self.moment]

    def value(self, quantity: str, position: str | None = None) -> float | None:
        return self.values.get((quantity, position))

    @property
    def intake_c(self) -> float | None:
        """Air that the machine breathes: the cabinet's, else the air outside."""
        inside = self.value(Quantity.CABINET_AIR)
        return self.value(Quantity.OUTSIDE_AIR) if inside is None else inside

    def by_position(self, quantity: str) -> dict[str, float]:
        return {
            position: value
            for (what, position), value in self.values.items()
            if what == quantity and position is not None
        }


_RANK = {Moment.AS_FOUND: 0, Moment.OTHER: 1, Moment.AS_LEFT: 2}


@dataclass(frozen=True)
class BaselineRead:
    """The reading to expect in a configuration; a person confirmed it on `confirmed_on`."""

    configuration: str
    quantity: str
    value: float
    on: date
    position: str | None = None
    level_m: float | None = None
    gauge: str = ""
    confirmed_on: date | None = None
    moment: Moment = Moment.OTHER


@dataclass(frozen=True)
class Changed:
    """A day on which something was done that starts a series anew; None: at every position."""

    on: date
    what: Change
    position: str | None = None

    def touches(self, quantity: str, position: str | None) -> bool:
        if quantity in OF_THE_PLATES:
            here = self.position is None or position is None or position == self.position
            machine = quantity == Quantity.PRESSURE and self.what in AT_THE_MACHINE
            return machine or (here and self.what in AT_THE_PLATES)
        return self.what in AT_THE_MACHINE

    def before(self, on: date, moment: Moment) -> bool:
        """Whether a reading of that moment was taken after this; as found is always before."""
        return self.on < on or (self.on == on and moment == Moment.AS_LEFT)


@dataclass(frozen=True)
class History:
    """Everything about one system that a verdict rests on.

    sets: in any order. rigs and names: by configuration key; the same depths, valves and plates
    have the same key, whichever year. winter: keys of winter configurations. swing_m: yearly swing
    of the pond's level. units: `us` or `metric`, of whoever reads the sentences.
    """

    sets: tuple[SetRead, ...]
    rigs: Mapping[str, Rig] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    winter: frozenset[str] = frozenset()
    baselines: tuple[BaselineRead, ...] = ()
    changes: tuple[Changed, ...] = ()
    gauges: Mapping[str, GaugeUsed] = field(default_factory=dict)
    compressor_kind: str | None = None
    swing_m: float | None = None
    nominal_v: float | None = None
    turns_at_h: float = 0.0
    tolerances: Tolerances = Tolerances()
    units: str = "us"

    @cached_property
    def baselines_judged(self) -> tuple[tuple[BaselineRead, float | None], ...]:
        """Baselines as comparable values (see `judged_values`), with the air at the intake."""
        sets = defaultdict(dict)
        for row in self.baselines:
            group = (row.configuration, row.on, row.moment, row.confirmed_on)
            sets[group][row.quantity, row.position] = row
        found = []
        for rows in sets.values():
            one = next(iter(rows.values()))
            read = SetRead(one.on, {key: row.value for key, row in rows.items()})
            for key, value in judged_values(read):
                known = rows.get(key, one)
                row = replace(known, quantity=key[0], position=key[1], value=value)
                found.append((row, read.intake_c))
        return tuple(found)

    def until(self, on: date) -> list[SetRead]:
        return sorted((s for s in self.sets if s.on <= on), key=lambda s: s.order)

    def name(self, configuration: str) -> str:
        return self.names.get(configuration) or configuration or "this configuration"

    def gauge_error_pa(self, gauge: str) -> float:
        known = self.gauges.get(gauge)
        return (known.error_pa or 0.0) if known else 0.0

    @property
    def swing(self) -> float:
        return self.tolerances.swing_m if self.swing_m is None else self.swing_m

    def shown(self, quantity: str, value: float) -> str:
        return units.shown(quantity, value, self.units)


def judged_values(read: SetRead) -> Iterator[tuple[Key, float]]:
    """The values of a set that are compared with what is expected.

    read: one set of readings.
    Returns pairs of key and value: pressures [Pa], flow [L/min], bubbles [score] as read; volts
        times amperes [VA] under `current`, cabinet rise over outside air [degC] under
        `cabinet_air`, each only where both were read.
    Source: our own rule: power and rise are comparable, amperes and temperatures are not.
    """
    for key, value in read.values.items():
        if key[0] in _AS_READ:
            yield key, value
    volts, amperes = read.value(Quantity.VOLTAGE), read.value(Quantity.CURRENT)
    if volts is not None and amperes is not None:
        yield POWER, volts * amperes
    inside, outside = read.value(Quantity.CABINET_AIR), read.value(Quantity.OUTSIDE_AIR)
    if inside is not None and outside is not None:
        yield RISE, inside - outside


MANIFOLD: Key = (Quantity.PRESSURE, None)
FLOW: Key = (Quantity.FLOW, None)
POWER: Key = (Quantity.CURRENT, None)
RISE: Key = (Quantity.CABINET_AIR, None)
PRESSURES = frozenset({Quantity.PRESSURE, Quantity.LINE_PRESSURE})
_AS_READ = PRESSURES | {Quantity.FLOW, Quantity.BUBBLES}
