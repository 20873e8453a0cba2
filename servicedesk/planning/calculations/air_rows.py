"""Air, airlines, diffusers and compressors, by name."""

from servicedesk.planning.calculations.engine import Calculation

CALCULATIONS: tuple[Calculation, ...] = ()
