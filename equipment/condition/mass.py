"""Many sites that move the same way at once: the weather or the water, and nobody's plates."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from equipment.condition.wording import day

SITES = 5  # that moved, at least: judgement
MOST = 0.6  # of the sites read in those days: judgement
MOVED = 0.5  # of a system's own tolerance: judgement
DAYS = 3  # in which they were read: judgement


@dataclass(frozen=True)
class Move:
    """How far a system's pressure lay off on a day, as read, in tolerances; above 0 is up.

    The water's level is not taken out, so that a flood shows wherever it was not read.
    """

    system: object
    site: object
    on: date
    share: float


@dataclass(frozen=True)
class MassPattern:
    """Sites that moved together between two days, with the sentence for the office."""

    first_on: date
    last_on: date
    up: bool
    systems: frozenset
    sites: int
    read: int
    says: str

    def covers(self, on: date, away: float) -> bool:
        """Whether a departure of that day and direction belongs to it."""
        return self.first_on <= on <= self.last_on and (away > 0) == self.up


def mass_patterns(moves: Iterable[Move]) -> tuple[MassPattern, ...]:
    """Days on which many sites drifted the same way.

    moves: one for each system and day on which it was read, those that did not move too.
    Returns one pattern for each run of such days and direction.
    Source: judgement: within 3 days at least 5 sites, and 60 percent of those read, lay off the
    same way by half their tolerance.
    """
    moves = sorted(moves, key=lambda move: move.on)
    found = []
    for up in (True, False):
        found += _runs(moves, up)
    return tuple(sorted(found, key=lambda pattern: pattern.first_on))


def _runs(moves, up):
    runs = []
    for last in sorted({move.on for move in moves}):
        first = last - timedelta(days=DAYS - 1)
        window = [move for move in moves if first <= move.on <= last]
        moved = [move for move in window if (move.share if up else -move.share) >= MOVED]
        sites, read = {move.site for move in moved}, {move.site for move in window}
        if len(sites) < SITES or len(sites) < MOST * len(read):
            continue
        begins = min(move.on for move in moved)
        if runs and begins <= runs[-1][1]:
            runs[-1] = (runs[-1][0], last)
        else:
            runs.append((begins, last))
    return [_pattern(moves, up, first, last) for first, last in runs]


def _pattern(moves, up, first, last):
    window = [move for move in moves if first <= move.on <= last]
    moved = [move for move in window if (move.share if up else -move.share) >= MOVED]
    sites, read = len({move.site for move in moved}), len({move.site for move in window})
    days = day(first) if first == last else f"{day(first)} to {day(last)}"
    says = (
        f"{sites} of {read} sites read on {days} lie {'above' if up else 'below'} what is "
        "expected. So many at once is the weather or the water's level, not wear: read the level "
        "marks. No work on plates is asked for because of it."
    )
    systems = frozenset(move.system for move in moved)
    return MassPattern(first, last, up, systems, sites, read, says)
