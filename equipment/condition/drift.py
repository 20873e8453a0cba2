"""Whether comparable readings move, and when they would cross their limit; never a guess."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import median

from equipment.condition.baseline import At, Read, Reference, Series, normalised, reference_for
from equipment.condition.expected import level_pa, pressure_tolerance_pa
from equipment.condition.history import FLOW, POWER, PRESSURES, RISE, History, Key
from equipment.condition.statistics import mann_kendall, theil_sen
from equipment.condition.wording import amount, word
from equipment.kinds import Moment

FEWEST = 3
SHORTEST = timedelta(days=60)
SIGNIFICANT = 0.05  # of Mann-Kendall, two-sided: judgement
CONFIDENCE = 0.95
SMALLEST = 0.15  # of the way to the limit; less is no drift to speak of, judgement
HORIZON = timedelta(days=3 * 365)  # further ahead a date says nothing: judgement
YEAR_D = 365.25
_FURTHEST = 50 * YEAR_D


@dataclass(frozen=True)
class Drift:
    """What comparable readings of one series do over time.

    points: day and value, level and configuration taken out. slope, low, high: a year, in the
    stored unit, with the interval of 95 %; None where there are too few readings. trend: that
    interval leaves out zero, Mann-Kendall agrees, and it is enough to speak of. limit: None without
    a baseline. over: the last two readings lie beyond it. crosses: earliest and latest day of
    crossing the limit; likely_on: the day by the slope itself.
    """

    key: Key
    points: tuple[tuple[date, float], ...]
    says: str
    slope: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    trend: bool = False
    limit: float | None = None
    over: bool = False
    crosses: tuple[date, date] | None = None
    likely_on: date | None = None

    @property
    def rising(self) -> bool:
        return bool(self.trend and self.slope and self.slope > 0)

    @property
    def upward(self) -> bool:
        """Whether the limit it goes by lies above its first readings."""
        return self.limit is not None and bool(self.points) and self.limit > self.points[0][1]

    def crosses_by(self, on: date) -> bool:
        return self.likely_on is not None and self.likely_on <= on


def drift_of(history: History, series: Series) -> Drift:
    """The drift of one series since it began.

    history: everything known of the system.
    series: readings of one gauge and configuration, with no work between them.
    Returns the drift; with fewer than 3 readings, or less than 60 days, it says that there are
        not enough comparable readings.
    Source: Theil-Sen slope with its interval, Mann-Kendall; 3 readings, 60 days and 5 percent
    are a judgement.
    """
    reference = reference_for(history, series)
    points = _points(history, series, reference)
    limits = _limits(history, series, reference)
    over = _over(limits, points)
    limit = _nearer(limits, points)
    days = (points[-1][0] - points[0][0]).days if points else 0
    if len(points) < FEWEST or days < SHORTEST.days:
        says = f"Not enough comparable readings of the {word(series.key)}: {_count(points, days)}."
        return Drift(series.key, points, says, limit=limit, over=over)
    x = [float(on.toordinal()) for on, _ in points]
    y = [value for _, value in points]
    line, test = theil_sen(x, y, CONFIDENCE), mann_kendall(y)
    trend = line.low * line.high > 0 and test.p_exact < SIGNIFICANT and test.s * line.slope > 0
    if trend:
        limit = limits[1] if line.slope > 0 else limits[0]
        room = abs(limit - reference.value) if limit is not None else 0.0
        trend = abs(line.slope) * days >= SMALLEST * room
    crosses = _crosses(line, x, y, limit, points[-1][0]) if trend and not over else None
    per_year = [YEAR_D * slope for slope in (line.slope, line.low, line.high)]
    says = _says(history, series, points, per_year, trend, (over, crosses, limit))
    likely = _likely(line, x, y, limit) if crosses else None
    drift = Drift(series.key, points, says, *per_year, test.p_exact, trend, limit, over, crosses)
    return replace(drift, likely_on=likely)


def limit_pa(value_pa: float, history: History) -> float:
    """The rise of a pressure over its baseline at which membranes are cleaned.

    value_pa: the baseline [Pa gauge].
    history: with the firm's tolerances.
    Returns pascals: the larger of 1 psi and 15 percent, unless the firm set others.
    Source: judgement; fouling shows as rising pressure loss: EPA/625/1-89/023.
    """
    return max(history.tolerances.limit_pa, history.tolerances.limit_share * value_pa)


def _points(history, series, reference: Reference | None):
    at = reference.at if reference else At(None)
    if at.level_m is None:
        known = (read.level_m for read in series.reads if read.level_m is not None)
        at = replace(at, level_m=next(known, None))
    found_on = {read.on for read in series.reads if read.moment != Moment.AS_LEFT}
    return tuple(
        (read.on, normalised(history, series, read, at))
        for read in series.reads
        if not (read.moment == Moment.AS_LEFT and read.on in found_on)
        and _comparable(history, series, read)
    )


def _comparable(history, series, read: Read):
    """Without its level a pressure is comparable only where the water hardly swings."""
    if series.quantity not in PRESSURES or read.level_m is not None:
        return True
    return level_pa(history.swing) <= history.tolerances.pressure_pa / 2


def _limits(history, series, reference):
    """(lowest, highest) value before something must be done; None where there is no such end."""
    if reference is None:
        return None, None
    t, value = history.tolerances, reference.value
    if series.quantity in PRESSURES:
        down = pressure_tolerance_pa(value, history.gauge_error_pa(series.gauge), t)
        return value - down, value + limit_pa(value, history)
    if series.key == RISE:
        return None, value + t.rise_c
    if series.key == FLOW:
        return value * (1 - t.flow_share), None
    if series.key == POWER:
        return value * (1 - t.power_share), value * (1 + t.power_share)
    return None, None


def _nearer(limits, points):
    """The end of the two that the last reading lies nearer to."""
    ends = [limit for limit in limits if limit is not None]
    if not ends or not points:
        return ends[-1] if ends else None
    return min(ends, key=lambda limit: abs(limit - points[-1][1]))


def _over(limits, points):
    """Two readings running, since one odd reading is a finding and no trend."""
    low, high = limits
    last = [value for _, value in points[-2:]]
    if len(last) < 2:
        return False
    return (low is not None and max(last) <= low) or (high is not None and min(last) >= high)


def _crosses(line, x, y, limit, last_on):
    if limit is None:
        return None
    to_go = limit - median(y)
    days = [to_go / slope for slope in (line.low, line.high)]
    if min(days) < 0:
        return None  # it moves away from the limit
    first, last = (date.fromordinal(round(median(x) + d)) for d in _within(days))
    return (max(first, last_on), max(last, last_on)) if first <= last_on + HORIZON else None


def _likely(line, x, y, limit):
    days = min((limit - median(y)) / line.slope, _FURTHEST)
    return date.fromordinal(round(median(x) + days))


def _within(days):
    return sorted(min(d, _FURTHEST) for d in days)


def _says(history, series, points, per_year, trend, met):
    over, crosses, limit = met
    name, count = word(series.key), _count(points, (points[-1][0] - points[0][0]).days)
    says = f"The {name} has been over its limit at the last two readings." if over else ""
    if not trend:
        if over:
            return f"{says} ({count})".replace(". (", " (") + "."
        return f"The {name} shows no drift that can be told from noise ({count})."
    steepness = [abs(per_year[0]), *sorted(map(abs, per_year[1:]))]
    slope, low, high = (amount(history, series.key, value) for value in steepness)
    way = "rises" if per_year[0] > 0 else "falls"
    says += f" The {name} {way} by {slope} a year (between {low} and {high}; {count})."
    if crosses:
        where = amount(history, series.key, limit)
        says += f" It crosses its limit of {where} {_between(*crosses, points[-1][0])}."
    return says.strip()


def _between(first, last, today):
    until = f"{last:%B %Y}" if last <= today + 2 * HORIZON else "later than can be told"
    if first <= today:
        return f"between now and {until}"
    return (
        f"in {first:%B %Y}" if f"{first:%B %Y}" == until else f"between {first:%B %Y} and {until}"
    )


def _count(points, days):
    one = "reading" if len(points) == 1 else "readings"
    return f"{len(points)} {one} over {days} days"
