"""One clock each: when a rhythm next comes round, with the sentence that says why."""

from bisect import bisect_right
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from servicedesk.kinds import Anchor, Clock
from servicedesk.planning.calendar import add_months
from servicedesk.planning.due import sentences
from servicedesk.planning.due.facts import Done, Place, RhythmRule, TaskRule

LONGEST_SERIES = {"d": 150 * 366, "month": 150 * 12}  # in units; no system stands longer
MISSED_WINDOW_DAYS = 60  # how long a missed season window is shown before the next one counts


@dataclass(slots=True)
class Start:
    """What the clocks count from: the last work, a waived occasion, or the beginning.

    `assumed`: where the records begin, since what was done before them is not known.
    """

    on: date
    words: str
    last: Done | None = None
    waived: bool = False
    assumed: bool = False


@dataclass(slots=True)
class Strike:
    """When one clock strikes; without a day it stands still, and the sentence says so."""

    on: date | None
    opens_on: date | None
    closes_on: date | None
    because: str
    basis: dict = field(default_factory=dict)
    estimated: bool = False
    left: float = 1.0  # share of the interval that is left while it stands still


def strike(rhythm: RhythmRule, rule: TaskRule, place: Place, start: Start, today: date) -> Strike:
    """When one rhythm of a task next comes round.

    rhythm: the clock, with its interval in hours, days or months.
    rule: the task, for its tolerance in days.
    place: what is known of the place.
    start: what the clock counts from.
    today: a date at the site; only decides which yearly occasion is meant.
    Returns a Strike; None in `on` when the clock stands still or has no window in sight.
    Raises ValueError for a clock that an engine of its own looks after, such as event.
    Source: our own rule.
    """
    if rhythm.clock == Clock.RUN:
        return _counted(rhythm, rule, place, start, in_hours=True)
    if rhythm.clock == Clock.OP:
        return _counted(rhythm, rule, place, start, in_hours=False)
    if rhythm.clock == Clock.CAL and rule.anchor == Anchor.FIXED:
        return _fixed(rhythm, rule, place, start, today)
    if rhythm.clock == Clock.CAL:
        return _float(rhythm, rule, start)
    if rhythm.clock == Clock.SEASON:
        return _season(rule, place, start, today)
    if rhythm.clock == Clock.COND:
        return _condition(rule, place, start)
    raise ValueError(f"the clock {rhythm.clock} does not count by itself")


def _counted(rhythm, rule, place, start, *, in_hours):
    line = place.timeline
    at, when = (
        (line.hours_run, line.when_hours_run) if in_hours else (line.days_run, line.when_days_run)
    )
    fresh = not (start.last or start.waived or start.assumed)
    before = place.hours_before if fresh and in_hours else 0.0
    begun = at(start.on) - before
    on = _reached(rhythm, lambda every: when(begun + every))
    still = line.still_since()
    words = sentences.interval(rhythm)
    basis = {"clock": str(rhythm.clock), "every": rhythm.every, "unit": rhythm.unit}
    if before:
        basis["hours_before"] = before
        start = replace(start, words=f"{start.words}, with {before:,.0f} h run before")
    if on is None or still:
        left = rhythm.every - (at(max(still[0], start.on)) - begun) if still else rhythm.every
        because = sentences.stands_still(words, start, still, left, rhythm.unit)
        return Strike(None, None, None, because, basis, left=left / rhythm.every)
    on = max(on, start.on)
    rate = round(line.hours_per_day(max(on - timedelta(days=1), start.on)), 1)
    unmetered = in_hours and not line.is_metered(start.on)
    pauses = line.pauses(start.on, on)
    if in_hours:
        basis |= {"hours_per_day": rate, "metered_until": _metered_until(line, start, unmetered)}
    basis["paused_days"] = {str(state): days for state, days in sorted(pauses.items())}
    opens, closes = _tolerance_of_running_days(rule, line, start, on)
    because = sentences.counted(words, start, pauses, rate if in_hours else None, basis)
    return Strike(on, opens, closes, because, basis, unmetered or start.assumed)


