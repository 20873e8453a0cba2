"""Trends that a single odd reading cannot make, and counts of rare events."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from statistics import NormalDist, median

EXACT_UP_TO = 10  # readings; with more the normal approximation of Mann-Kendall is good enough


@dataclass(frozen=True)
class Slope:
    """A robust line through readings, with the interval of its slope."""

    slope: float
    intercept: float
    low: float
    high: float


@dataclass(frozen=True)
class MannKendall:
    """Whether later values are higher (S above 0) or lower than earlier ones.

    `p` is two-sided by the normal approximation; `p_exact` counts all orders of the same values
    where there are few of them, and equals `p` where there are many.
    """

    s: int
    variance: float
    z: float
    p: float
    p_exact: float


def theil_sen(x: Sequence[float], y: Sequence[float], confidence: float = 0.95) -> Slope:
    """The median slope through readings, with its interval.

    x: when, such as days; at least two different values, in any order.
    y: the readings, as many as x.
    confidence: of the interval, above 0 and below 1.
    Returns the slope [unit of y a unit of x], the intercept (median of y less slope times median
        of x), and the interval's ends. With five readings or fewer an interval of 95 % is the
        widest that the slopes give, and less sure than it says: ask `mann_kendall` as well.
    Raises ValueError when x and y differ in number, or no two x differ.
    Source: Theil (1950); Sen, J. Am. Stat. Assoc. 63 (1968) 1379, with his correction for ties.
    """
    if len(x) != len(y):
        raise ValueError(f"there are {len(x)} x and {len(y)} y: give one y for each x")
    if not 0 < confidence < 1:
        raise ValueError("confidence must lie between 0 and 1, such as 0.95")
    points = sorted(zip(x, y, strict=True))
    slopes = sorted(
        (b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(points, 2) if b[0] > a[0]
    )
    if not slopes:
        raise ValueError("a slope needs readings of at least two different times")
    middle = median(slopes)
    half = NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(_variance_of_slopes(x, y))
    count = len(slopes)
    low = max(round((count - half) / 2) - 1, 0)
    high = min(round((count + half) / 2), count - 1)
    return Slope(middle, median(y) - middle * median(x), slopes[low], slopes[high])


def mann_kendall(values: Sequence[float]) -> MannKendall:
    """The test for a trend that asks only whether values rise or fall, not by how much.

    values: readings in the order of time, at least two.
    Returns S, its variance with the correction for ties, Z with the continuity correction, and
        the two-sided p. When all values are equal S and Z are 0 and p is 1.
    Raises ValueError for fewer than two values.
    Source: Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods (1975); exact
        p by counting inversions of a multiset, Stanley, Enumerative Combinatorics 1, 1.7.
    """
    count = len(values)
    if count < 2:
        raise ValueError("a trend needs at least two values")
    s = sum((b > a) - (b < a) for a, b in combinations(values, 2))
    ties = tuple(sorted(Counter(values).values()))
    variance = (_tied(count) - sum(map(_tied, ties))) / 18
    z = (s - math.copysign(1, s)) / math.sqrt(variance) if s else 0.0
    p = math.erfc(abs(z) / math.sqrt(2))
    return MannKendall(s, variance, z, p, _exact_p(s, ties) if count <= EXACT_UP_TO else p)


def poisson_cumulative(mean: float, k: int) -> float:
    """The probability of at most k events where `mean` are expected.

    mean: expected number, 0 or more.
    k: whole number, 0 or more.
    Returns a probability, 0 to 1.
    Raises ValueError outside those ranges.
    Source: Poisson distribution; NIST/SEMATECH e-Handbook, section 1.3.6.6.19.
    """
    if mean < 0 or not math.isfinite(mean):
        raise ValueError("mean must be 0 or more")
    if k < 0 or k != int(k):
        raise ValueError("k must be a whole number, 0 or more")
    if mean == 0:
        return 1.0
    logs = (n * math.log(mean) - mean - math.lgamma(n + 1) for n in range(int(k) + 1))
    return min(math.fsum(map(math.exp, logs)), 1.0)


def stock_level(mean_demand: float, service: float) -> int:
    """The smallest stock that meets the demand of a period with the service wanted.

    mean_demand: units asked for in the period, on average, 0 to 10 000.
    service: probability that the stock lasts, 0 or more and below 1.
    Returns units.
    Raises ValueError outside those ranges.
    Source: quantile of the Poisson distribution.
    """
    if not 0 <= mean_demand <= 10_000:
        raise ValueError("mean_demand must lie between 0 and 10 000 units")
    if not 0 <= service < 1:
        raise ValueError("service must be a probability below 1, such as 0.95")
    if mean_demand == 0:
        return 0
    units, reached = 0, math.exp(-mean_demand)
    while reached < service * (1 - 1e-14):
        units += 1
        step = units * math.log(mean_demand) - mean_demand - math.lgamma(units + 1)
        if units > mean_demand and step < -700:  # nothing is left to add: rounding alone is short
            break
        reached += math.exp(step)
    return units


def constant_failure_rate(times: Sequence[float], failed: Sequence[bool]) -> float:
    """The failure rate of things that do not wear: failures over the time under watch.

    times: age at failure, or age so far, above 0; any unit.
    failed: whether each failed; the others still work.
    Returns failures a unit of time.
    Raises ValueError when the two differ in number, or no time has passed.
    Source: maximum likelihood of the exponential life; NIST/SEMATECH e-Handbook, 8.4.1.3.
    """
    if len(times) != len(failed):
        raise ValueError(f"there are {len(times)} times and {len(failed)} marks of failure")
    total = math.fsum(times)
    if total <= 0 or min(times) < 0:
        raise ValueError("times must be 0 or more, and some time must have passed")
    return sum(map(bool, failed)) / total


def failure_rate_bound(total_time: float, failures: int, confidence: float) -> float:
    """The rate that is not exceeded, with some confidence, however few failures were seen.

    total_time: time under watch of all units together, above 0.
    failures: seen in it, 0 or more.
    confidence: one-sided, above 0 and below 1.
    Returns failures a unit of time: chi-square quantile of 2(failures + 1) over 2 total_time.
    Raises ValueError outside those ranges.
    Source: NIST/SEMATECH e-Handbook, section 8.4.5.1.
    """
    if total_time <= 0 or not math.isfinite(total_time):
        raise ValueError("total_time must be above 0")
    if not 0 < confidence < 1:
        raise ValueError("confidence must lie between 0 and 1, such as 0.9")
    if not 0 <= failures <= 100_000:
        raise ValueError("failures must lie between 0 and 100 000")
    low, high = 0.0, 1.0
    while poisson_cumulative(high, failures) > 1 - confidence:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        if not low < middle < high:
            break
        if poisson_cumulative(middle, failures) > 1 - confidence:
            low = middle
        else:
            high = middle
    return (low + high) / 2 / total_time


def _tied(count):
    return count * (count - 1) * (2 * count + 5)


def _variance_of_slopes(x, y):
    tied = sum(_tied(n) for values in (x, y) for n in Counter(values).values())
    return max(_tied(len(x)) - tied, 0) / 18


def _exact_p(s, ties):
    """The share of all orders of these values whose S lies as far from 0 or farther."""
    counts, untied = _orders(ties)
    extreme = sum(n for moved, n in enumerate(counts) if abs(untied - 2 * moved) >= abs(s))
    return extreme / sum(counts)


@lru_cache(maxsize=512)
def _orders(ties):
    """How many orders of values with these ties have 0, 1, 2 ... pairs the wrong way round."""
    counts, placed = [1], 0
    for tie in ties:
        for nth in range(1, tie + 1):  # the Gaussian binomial of placed + tie over tie
            counts = _divided(_times(counts, placed + nth), nth)
        placed += tie
    return counts, len(counts) - 1


def _times(counts, width):
    """A polynomial times 1 + q + ... + q^(width - 1)."""
    out = [0] * (len(counts) + width - 1)
    for at, n in enumerate(counts):
        for step in range(width):
            out[at + step] += n
    return out


def _divided(counts, width):
    """A polynomial over 1 + q + ... + q^(width - 1), which divides it."""
    out, rest = [], list(counts)
    for at in range(len(counts) - width + 1):
        out.append(rest[at])
        for step in range(width):
            rest[at + step] -= out[-1]
    return out
