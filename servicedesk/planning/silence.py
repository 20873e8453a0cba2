"""How long nobody may have seen a running system before somebody has to ask."""

import math
from collections.abc import Iterable

from servicedesk.kinds import Clock

DAYS_A_MONTH = 365.25 / 12
WITHOUT_INTERVAL_DAYS = 120  # where nothing recurring is due: the default of a filter change
COUNTED = frozenset({Clock.RUN, Clock.OP, Clock.CAL})


def interval_days(
    clock: str, every: float | None, unit: str, hours_per_day: float | None
) -> float | None:
    """An interval of a running system in days.

    clock: run, op or cal; every other has no interval.
    every: how often, in `unit`: h (running hours), d or month.
    hours_per_day: hours that the compressor runs a day; None or 0 counts as 24.
    Returns days above 0, or None where the clock has no interval.
    Source: our own rule; a month is a twelfth of 365.25 days.
    """
    if clock not in COUNTED or not every:
        return None
    if unit == "h":
        return every / (hours_per_day or 24)
    return every * DAYS_A_MONTH if unit == "month" else every


def silent_after_days(intervals: Iterable[float], factor: float) -> int:
    """After how many days without a sign of life a running system is silent.

    intervals: the days of a system's intervals of technicians; none counts as 120 days.
    factor: how many of the shortest interval may pass, above 0; 1.5 by default.
    Returns whole days, rounded up.
    Source: our own rule; the factor of 1.5 is a judgement, common practice, no source.
    """
    shortest = min(intervals, default=WITHOUT_INTERVAL_DAYS)
    return math.ceil(shortest * factor)
