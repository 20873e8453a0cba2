"""Slips of the pen: another unit was meant, a decimal point slipped, last time's value came again.

Everything here is to be asked about; nothing is ever converted in silence.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from equipment.kinds import Quantity
from equipment.physics import units

NEAR = 0.12  # of a factor: judgement
THREE_TIMES = 3  # the same value on so many visits is asked about: judgement

# Warmth has no ratio: the other unit must come this near, the typed one lie this far off [degC].
# Judgement; the two readings of one number lie 14 degC apart or more.
WARMTH = {
    Quantity.CABINET_AIR: (15, 15),
    Quantity.OUTSIDE_AIR: (8, 12),
    Quantity.HEAD_TEMPERATURE: (15, 25),
    Quantity.WATER_TEMPERATURE: (6, 12),
}
UNASKED = frozenset(
    {Quantity.BUBBLES, Quantity.RUN_HOURS}
)  # a score; a count with rules of its own
SMALLEST = {Quantity.LEVEL: 0.3}  # [m] the water stands near its mark: ratios say nothing there
LIVELY = frozenset(
    {
        Quantity.PRESSURE,
        Quantity.LINE_PRESSURE,
        Quantity.FLOW,
        Quantity.CURRENT,
        Quantity.VOLTAGE,
        Quantity.CABINET_AIR,
        Quantity.HEAD_TEMPERATURE,
    }
)


@dataclass(frozen=True)
class Slip:
    """What was probably meant: a number in a unit."""

    value: float
    unit: str

    @property
    def other_point(self) -> str:
        """The number as text, for whoever has to write it anew."""
        return f"{self.value:.6g}"


def slip(quantity: str, value: float, unit: str, expected: float) -> Slip | None:
    """What was probably meant by a number that is far from what is expected.

    quantity: a word of `Quantity`.
    value: the number as typed, in `unit`.
    unit: the unit that was chosen, a name of `units.offered(quantity)`.
    expected: the baseline, or what was read last time, in the stored unit of the quantity.
    Returns the same number in another unit, or the number with its point moved by one place in
        the same unit; None where the number fits as it is, or nothing fits better.
    Raises ValueError when the unit does not measure the quantity.
    Source: our own rule: within 12 percent of a factor; factors from NIST SP 811 through `units`.
    """
    if other := meant_unit(quantity, value, unit, expected):
        return Slip(value, other)
    if quantity in UNASKED or quantity in WARMTH or abs(expected) < SMALLEST.get(quantity, 0):
        return None
    if _fits(quantity, value, unit, expected):
        return None
    for moved in (value / 10, value * 10):
        if _fits(quantity, moved, unit, expected):
            return Slip(moved, unit)
    return None


def meant_unit(quantity: str, value: float, unit: str, expected: float) -> str | None:
    """The unit that was probably meant, when the number fits another one far better.

    quantity: a word of `Quantity`.
    value: the number as typed, in `unit`.
    unit: the unit that was chosen.
    expected: what is expected, in the stored unit of the quantity.
    Returns the other unit's name, to be asked about and never to be put in silently; None when
        the chosen unit fits within 12 percent, or no other does.
    Raises ValueError when the unit does not measure the quantity.
    Source: our own rule; factors from NIST SP 811 through `units`.
    """
    units.to_stored(quantity, value, unit)
    others = [other for other in units.offered(quantity) if other != unit]
    if quantity in WARMTH:
        near, far = WARMTH[Quantity(quantity)]
        off = {
            name: abs(units.to_stored(quantity, value, name) - expected) for name in (unit, *others)
        }
        return next((name for name in others if off[name] <= near and off[unit] > far), None)
    if quantity in UNASKED or abs(expected) < SMALLEST.get(quantity, 0):
        return None
    if _fits(quantity, value, unit, expected):
        return None
    fitting = [other for other in others if _fits(quantity, value, other, expected)]
    return min(fitting, key=lambda other: _away(quantity, value, other, expected), default=None)


def unit_within(quantity: str, value: float, unit: str, low: float, high: float) -> str | None:
    """The one other unit in which a number lies within a band, when it does not as typed.

    quantity: a word of `Quantity`.
    value: the number as typed, in `unit`.
    unit: the unit that was chosen.
    low, high: ends of the band, in the stored unit of the quantity.
    Returns the other unit's name, to be asked about; None where none or more than one fits.
    Raises ValueError when the unit does not measure the quantity.
    Source: our own rule.
    """
    if low <= units.to_stored(quantity, value, unit) <= high:
        return None
    fitting = [
        other
        for other in units.offered(quantity)
        if other != unit and low <= units.to_stored(quantity, value, other) <= high
    ]
    return fitting[0] if len(fitting) == 1 else None


def looks_copied(quantity: str, value: float, before: Sequence[float]) -> bool:
    """Whether a value has come on three visits running, so that one may ask: measured today?

    quantity: a word of `Quantity`; scores, levels and hours stand still by themselves.
    value: the new value, in the stored unit.
    before: those of the visits before, newest first.
    Returns True when the last two visits had the same value.
    Source: our own rule; it neither accuses nor refuses.
    """
    last = list(before[: THREE_TIMES - 1])
    same = [abs(one - value) <= 1e-9 * max(abs(value), 1) for one in last]
    return quantity in LIVELY and len(last) == THREE_TIMES - 1 and all(same)


def _away(quantity, value, unit, expected):
    return abs(units.to_stored(quantity, value, unit) / expected - 1)


def _fits(quantity, value, unit, expected):
    return expected != 0 and _away(quantity, value, unit, expected) <= NEAR
