"""Which serial numbers a recall is about; a number that nobody can read has to be looked at."""

import re
from enum import StrEnum

PIECE = re.compile(r"\d+|[^\W\d_]+")
UNREADABLE = re.compile(r"[?*]")


class Standing(StrEnum):
    """Where a serial number stands to a range."""

    IN = "in"
    OUT = "out"
    LOOK = "look"  # cannot be told from the register


def refuse_range(first: str, last: str) -> None:
    """Refuse a range whose two ends cannot be compared.

    first, last: the serial numbers at its ends, both within it; an empty one leaves it open.
    Returns nothing.
    Raises ValueError with a sentence that says what to do.
    Source: our own rule.
    """
    low, high = _pieces(first), _pieces(last)
    if (first.strip() and not low) or (last.strip() and not high):
        raise ValueError("Write each end of the range with its digits or letters.")
    if low and high and _form(low) != _form(high):
        raise ValueError(
            "Write both ends of the range in the same form, such as AB4400 and AB4499."
        )
    if low and high and low > high:
        raise ValueError("The range ends before it begins. Exchange its two ends.")


def serial_standing(serial: str, first: str, last: str) -> Standing:
    """Whether a serial number lies in a range, as text and numbers.

    serial: as it stands in the register; case, blanks and hyphens make no difference, and digits
        count as a number, so that 0440 is 440.
    first, last: the ends of the range, both within it; an empty one leaves it open.
    Returns IN or OUT; LOOK for a number that is empty or marked as not readable, and for one
        written in another form than the range whose digits lie in it, for part of it may be
        missing. A range without ends is about every unit, whatever can be read.
    Raises ValueError for ends that cannot be compared.
    Source: our own rule: a doubtful unit is looked at, never left out.
    """
    refuse_range(first, last)
    low, high, own = _pieces(first), _pieces(last), _pieces(serial)
    if not low and not high:
        return Standing.IN
    if not own or UNREADABLE.search(serial):
        return Standing.LOOK
    form = _form(low or high)
    if _form(own) == form:
        inside = (not low or low <= own) and (not high or own <= high)
        return Standing.IN if inside else Standing.OUT
    wanted = [piece for piece in (low or high) if isinstance(piece, int)]
    numbers = [piece for piece in own if isinstance(piece, int)]
    if not numbers and wanted:
        return Standing.LOOK  # words such as "worn off"
    doubtful = any(_near(number, low, high) for number in numbers)
    return Standing.LOOK if doubtful else Standing.OUT


def _pieces(serial):
    """Letters and numbers in turn: ("AB", 4400) of "ab-4400"."""
    found = PIECE.findall(serial.upper())
    return tuple(int(piece) if piece.isdecimal() else piece for piece in found)


def _form(pieces):
    return tuple(type(piece) for piece in pieces)


def _near(number, low, high):
    """Whether a number lies between the last numbers of the two ends."""
    lows = [piece for piece in low if isinstance(piece, int)]
    highs = [piece for piece in high if isinstance(piece, int)]
    return (not lows or lows[-1] <= number) and (not highs or number <= highs[-1])
