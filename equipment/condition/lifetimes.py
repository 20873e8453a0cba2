"""How long parts last, from those that failed and those that still work.

A part that still works counts too: it is *censored* at its age of today. Times are in one unit
throughout (hours, days, months); `eta` is the characteristic life, by which 63 % have failed, and
`beta` the shape: below 1 early deaths, 1 pure chance, above 1 wear.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

LONGEST_HORIZON = 50  # characteristic lives


@dataclass(frozen=True)
class WeibullFit:
    """A Weibull life fitted to parts, with how well it fits."""

    eta: float
    beta: float
    log_likelihood: float


@dataclass(frozen=True)
class Step:
    """Where an estimated survival curve falls."""

    time: float
    survival: float
    standard_error: float
    at_risk: int
    failed: int


@dataclass(frozen=True)
class Replacement:
    """The age at which to replace before failure, and what that costs a unit of time."""

    age: float
    cost_rate: float


def weibull_fit(times: Sequence[float], failed: Sequence[bool]) -> WeibullFit:
    """The Weibull life that best explains parts of which some still work.

    times: age at failure, or age so far, above 0.
    failed: whether each failed; the others are censored.
    Returns eta, beta and the log-likelihood.
    Raises ValueError for fewer than two different ages at failure, which tell nothing of the
        shape: use `weibayes` with a fixed one.
    Source: maximum likelihood with right censoring; NIST/SEMATECH e-Handbook, section 8.4.1.3.
    """
    times, ages = _parted(times, failed)
    if len(set(ages)) < 2:
        raise ValueError(
            "fewer than two different ages at failure tell nothing of the shape: "
            "wait for more failures, or use a fixed shape (weibayes)"
        )
    longest = max(times)
    scaled = [time / longest for time in times]
    logs = [math.log(time) for time in scaled]
    mean_log = math.fsum(math.log(age / longest) for age in ages) / len(ages)

    def slack(beta):
        powers = [math.exp(beta * log) for log in logs]
        weighted = math.fsum(power * log for power, log in zip(powers, logs, strict=True))
        return weighted / math.fsum(powers) - 1 / beta - mean_log

    beta = _root(slack, 1.0)
    sum_of_powers = math.fsum(time**beta for time in scaled)
    eta = longest * (sum_of_powers / len(ages)) ** (1 / beta)
    likelihood = math.fsum(
        math.log(beta) - math.log(eta) + (beta - 1) * math.log(age / eta) for age in ages
    ) - math.fsum((time / eta) ** beta for time in times)
    return WeibullFit(eta, beta, likelihood)


def weibayes(times: Sequence[float], failures: int, beta: float) -> float:
    """The characteristic life of parts whose shape is known from elsewhere.

    times: age at failure, or age so far, above 0.
    failures: how many of them failed, at least 1.
    beta: the shape, above 0.
    Returns eta.
    Raises ValueError without a failure (then only `weibayes_bound` says something).
    Source: Abernethy, The New Weibull Handbook: eta = (sum t^beta / r)^(1/beta).
    """
    if not 1 <= failures <= len(times):
        raise ValueError("failures must be at least 1 and not more than there are parts")
    return _life_of_sum(times, beta, failures)


def weibayes_bound(times: Sequence[float], beta: float, confidence: float) -> float:
    """The characteristic life that is surpassed, with some confidence, where nothing failed yet.

    times: ages so far, above 0; none of the parts has failed.
    beta: the shape, above 0.
    confidence: one-sided, above 0 and below 1; 0.632 is the habit of one failure imagined today.
    Returns a lower bound of eta.
    Raises ValueError outside those ranges.
    Source: Abernethy, The New Weibull Handbook; chi-square bound with no failures.
    """
    if not 0 < confidence < 1:
        raise ValueError("confidence must lie between 0 and 1, such as 0.9")
    return _life_of_sum(times, beta, -math.log(1 - confidence))


def kaplan_meier(times: Sequence[float], failed: Sequence[bool]) -> tuple[Step, ...]:
    """The share of parts still working after each age at failure, with no shape assumed.

    times: age at failure, or age so far, above 0.
    failed: whether each failed; one censored at an age of failure was at risk at it.
    Returns a step for each age at failure; the standard error is Greenwood's.
    Raises ValueError when the two differ in number.
    Source: Kaplan & Meier, J. Am. Stat. Assoc. 53 (1958) 457; NIST/SEMATECH e-Handbook, 8.2.1.5.
    """
    times, ages = _parted(times, failed)
    survival, spread, steps = 1.0, 0.0, []
    for age in sorted(set(ages)):
        at_risk, fell = sum(time >= age for time in times), ages.count(age)
        survival *= 1 - fell / at_risk
        if at_risk > fell:
            spread += fell / (at_risk * (at_risk - fell))
        steps.append(Step(age, survival, survival * math.sqrt(spread), at_risk, fell))
    return tuple(steps)


def survival_at(steps: Sequence[Step], time: float) -> float:
    """The share still working after some time, on an estimated survival curve.

    steps: of `kaplan_meier`.
    time: 0 or more.
    Returns a share, 0 to 1; 1 before the first failure.
    Source: as for `kaplan_meier`.
    """
    return next((step.survival for step in reversed(steps) if step.time <= time), 1.0)


def conditional_reliability(eta: float, beta: float, age: float, further: float) -> float:
    """The probability that a part of some age lasts longer by a given time.

    eta, beta: characteristic life and shape, above 0.
    age, further: how old it is and how much longer it shall last, 0 or more.
    Returns a probability, 0 to 1.
    Raises ValueError outside those ranges.
    Source: definition R(age + further) / R(age); NIST/SEMATECH e-Handbook, section 8.1.2.2.
    """
    _check(eta, beta, age, further)
    return math.exp((age / eta) ** beta - ((age + further) / eta) ** beta)


def b_life(eta: float, beta: float, p: float) -> float:
    """The age by which a fraction has failed.

    eta, beta: characteristic life and shape, above 0.
    p: the fraction, above 0 and below 1; 0.1 gives the B10 life, 0.5 the median.
    Returns an age, in the unit of eta.
    Raises ValueError outside those ranges.
    Source: quantile of the Weibull distribution; NIST/SEMATECH e-Handbook, section 1.3.6.6.8.
    """
    _check(eta, beta)
    if not 0 < p < 1:
        raise ValueError("p must be a fraction between 0 and 1, such as 0.1")
    return eta * (-math.log1p(-p)) ** (1 / beta)


def mean_life(eta: float, beta: float) -> float:
    """The mean life of new parts.

    eta, beta: characteristic life and shape, above 0.
    Returns eta times Gamma(1 + 1/beta).
    Raises ValueError outside those ranges.
    Source: NIST/SEMATECH e-Handbook, section 8.1.6.2.
    """
    _check(eta, beta)
    return eta * math.gamma(1 + 1 / beta)


def mean_residual_life(eta: float, beta: float, age: float) -> float:
    """How much longer a part of some age lasts on average.

    eta, beta: characteristic life and shape, above 0.
    age: how old it is, 0 or more.
    Returns a time, in the unit of eta.
    Raises ValueError outside those ranges.
    Source: integral of R(u) / R(age) from the age on, by the upper incomplete gamma function.
    """
    _check(eta, beta, age)
    return eta / beta * _upper_gamma_scaled(1 / beta, (age / eta) ** beta)


def age_replacement(
    eta: float, beta: float, planned_cost: float, failure_cost: float
) -> Replacement | None:
    """The age at which replacing a part before it fails costs least over the years.

    eta, beta: characteristic life and shape, above 0.
    planned_cost, failure_cost: of one replacement, by plan and after a failure, above 0.
    Returns the age and the cost a unit of time; None where running to failure is cheaper: no
        wear (beta of 1 or less), a failure that costs no more, or an age that next to none reach.
    Raises ValueError outside those ranges.
    Source: Barlow & Proschan, Mathematical Theory of Reliability (1965), chapter 4; Glasser,
        Technometrics 9 (1967): h(T) times the integral of R to T, plus R(T), is cf/(cf - cp).
    """
    _check(eta, beta)
    if planned_cost <= 0 or failure_cost <= 0:
        raise ValueError("both costs must be above 0")
    if beta <= 1 or failure_cost <= planned_cost:
        return None
    wanted = failure_cost / (failure_cost - planned_cost)

    def surplus(load):  # load: (T / eta)^beta
        age = load ** (1 / beta)
        return beta * age ** (beta - 1) * _lived(beta, load) + math.exp(-load) - wanted

    farthest = 30.0  # one part in 10^13 lives to see it
    if surplus(farthest) < 0:
        return None
    load = _root(surplus, 1.0)
    alive = math.exp(-load)
    cost = planned_cost * alive + failure_cost * (1 - alive)
    return Replacement(eta * load ** (1 / beta), cost / (eta * _lived(beta, load)))


def weibull_renewals(eta: float, beta: float, horizon: float) -> float:
    """How many replacements a position needs on average, from a new part on.

    eta, beta: characteristic life and shape, above 0.
    horizon: time from now, 0 or more, at most 50 characteristic lives.
    Returns a number of replacements, each made at a failure.
    Raises ValueError outside those ranges.
    Source: renewal equation by the midpoint method of Xie, Communications in Statistics -
        Simulation and Computation 18 (1989) 281.
    """
    _check(eta, beta, horizon)
    if horizon > LONGEST_HORIZON * eta:
        raise ValueError(f"horizon must not exceed {LONGEST_HORIZON} characteristic lives")
    count = round(min(max(300.0, 60 * horizon / eta), 1500.0))
    step = horizon / count
    mid = [-math.expm1(-(((n + 0.5) * step / eta) ** beta)) for n in range(count)]
    renewals, rises = 0.0, []
    for n in range(count):
        failed = -math.expm1(-(((n + 1) * step / eta) ** beta))
        again = math.fsum(rise * mid[n - at] for at, rise in enumerate(rises))
        now = (failed + again - mid[0] * renewals) / (1 - mid[0])
        rises.append(now - renewals)
        renewals = now
    return renewals


def erlang_renewals(rate: float, duration: float, stages: int = 1) -> float:
    """Replacements of a part that fails at the last of some chance stages, in closed form.

    rate: stages passed a unit of time, above 0.
    duration: time from now, 0 or more; rate times duration at most 100 000.
    stages: until it fails, 1 or more; 1 is pure chance.
    Returns a number of replacements.
    Raises ValueError outside those ranges.
    Source: Cox, Renewal Theory (1962): the mean of the whole lives in a Poisson count of stages.
    """
    if not (rate > 0 and duration >= 0 and rate * duration <= 100_000):
        raise ValueError(
            "rate must be above 0, duration 0 or more, and their product 100 000 or less"
        )
    if stages < 1:
        raise ValueError("stages must be 1 or more")
    mean = rate * duration
    if stages == 1 or mean == 0:
        return mean
    last = math.ceil(mean + 12 * math.sqrt(mean) + 60)
    weights = (math.exp(n * math.log(mean) - mean - math.lgamma(n + 1)) for n in range(last))
    return math.fsum(weight * (n // stages) for n, weight in enumerate(weights))


def _check(eta, beta, *times):
    if not (0 < eta < math.inf and 0 < beta < math.inf):
        raise ValueError("lives and shape must be above 0")
    if not all(0 <= time < math.inf for time in times):
        raise ValueError("ages and times must be 0 or more")


def _parted(times, failed):
    """All times, and those at which a part failed."""
    if len(times) != len(failed):
        raise ValueError(f"there are {len(times)} times and {len(failed)} marks of failure")
    if not all(0 < time < math.inf for time in times):
        raise ValueError("every time must be above 0")
    return list(times), [time for time, fell in zip(times, failed, strict=True) if fell]


def _life_of_sum(times, beta, failures):
    if not times:
        raise ValueError("give the ages of the parts")
    longest = max(times)
    _check(longest, beta, *times)
    return longest * (math.fsum((t / longest) ** beta for t in times) / failures) ** (1 / beta)


def _root(function: Callable[[float], float], start: float) -> float:
    """Where a function that rises over all positive numbers passes zero."""
    low = high = start
    while function(low) > 0:
        low /= 2
    while function(high) < 0:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        if not low < middle < high:
            break
        low, high = (middle, high) if function(middle) < 0 else (low, middle)
    return (low + high) / 2


def _lived(beta, load):
    """The mean time lived up to an age, in characteristic lives; load is (age / eta)^beta."""
    if load < 1 + 1 / beta:
        return _lower_gamma(1 / beta, load) / beta
    rest = _upper_gamma_scaled(1 / beta, load) * math.exp(-load)
    return (math.gamma(1 / beta) - rest) / beta


def _lower_gamma(a, x):
    """The lower incomplete gamma function, by its series (Abramowitz & Stegun 6.5.29)."""
    if x == 0:
        return 0.0
    term = total = 1 / a
    n = a
    while abs(term) > abs(total) * 1e-17:
        n += 1
        term *= x / n
        total += term
    return total * math.exp(a * math.log(x) - x)


def _upper_gamma_scaled(a, x):
    """exp(x) times the upper incomplete gamma function, by its continued fraction (6.5.31)."""
    if x < a + 1:
        return math.exp(x) * (math.gamma(a) - _lower_gamma(a, x))
    tiny = 1e-300
    b = x + 1 - a
    c, d = 1 / tiny, 1 / b
    value = d
    for n in range(1, 500):
        step = -n * (n - a)
        b += 2
        d = 1 / (step * d + b or tiny)
        c = b + step / c or tiny
        value *= d * c
        if abs(d * c - 1) < 1e-15:
            break
    return value * math.exp(a * math.log(x))