def _tolerance_of_running_days(rule, line, start, on):
    """Early and late days are running days, so that a winter's pause is nobody's delay."""
    ran = line.days_run(on)
    opens = line.when_days_run(ran - rule.early_days) or on
    closes = line.when_days_run(ran + rule.late_days) or on
    return max(min(opens, on), start.on), max(closes, on)


def _metered_until(line, start, unmetered):
    if unmetered or line.metered_until is None:
        return None
    return date.fromordinal(line.metered_until).isoformat()


def _reached(rhythm, when):
    """The day an interval is reached. A changed interval makes nothing overdue backwards."""
    on = when(rhythm.every)
    if rhythm.changed_on and rhythm.previous_every and on and on < rhythm.changed_on:
        before = when(rhythm.previous_every)
        on = max(on, min(before or rhythm.changed_on, rhythm.changed_on))
    return on


def _float(rhythm, rule, start):
    """An interval of days, or of calendar months, from the day it was done last."""
    on = _reached(rhythm, lambda every: _later(start.on, every, rhythm.unit))
    basis = {"clock": str(rhythm.clock), "every": rhythm.every, "unit": rhythm.unit}
    opens, closes = _tolerance(rule, on, start)
    because = sentences.counted(sentences.interval(rhythm), start, {}, None)
    return Strike(on, opens, closes, because, basis, start.assumed)


def _later(day, every, unit):
    return add_months(day, int(every)) if unit == "month" else day + timedelta(days=every)


def _fixed(rhythm, rule, place, start, today):
    """A series that keeps its day, counted from the original anchor whenever it was done."""
    step, anchor, unit = int(rhythm.every), place.since, rhythm.unit
    early = timedelta(days=rule.early_days)

    def last_opened_by(day):
        # By comparisons alone, so that a watched day knows until when the answer holds.
        numbers = range(1, LONGEST_SERIES[unit] // step + 2)
        return bisect_right(numbers, day, key=lambda n: _later(anchor, n * step, unit) - early)

    if start.last or start.waived:
        number = last_opened_by(start.on) + 1
    else:
        number = max(last_opened_by(today), 1)  # earlier years without a record do not pile up
        if start.assumed:  # what fell due before the records begin may well have been done
            while _later(anchor, number * step, unit) <= start.on:
                number += 1
    on = _later(anchor, number * step, unit)
    basis = {"clock": "cal", "every": rhythm.every, "unit": unit, "anchor": anchor.isoformat()}
    because = sentences.fixed(sentences.interval(rhythm), place.since_what, anchor, start)
    return Strike(on, on - early, on + timedelta(days=rule.late_days), because, basis)


def _season(rule, place, start, today):
    early, late = timedelta(days=rule.early_days), timedelta(days=rule.late_days)
    shown = timedelta(days=MISSED_WINDOW_DAYS)
    for window in place.windows:
        opens, closes = window.opens_on - early, window.closes_on + late
        counts_from = min(opens, window.counts_from or opens)
        counted = (start.last or start.waived) and start.on >= counts_from
        if not counted and closes >= start.on and closes + shown >= today:
            basis = {
                "clock": "season",
                "window": [window.opens_on.isoformat(), window.closes_on.isoformat()],
            }
            return Strike(window.closes_on, opens, closes, sentences.season(window, start), basis)
    return Strike(None, None, None, "", {})


def _condition(rule, place, start):
    """Due from the day of the first finding that no work has answered."""
    open_ = [f for f in place.findings if f.on > start.on or not (start.last or start.waived)]
    if not open_:
        return Strike(None, None, None, "", {})
    first = min(open_, key=lambda finding: (finding.on, finding.occasion))
    basis = {"clock": "cond", "finding": first.occasion, "found_on": first.on.isoformat()}
    closes = first.on + timedelta(days=rule.late_days)
    return Strike(first.on, first.on, closes, f"called for by {first.what}", basis)


def _tolerance(rule, on, start):
    opens = max(on - timedelta(days=rule.early_days), min(start.on, on))
    return opens, on + timedelta(days=rule.late_days)
