"""Lists of numbers, as people and programs give them to a calculation."""

import math
import re


def numbers(given: list[float] | str) -> list[float]:
    """A list of finite numbers.

    given: a list, or text whose numbers are parted by commas, semicolons or blanks.
    Returns the numbers.
    Raises ValueError for anything else.
    Source: our own rule.
    """
    if isinstance(given, str):
        given = [part for part in re.split(r"[\s,;]+", given) if part]
    if not isinstance(given, list | tuple) or any(isinstance(part, bool) for part in given):
        raise ValueError("write a list of numbers, such as 6.2, 6.3, 6.5")
    read = [float(part) for part in given]
    if not all(math.isfinite(number) for number in read):
        raise ValueError("every number of a list must be finite")
    return read


def marks(given: list[int] | str) -> list[int]:
    """A list of marks of failure.

    given: a list or text of 1 and 0, or a list of true and false.
    Returns 1 for each that failed, 0 for the others.
    Raises ValueError for anything else.
    Source: our own rule.
    """
    if isinstance(given, list | tuple):
        given = [int(part) if isinstance(part, bool) else part for part in given]
    read = numbers(given)
    if not set(read) <= {0, 1}:
        raise ValueError("failed takes 1 for each that failed and 0 for each that still works")
    return [int(mark) for mark in read]
