"""Trends of readings and counts of rare events, by name; with lives and causes."""

from equipment.condition import statistics
from servicedesk.planning.calculations import cause_rows, lifetime_rows
from servicedesk.planning.calculations.engine import Calculation


def constant_failure_rate(times: list[float], failed: list[int]) -> float:
    """The failure rate of things that do not wear: failures over the time under watch.

    times: age at failure, or age so far, 0 or more; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns failures a unit of time.
    Raises ValueError when no time has passed.
    Source: maximum likelihood of the exponential life; NIST/SEMATECH e-Handbook, 8.4.1.3.
    """
    return statistics.constant_failure_rate(times, lifetime_rows.marks(failed))


def poisson_cumulative(mean: float, k: list[int]) -> list[float]:
    """The probability of at most k events where `mean` are expected.

    mean: expected number, 0 or more.
    k: whole numbers, 0 or more, a list.
    Returns a probability for each, 0 to 1.
    Raises ValueError outside those ranges.
    Source: Poisson distribution; NIST/SEMATECH e-Handbook, section 1.3.6.6.19.
    """
    return [statistics.poisson_cumulative(mean, number) for number in k]


def theil_sen(x: list[float], y: list[float], confidence: float = 0.95) -> dict:
    """The median slope through readings, with its interval.

    x: when, such as days; a list with at least two different values.
    y: the readings, as many as x.
    confidence: of the interval, above 0 and below 1.
    Returns the slope [unit of y a unit of x] and the interval's ends.
    Raises ValueError when x and y differ in number, or no two x differ.
    Source: Theil (1950); Sen, J. Am. Stat. Assoc. 63 (1968) 1379.
    """
    line = statistics.theil_sen(x, y, confidence)
    return {"slope": line.slope, "low": line.low, "high": line.high}


def pressure_slope(
    days: list[float], psi: list[float], confidence: float = 0.95, series: str = ""
) -> dict:
    """The robust slope of gauge readings against days.

    days: since any day, a list with at least two different values.
    psi: the readings [psi], as many as days.
    confidence: of the interval, above 0 and below 1.
    series: what the readings are of; it changes nothing.
    Returns slope and interval [psi/day], and the intercept [psi].
    Raises ValueError when the two differ in number, or no two days differ.
    Source: Theil (1950); Sen, J. Am. Stat. Assoc. 63 (1968) 1379; intercept by the medians.
    """
    line = statistics.theil_sen(days, psi, confidence)
    return {
        "slope_psi_per_day": line.slope,
        "low": line.low,
        "high": line.high,
        "intercept": line.intercept,
    }


def mann_kendall(values: list[float]) -> dict:
    """The test for a trend that asks only whether values rise or fall, not by how much.

    values: readings in the order of time, a list of at least two.
    Returns S, its variance, Z, and the two-sided p by the normal approximation.
    Raises ValueError for fewer than two values.
    Source: Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods (1975).
    """
    test = statistics.mann_kendall(values)
    return {"S": test.s, "Var": test.variance, "Z": test.z, "p": test.p}


def mann_kendall_z(values: list[float]) -> dict:
    """The test for a trend, S and Z alone.

    values: readings in the order of time, a list of at least two.
    Returns S and Z.
    Raises ValueError for fewer than two values.
    Source: Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods (1975).
    """
    test = statistics.mann_kendall(values)
    return {"S": test.s, "Z": test.z}


def mann_kendall_one_sided(values: list[float]) -> float:
    """The one-sided p of the test for a trend, in the direction that the values show.

    values: readings in the order of time, a list of at least two.
    Returns half of the two-sided p by the normal approximation.
    Raises ValueError for fewer than two values.
    Source: Mann, Econometrica 13 (1945) 245; Kendall, Rank Correlation Methods (1975).
    """
    return statistics.mann_kendall(values).p / 2


def mann_kendall_exact(values: list[float]) -> float:
    """The two-sided p of the test for a trend, by counting all orders of the same values.

    values: readings in the order of time, a list of 2 to 10; beyond, the normal approximation.
    Returns a probability, 0 to 1.
    Raises ValueError for fewer than two values.
    Source: inversions of a multiset, Stanley, Enumerative Combinatorics 1, section 1.7.
    """
    return statistics.mann_kendall(values).p_exact


CALCULATIONS = (
    *lifetime_rows.CALCULATIONS,
    *cause_rows.CALCULATIONS,
    Calculation(
        "constant_failure_rate",
        constant_failure_rate,
        (r"constant (?:hazard|failure rate)\b.*",),
        lifetime_rows.LIVES,
    ),
    Calculation(
        "failure_rate_bound",
        statistics.failure_rate_bound,
        (r"exact one.sided bound on a failure rate.*",),
    ),
    Calculation("stock_level", statistics.stock_level, (r"stock level\b.*", r"spares for\b.*")),
    Calculation("poisson_cumulative", poisson_cumulative, (r"poisson cumulative\b.*",)),
    Calculation("theil_sen", theil_sen, (r"theil.sen\b.*",)),
    Calculation("pressure_slope", pressure_slope, (r"robust slope of pressure against days.*",)),
    Calculation("mann_kendall_z", mann_kendall_z, (r"mann.kendall test\b.*",)),
    Calculation("mann_kendall", mann_kendall, (r"mann.kendall s\b.*",)),
    Calculation(
        "mann_kendall_one_sided", mann_kendall_one_sided, (r"one.sided p of the same test.*",)
    ),
    Calculation("mann_kendall_exact", mann_kendall_exact),
)
