"""Density, pressure and oxygen of water, by name."""

from servicedesk.planning.calculations.engine import Calculation

CALCULATIONS: tuple[Calculation, ...] = ()
