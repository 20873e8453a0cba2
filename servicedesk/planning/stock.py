"""What lies in vans and on the shelf, what a day takes along, and what waits for a delivery.

A holder is the number of a technician, for his van, or SHELF. Parts are numbers, too.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

SHELF = 0
LOANER_UNITS = 8  # a compressor beside filter elements of 1; our judgement
LOANER_WORDS = ("loaner", "spare unit")

Holding = tuple[int, int]  # holder and part


@dataclass(frozen=True)
class Move:
    """One line of a ledger: so many more or less, or what was counted at that instant.

    `opens`: somebody keeps the stock of this holder from then on. What is used at ponds does not
    open a ledger, else a firm that never counted would read a thousand filters below nought.
    """

    holder: int
    part: int
    quantity: int
    at: datetime
    counted: bool = False
    opens: bool = True


def stock_of(moves: Iterable[Move]) -> dict[Holding, int]:
    """What lies where, whatever the order in which the moves were entered.

    moves: every move that may still matter, each once, in any order.
    Returns pieces by holder and part: what was counted last, and what came or went after that
    instant; without a count, what came or went since the holder's ledger was opened. Below
    nought where more was used than was there: count again. Of two counts of one instant the
    lesser holds.
    Source: our own rule; perpetual inventory, where a count replaces what was booked before it.
    """
    rows = list(moves)
    opened: dict[int, datetime] = {}
    counts: dict[Holding, tuple[datetime, int]] = {}
    for move in rows:
        if move.opens:
            opened[move.holder] = min(move.at, opened.get(move.holder, move.at))
        if move.counted:
            key, new = (move.holder, move.part), (move.at, -move.quantity)
            counts[key] = max(new, counts.get(key, new))
    stock = {key: -less for key, (_at, less) in counts.items()}
    for move in rows:
        key = (move.holder, move.part)
        if move.counted or move.holder not in opened or move.at < opened[move.holder]:
            continue
        if key not in counts or move.at > counts[key][0]:
            stock[key] = stock.get(key, 0) + move.quantity
    return stock


def van_room(parts: Iterable[tuple[int, int]], kit: Iterable[str]) -> int:
    """Room that a piece of work takes in the van.

    parts: (pieces, room of one) of what is used up, in filter elements.
    kit: the words of its tools; a unit to lend is large. A boat goes once, however many ponds
    it is for, and is not counted.
    Returns filter elements.
    Source: our own judgement.
    """
    large = sum(any(word in item for word in LOANER_WORDS) for item in kit)
    return sum(pieces * room for pieces, room in parts) + LOANER_UNITS * large


@dataclass(frozen=True)
class Arrival:
    """Pieces of a part that are on order; no day: nobody can say when, or the day has passed."""

    part: int
    quantity: int
    on: date | None


@dataclass(frozen=True)
class Wanted:
    """So many pieces of a part for one technician's day."""

    holder: int
    day: date
    part: int
    quantity: int


@dataclass(frozen=True)
class Given:
    """Where the pieces of a `Wanted` come from; what is `short` is nowhere."""

    wanted: Wanted
    in_van: int
    along: int  # to take from the shelf
    coming: int  # on order, and here by that day
    comes_on: date | None
    short: int


def share_out(
    wanted: Iterable[Wanted], stock: Mapping[Holding, int], arrivals: Iterable[Arrival]
) -> list[Given]:
    """Give each day its parts: out of the van first, then from the shelf, then what arrives.

    wanted: what each day needs; earlier days take first, of one day the lower holder.
    stock: what lies where; what is below nought gives nothing.
    arrivals: on order; only those with a day are counted on.
    Returns one entry for each of `wanted`, in the order in which they took.
    Source: our own rule.
    """
    left = {key: max(0, pieces) for key, pieces in stock.items()}
    coming = [[one, one.quantity] for one in _by_day(arrivals) if one.on]
    given = []
    for want in sorted(wanted, key=lambda want: (want.day, want.holder, want.part)):
        in_van = _take(left, (want.holder, want.part), want.quantity)
        along = _take(left, (SHELF, want.part), want.quantity - in_van)
        rest, comes_on = want.quantity - in_van - along, None
        late = rest
        for row in coming:
            one, pieces = row
            if late and pieces and one.part == want.part and one.on <= want.day:
                taken = min(late, pieces)
                row[1], late, comes_on = pieces - taken, late - taken, one.on
        given.append(Given(want, in_van, along, rest - late, comes_on, late))
    return given


@dataclass(frozen=True)
class Wait:
    """Work that cannot begin before its parts are here; no day: nobody knows when that is."""

    on: date | None
    parts: tuple[tuple[int, int], ...]  # (part, pieces) that it waits for


def waits_of(
    needs: Sequence[tuple[int, Mapping[int, int]]],
    on_hand: Mapping[int, int],
    arrivals: Iterable[Arrival],
) -> dict[int, Wait]:
    """Which work waits for an arrival, because what is here goes to work that is due before it.

    needs: (key, pieces by part), the most pressing first.
    on_hand: pieces by part in all vans and on the shelf.
    arrivals: on order.
    Returns the wait of each key that has one. What nobody has ordered is short, and waits for
    nothing: a person has to see it.
    Source: our own rule.
    """
    here = {part: max(0, pieces) for part, pieces in on_hand.items()}
    coming = defaultdict(list)
    for one in _by_day(arrivals):
        coming[one.part].append([one.on, one.quantity])
    found = {}
    for key, parts in needs:
        days: list[date | None] = []
        late: dict[int, int] = {}
        for part, pieces in parts.items():
            rest = pieces - _take(here, part, pieces)
            for row in coming[part]:
                taken = min(rest, row[1])
                if taken:
                    row[1] -= taken
                    rest -= taken
                    days.append(row[0])
                    late[part] = late.get(part, 0) + taken
        if days:
            known = [day for day in days if day]
            on = max(known) if len(known) == len(days) else None
            found[key] = Wait(on, tuple(late.items()))
    return found


def _take(left: dict, key, pieces: int) -> int:
    taken = min(pieces, left.get(key, 0))
    if taken:
        left[key] -= taken
    return taken


def _by_day(arrivals: Iterable[Arrival]) -> list[Arrival]:
    """Those whose day nobody knows come last."""
    return sorted(arrivals, key=lambda one: (one.on is None, one.on or date.max))
