"""Reliability of parts and causes of faults, by name."""

from servicedesk.planning.calculations.engine import Calculation

CALCULATIONS: tuple[Calculation, ...] = ()
