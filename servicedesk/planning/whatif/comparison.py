"""Two simulated years beside each other: the months that both have whole."""

from dataclasses import dataclass
from datetime import date, timedelta

from servicedesk.planning.calendar import add_months
from servicedesk.planning.whatif.months import Month, Months, Rates, summed

SECONDS_A_SITE_WEEK = 0.005  # measured on two free cores, with 400 rounds of the search


@dataclass(frozen=True)
class Comparison:
    """Months of A and B in pairs, and their sums. `until` is the first day that is not compared.

    `late` counts what is still undone at the end as well, where both ends are the same day.
    """

    rows: tuple[tuple[Month, Month], ...]
    a: Month
    b: Month
    late_a: int
    late_b: int
    until: date
    is_whole: bool


def compare(a: Months, b: Months) -> Comparison:
    """What two runs have in common.

    a, b: two years of one firm, whole or as far as they were played; both begin on one day.
    Returns a Comparison: of runs that were stopped the calendar months that both have whole, of
        others all, the first and the last perhaps in part.
    Raises ValueError for runs that begin on different days.
    Source: our own rule.
    """
    if a.begins_on != b.begins_on:
        raise ValueError("two runs are compared from the same day on")
    ends = [run.begins_on + timedelta(weeks=run.weeks_done) for run in (a, b)]
    is_whole = all(run.weeks_done == run.weeks for run in (a, b)) and ends[0] == ends[1]
    until = min(ends)
    names = sorted({*a.rows, *b.rows})
    if not is_whole:
        names = [name for name in names if _next_month(name) <= until]
        until = _next_month(names[-1]) if names else a.begins_on
    rows = tuple((a.rows.get(n, Month(n)), b.rows.get(n, Month(n))) for n in names)
    sums = [summed(pair[side] for pair in rows) for side in (0, 1)]
    return Comparison(
        rows,
        *sums,
        sums[0].late + (a.still_late if is_whole else 0),
        sums[1].late + (b.still_late if is_whole else 0),
        until,
        is_whole,
    )


def cost_of(month: Month, rates: Rates) -> float:
    """What a month, or a sum of months, costs.

    month: kilometres and paid time; parts are only counted, for no prices are kept.
    rates: the cost of a kilometre and of a paid hour, in the firm's money.
    Returns a sum in the firm's money. All paid time counts, for a day that stays empty is paid.
    Source: our own rule; the usual rates are common practice, no source.
    """
    return month.km * rates.per_km + month.paid_min / 60 * rates.per_hour


def seconds_wanted(sites: int, weeks: int, iterations: int) -> float:
    """How long a comparison takes, both settings side by side on two cores.

    sites: with work, 0 or more.
    weeks: of the simulated time.
    iterations: of each week's search.
    Returns seconds, a rough guess; a site takes longer the more there are.
    Source: our own measurement, with 140 to 1,400 sites.
    """
    a_site = SECONDS_A_SITE_WEEK * (1 + sites / 3000)
    return sites * weeks * a_site * (0.4 + 0.6 * iterations / 400)


def _next_month(name: str) -> date:
    return add_months(date.fromisoformat(f"{name}-01"), 1)
