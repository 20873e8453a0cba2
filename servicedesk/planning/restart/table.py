"""Which way a system is started again: one table, read from the top, first match wins."""

from collections.abc import Callable
from dataclasses import dataclass

from servicedesk.planning.restart.ramps import CONTINUOUS, SHORT, SLOW, STANDARD
from servicedesk.planning.restart.readings import (
    COOL_C,
    DAY_H,
    GOOD_MG_L,
    HOT_C,
    LAYERED,
    LOW_MG_L,
    MARKED,
    STRONG,
    THREE_DAYS_H,
    Fish,
    Readings,
)

COMMON, JUDGEMENT = "common_practice", "judgement"


@dataclass(frozen=True)
class Row:
    """A row of the table. `rank`: how much it asks; a worse reading never leads to a lower one."""

    code: str
    name: str
    rank: int
    minutes: tuple[int, ...]
    mark: str
    holds: Callable[[Readings], bool]
    adviser: bool = False  # nobody of the firm alone may start it
    goes_on: bool = False  # with the ramp that is open


def _strong(r: Readings) -> bool:
    loose = r.difference is None or r.difference >= LAYERED
    hot = _surface_c(r) > HOT_C or r.past_kill is not False
    return (
        r.smell
        or (r.difference is not None and r.difference > STRONG)
        or (hot and loose)
        or (r.difference is None and r.in_season)
    )


def _short_stop(r: Readings) -> bool:
    known = r.off_hours is not None and r.off_hours < DAY_H and r.ran_full_time is True
    light = r.difference is not None and r.difference < MARKED
    return known and not r.ramp and (light or not r.in_season)


def _marked(r: Readings) -> bool:
    if r.difference is not None and r.difference >= MARKED:
        return True
    return _bottom_mg_l(r) < LOW_MG_L or (r.difference is None and _surface_c(r) > COOL_C)


def _mixed(r: Readings) -> bool:
    even = r.difference is not None and r.difference < LAYERED
    return even and _bottom_mg_l(r) >= GOOD_MG_L and not r.stops


def _few_days(r: Readings) -> bool:
    known = r.off_hours is not None and r.off_hours <= THREE_DAYS_H
    return known and not r.ramp and not r.stops


def _surface_c(r):
    """Unknown: the hottest in the warm season, else neither hot nor cold."""
    if r.surface_c is None:
        return HOT_C + 1 if r.in_season else COOL_C + 1
    return r.surface_c


def _bottom_mg_l(r):
    """Unknown: none in the warm season, else between low and good."""
    if r.bottom_mg_l is None:
        return 0 if r.in_season else LOW_MG_L
    return r.bottom_mg_l


TABLE = (
    Row(
        "R0",
        "no start without a fish adviser's word",
        8,
        (),
        COMMON,
        lambda r: r.fish in {Fish.COLD_WATER, Fish.UNKNOWN} and r.layered and r.in_season,
        adviser=True,
    ),
    Row(
        "R1",
        "continuous, after the checks for ice",
        7,
        CONTINUOUS,
        COMMON,
        lambda r: r.ice is not False,
    ),
    Row(
        "R2",
        "go on with the ramp that is open",
        0,
        (),
        JUDGEMENT,
        lambda r: r.ramp_goes_on,
        goes_on=True,
    ),
    Row("R3", "slow ramp", 6, SLOW, JUDGEMENT, _strong),
    Row("R4", "restart", 1, CONTINUOUS, JUDGEMENT, _short_stop),
    Row("R5", "standard ramp, watched from the start", 5, STANDARD, COMMON, _marked),
    Row("R6", "continuous from day 1", 2, CONTINUOUS, JUDGEMENT, _mixed),
    Row("R7", "short ramp", 3, SHORT, JUDGEMENT, _few_days),
    Row("R8", "standard ramp", 4, STANDARD, COMMON, lambda r: True),
)
BY_CODE = {row.code: row for row in TABLE}


def row_of(readings: Readings) -> Row:
    """The row of the table that holds.

    readings: what is known before the start.
    Returns the first row that holds; the last one always does.
    Source: judgement and common practice, no source; each row is marked.
    """
    return next(row for row in TABLE if row.holds(readings))
