"""Volume, mixing and layering of a pond, by name."""

from servicedesk.planning.calculations.engine import Calculation

CALCULATIONS: tuple[Calculation, ...] = ()
