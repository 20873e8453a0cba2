"""Readings in other units, by name."""

from equipment.physics import units
from servicedesk.planning.calculations.engine import Calculation


def converted(value: float, unit: str, to_unit: str, quantity: str) -> float:
    """A reading in another unit.

    value: the number, in `unit`.
    unit, to_unit: such as psi and kPa.
    quantity: what it measures, such as pressure, flow or water_temperature.
    Returns the number in `to_unit`.
    Raises ValueError when a unit does not measure the quantity.
    Source: NIST SP 811 (2008), appendix B.
    """
    return units.from_stored(quantity, units.to_stored(quantity, value, unit), to_unit)


CALCULATIONS = (Calculation("converted", converted),)
