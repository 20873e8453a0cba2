"""Lives of parts, by name."""

import math

from equipment.condition import lifetimes
from servicedesk.planning.calculations.engine import Calculation

RUN_TO_FAILURE = "run to failure"
NO_SHAPE = "refuse or use a fixed shape"

# Names that lists of check values give to the same input; the last one stands in the description.
AGES = ("cycles", "km", "miles", "weeks", "months", "years", "hours", "days", "time", "times")
FAILED = ("relapse", "event", "events", "observed", "failed")
AT = ("at_km", "at_weeks", "at_days", "at_hours", "at_time", "at")
TIMES = dict.fromkeys(AGES, "times")
LIVES = TIMES | dict.fromkeys(FAILED, "failed")

# NIST/SEMATECH e-Handbook, section 8.4.1.3: hours at failure; ten more ran 500 h without one.
PUBLISHED = {
    "NIST 8.4.1.3": (
        [54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10,
        [1] * 10 + [0] * 10,
    )
}


def marks(failed: list[int]) -> list[int]:
    """Marks of failure that are nothing but 1 and 0.

    failed: 1 or true for each that failed, 0 or false for each that still works.
    Returns 1 and 0.
    Raises ValueError for anything else.
    Source: our own rule.
    """
    if not set(failed) <= {0, 1}:
        raise ValueError("failed takes 1 for each that failed and 0 for each that still works")
    return [int(mark) for mark in failed]


def weibull_fit(times: list[float], failed: list[int]) -> dict:
    """The Weibull life that best explains parts of which some still work.

    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns eta, the characteristic life, and beta, the shape.
    Raises ValueError for fewer than two different ages at failure: use a fixed shape (weibayes).
    Source: maximum likelihood with right censoring; NIST/SEMATECH e-Handbook, section 8.4.1.3.
    """
    fit = lifetimes.weibull_fit(times, marks(failed))
    return {"eta": fit.eta, "beta": fit.beta}


def weibull_location(times: list[float], failed: list[int]) -> dict:
    """The Weibull life in the logarithm of time, as some books print it.

    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns mu, the logarithm of eta, and sigma, 1 over beta.
    Raises ValueError for fewer than two different ages at failure.
    Source: Meeker & Escobar, Statistical Methods for Reliability Data (1998), chapter 8.
    """
    fit = weibull_fit(times, failed)
    return {"mu": math.log(fit["eta"]), "sigma": 1 / fit["beta"]}


def weibull_advice(times: list[float], failed: list[int]) -> str:
    """Whether a Weibull shape can be fitted at all.

    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns "fit", or "refuse or use a fixed shape" for fewer than two different failures.
    Source: the likelihood has no highest point with one age at failure.
    """
    ages = {t for t, fell in zip(times, marks(failed), strict=True) if fell}
    return "fit" if len(ages) > 1 else NO_SHAPE


def weibull_log_likelihood(
    data: str | None = None, times: list[float] | None = None, failed: list[int] | None = None
) -> float:
    """The log-likelihood of the best Weibull life.

    data: the name of a published example, NIST 8.4.1.3; or give times and failed.
    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns the natural logarithm of the likelihood.
    Raises ValueError for an example that is not known here.
    Source: NIST/SEMATECH e-Handbook, section 8.4.1.3.
    """
    return _fitted(data, times, failed)[0].log_likelihood


def weibull_aic(
    data: str | None = None, times: list[float] | None = None, failed: list[int] | None = None
) -> float:
    """Akaike's criterion of the best Weibull life: lower explains better.

    data: the name of a published example, NIST 8.4.1.3; or give times and failed.
    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns 4 less twice the log-likelihood.
    Raises ValueError for an example that is not known here.
    Source: NIST/SEMATECH e-Handbook, section 8.4.1.3.
    """
    return 4 - 2 * _fitted(data, times, failed)[0].log_likelihood


def weibull_bic(
    data: str | None = None, times: list[float] | None = None, failed: list[int] | None = None
) -> float:
    """Schwarz's criterion of the best Weibull life: lower explains better.

    data: the name of a published example, NIST 8.4.1.3; or give times and failed.
    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    Returns twice the logarithm of the number of parts, less twice the log-likelihood.
    Raises ValueError for an example that is not known here.
    Source: Schwarz, Annals of Statistics 6 (1978) 461.
    """
    fit, count = _fitted(data, times, failed)
    return 2 * math.log(count) - 2 * fit.log_likelihood


def kaplan_meier(
    times: list[float], failed: list[int], at: list[float] | None = None
) -> list[float]:
    """The share of parts still working, with no shape assumed.

    times: age at failure, or age so far, above 0; a list, in one unit.
    failed: 1 for each that failed at that age, 0 for each that still works.
    at: the ages to answer for, a list; without it, each age at which a part failed.
    Returns a share for each, 0 to 1.
    Source: Kaplan & Meier, J. Am. Stat. Assoc. 53 (1958) 457.
    """
    steps = lifetimes.kaplan_meier(times, marks(failed))
    ages = [step.time for step in steps] if at is None else at
    return [lifetimes.survival_at(steps, age) for age in ages]


def weibayes(times: list[float], failures: int, beta: float) -> float:
    """The characteristic life of parts whose shape is known from elsewhere.

    times: age at failure, or age so far, above 0; a list, in one unit.
    failures: how many of them failed, at least 1.
    beta: the shape, above 0.
    Returns eta, in the unit of the times.
    Raises ValueError without a failure.
    Source: Abernethy, The New Weibull Handbook: eta = (sum t^beta / r)^(1/beta).
    """
    return lifetimes.weibayes(times, failures, beta)


def age_replacement(
    eta: float, beta: float, planned_cost: float, failure_cost: float
) -> dict | str:
    """The age at which replacing a part before it fails costs least over the years.

    eta: the characteristic life, above 0.
    beta: the shape, above 0.
    planned_cost, failure_cost: of one replacement, by plan and after a failure, above 0.
    Returns the age T and the cost a unit of time, or "run to failure".
    Raises ValueError outside those ranges.
    Source: Barlow & Proschan, Mathematical Theory of Reliability (1965), chapter 4; Glasser (1967).
    """
    best = lifetimes.age_replacement(eta, beta, planned_cost, failure_cost)
    return {"T": best.age, "cost_per_unit_time": best.cost_rate} if best else RUN_TO_FAILURE


def replacement_age(
    eta: float,
    beta: float,
    planned_cost: float,
    failure_cost: float,
    as_good_as_new: bool = True,
) -> float | str:
    """The age at which replacing a part before it fails costs least, alone.

    eta: the characteristic life, above 0.
    beta: the shape, above 0.
    planned_cost, failure_cost: of one replacement, by plan and after a failure, above 0.
    as_good_as_new: yes: a replacement is a new part; a repair that is less is not calculated.
    Returns the age, in the unit of eta, or "run to failure".
    Raises ValueError outside those ranges, or for repairs that leave the part old.
    Source: Barlow & Proschan, Mathematical Theory of Reliability (1965), chapter 4; Glasser (1967).
    """
    if not as_good_as_new:
        raise ValueError("a replacement is always as good as new here")
    best = lifetimes.age_replacement(eta, beta, planned_cost, failure_cost)
    return best.age if best else RUN_TO_FAILURE


CALCULATIONS = (
    Calculation("weibull_location", weibull_location, (r"weibull mle,? shock absorbers.*",), LIVES),
    Calculation(
        "weibull_advice",
        weibull_advice,
        (r"weibull fit with (?:fewer|less) than (?:2|two) .*failures?.*",),
        LIVES,
    ),
    Calculation(
        "weibull_fit",
        weibull_fit,
        (r"weibull (?:mle|fit|maximum likelihood)\b.*", r"same fit as eta,? beta.*"),
        LIVES,
    ),
    Calculation("weibull_log_likelihood", weibull_log_likelihood, (r"log.likelihood\b.*",), LIVES),
    Calculation("weibull_aic", weibull_aic, (r"aic\b.*",), LIVES),
    Calculation("weibull_bic", weibull_bic, (r"bic\b.*",), LIVES),
    Calculation("mean_life", lifetimes.mean_life, (r"mean life\b.*",)),
    Calculation(
        "kaplan_meier",
        kaplan_meier,
        (r"kaplan.meier\b.*",),
        LIVES | dict.fromkeys(AT, "at"),
    ),
    Calculation("weibayes", weibayes, (r"characteristic life with a fixed shape.*",), TIMES),
    Calculation(
        "conditional_reliability",
        lifetimes.conditional_reliability,
        (r"conditional reliability\b.*",),
    ),
    Calculation("b_life", lifetimes.b_life, (r"life by which a fraction.*", r"b.life\b.*")),
    Calculation("mean_residual_life", lifetimes.mean_residual_life, (r"mean residual life.*",)),
    Calculation(
        "age_replacement",
        age_replacement,
        (r"optimal age replacement interval\b.*", r"no planned replacement pays\b.*"),
    ),
    Calculation("replacement_age", replacement_age, (r"optimal age replacement\b.*",)),
    Calculation(
        "erlang_renewals",
        lifetimes.erlang_renewals,
        (r"renewal function of an (?:erlang|exponential)\b.*",),
        {"rate_per_year": "rate", "t_years": "duration"},
    ),
    Calculation(
        "weibull_renewals", lifetimes.weibull_renewals, (r"renewal function of a weibull\b.*",)
    ),
)


def _fitted(data, times, failed):
    if data is not None and data not in PUBLISHED:
        raise ValueError(f"data must be one of {', '.join(PUBLISHED)}; or give times and failed")
    if data is None and (times is None or failed is None):
        raise ValueError("give times and failed, or the name of a published example as data")
    lives, fell = PUBLISHED[data] if data is not None else (times, marks(failed))
    return lifetimes.weibull_fit(lives, fell), len(lives)
