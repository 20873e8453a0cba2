"""How long a system ran: days and hours between any two dates, and when a count is reached."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Set
from dataclasses import dataclass
from datetime import date
from math import ceil
from typing import NamedTuple

from equipment.kinds import RUNNING, SystemState

HOURS_PER_DAY = 24.0
LAST_DAY = date(2199, 12, 31).toordinal()
TRUSTED_DAYS = 14  # running days that a metered rate has to cover before it is carried forward
EPSILON = 1e-6


class StateFrom(NamedTuple):
    """From this day on the system is in this state; a later row of one day wins."""

    on: date
    state: SystemState


class ScheduleFrom(NamedTuple):
    on: date
    hours_per_day: float


class MeterSpan(NamedTuple):
    """Hours that one meter counted between two readings."""

    from_on: date
    to_on: date
    hours: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """Running sums at each day on which something changed; the last rates go on for ever.

    `days` are ordinals; `ran`, `hours`, `metered` are sums at their beginning: days run, hours
    run, and days run under the eye of a meter.
    """

    days: tuple[int, ...]
    states: tuple[SystemState | None, ...]
    counts: tuple[bool, ...]
    rates: tuple[float, ...]
    ran: tuple[float, ...]
    hours: tuple[float, ...]
    metered: tuple[float, ...]
    metered_until: int | None

    def days_run(self, on: date) -> float:
        i = self._segment(on)
        return self.ran[i] + (on.toordinal() - self.days[i]) * self.counts[i] if i >= 0 else 0.0

    def hours_run(self, on: date) -> float:
        i = self._segment(on)
        return self.hours[i] + (on.toordinal() - self.days[i]) * self.rates[i] if i >= 0 else 0.0

    def hours_per_day(self, on: date) -> float:
        i = self._segment(on)
        return self.rates[i] if i >= 0 else 0.0

    def when_days_run(self, count: float) -> date | None:
        """The first day by which so many days have been run; None when that is not in sight."""
        return self._when(count, self.ran, self.counts)

    def when_hours_run(self, count: float) -> date | None:
        return self._when(count, self.hours, self.rates)

    def is_metered(self, since: date) -> bool:
        """Whether a meter saw every running day from `since` to its last reading."""
        if self.metered_until is None or self.metered_until <= since.toordinal():
            return False
        last = date.fromordinal(self.metered_until)
        i, j = self._segment(since), self._segment(last)
        if i < 0:
            return False
        seen = self.metered[j] - self.metered[i]
        # `since` may lie inside a metered stretch, whose beginning does not count
        inside = self.metered[i + 1] > self.metered[i] if i + 1 < len(self.days) else False
        seen -= (since.toordinal() - self.days[i]) * self.counts[i] * inside
        return seen + EPSILON >= self.days_run(last) - self.days_run(since)

    @property
    def stands_still(self) -> bool:
        return not self.counts or not self.counts[-1]

    def still_since(self) -> tuple[date, SystemState | None] | None:
        """Since when the count has stood still, and in which state; None while it goes."""
        if not self.stands_still or not self.days:
            return None
        i = len(self.days) - 1
        while i > 0 and not self.counts[i - 1]:
            i -= 1
        return date.fromordinal(self.days[i]), self.states[-1]

    def pauses(self, first: date, last: date) -> dict[SystemState, int]:
        """Days between two dates on which the count stood still, by state."""
        found: dict[SystemState, int] = defaultdict(int)
        a, b = first.toordinal(), last.toordinal()
        for i in range(max(self._segment(first), 0), len(self.days)):
            end = self.days[i + 1] if i + 1 < len(self.days) else b
            days = min(end, b) - max(self.days[i], a)
            if days > 0 and not self.counts[i] and self.states[i] is not None:
                found[self.states[i]] += days
        return dict(found)

    def _segment(self, on):
        return bisect_right(self.days, on.toordinal()) - 1

    def _when(self, count, sums, rates):
        i = bisect_left(sums, count - EPSILON)
        if i == 0:
            return date.fromordinal(self.days[0]) if self.days else None
        i -= 1
        if not rates[i]:
            return None
        day = self.days[i] + ceil((count - sums[i]) / rates[i] - EPSILON)
        return date.fromordinal(day) if day <= LAST_DAY else None


class Piece(NamedTuple):
    """A unit sat in a system from a day to a day; `line` is that system's."""

    line: Timeline
    from_on: date
    to_on: date | None  # the first day without it


def timeline(
    states: Iterable[StateFrom],
    schedules: Iterable[ScheduleFrom] = (),
    spans: Iterable[MeterSpan] = (),
    counting: Set[SystemState] = RUNNING,
) -> Timeline:
    """Sums of days and hours run, from the state history, the timer and the meter.

    A day belongs to the last state that began on or before it. Hours are the meter's inside its
    spans; elsewhere the timer's hours, 24 without one, on running days. After the last reading
    the metered rate is carried on when it covers 14 running days and the timer has not changed.

    states: changes of state, any order; on one day the last given wins.
    schedules: hours a day [h/d], 0 to 24, from a day on.
    spans: metered hours [h]; spans that cannot be (backwards, or over 24 h a day) are left out.
    counting: the states in which the count advances.
    Returns a Timeline.
    Source: our own rule.
    """
    by_day = {s.on.toordinal(): s.state for s in states}
    timer = {s.on.toordinal(): s.hours_per_day for s in schedules}
    good = _possible(spans)
    marks = {*by_day, *timer, *(d.toordinal() for s in good for d in s[:2])}
    days = sorted(marks)
    state_of = _filled(days, by_day, None)
    timer_of = _filled(days, timer, HOURS_PER_DAY)
    counts = [state in counting for state in state_of]
    rates = [timer_of[i] if state_of[i] in RUNNING else 0.0 for i in range(len(days))]
    seen = _measure(days, counts, rates, good, timer)
    return Timeline(
        days=tuple(days),
        states=tuple(state_of),
        counts=tuple(counts),
        rates=tuple(rates),
        ran=_sums(days, counts),
        hours=_sums(days, rates),
        metered=_sums(days, [c and s for c, s in zip(counts, seen, strict=True)]),
        metered_until=good[-1].to_on.toordinal() if good else None,
    )


def joined(pieces: Iterable[Piece], away: SystemState = SystemState.REMOVED) -> Timeline:
    """How long a serial unit ran, in one system after another.

    pieces: from which day to which a unit sat in which system, in any order; pieces of one unit
        do not overlap, and the last may have no end.
    away: what to call the days between two pieces, on which nothing counts.
    Returns a Timeline whose sums go on from piece to piece: hours travel with the unit.
    Source: our own rule.
    """
    rows: dict[int, tuple] = {}
    until = None
    for piece in sorted(pieces, key=lambda piece: piece.from_on):
        line, first = piece.line, piece.from_on.toordinal()
        last = piece.to_on.toordinal() if piece.to_on else LAST_DAY
        rows[first] = (None, False, 0.0, False)
        for i, day in enumerate(line.days):
            begins = max(day, first)
            if begins < min(line.days[i + 1] if i + 1 < len(line.days) else last, last):
                seen = i + 1 < len(line.days) and line.metered[i + 1] > line.metered[i]
                rows[begins] = (line.states[i], line.counts[i], line.rates[i], seen)
        if piece.to_on:
            rows[last] = (away, False, 0.0, False)
        if line.metered_until and line.metered_until > first:
            until = min(line.metered_until, last)
    days = sorted(rows)
    states, counts, rates, seen = (
        zip(*(rows[day] for day in days), strict=True) if days else [()] * 4
    )
    return Timeline(
        days=tuple(days),
        states=states,
        counts=counts,
        rates=rates,
        ran=_sums(days, counts),
        hours=_sums(days, rates),
        metered=_sums(days, [c and s for c, s in zip(counts, seen, strict=True)]),
        metered_until=until,
    )


def _possible(spans):
    good = []
    for span in sorted(spans):
        length = (span.to_on - span.from_on).days
        after_last = not good or span.from_on >= good[-1].to_on
        # a reading is taken at some hour of its day, so a span may hold most of a day more
        if length > 0 and 0 <= span.hours <= (length + 1) * HOURS_PER_DAY and after_last:
            good.append(span)
    return good


def _filled(days, values, first):
    found = []
    for day in days:
        first = values.get(day, first)
        found.append(first)
    return found


def _measure(days, counts, rates, spans, timer):
    """Put the metered rates in place of the timer's; say which stretches a meter saw."""
    seen = [False] * len(days)
    for span in spans:
        a, b = (
            bisect_left(days, span.from_on.toordinal()),
            bisect_left(days, span.to_on.toordinal()),
        )
        running = sum(days[i + 1] - days[i] for i in range(a, b) if counts[i] or rates[i])
        for i in range(a, b):
            seen[i] = True
            if running:
                rates[i] = span.hours / running if counts[i] or rates[i] else 0.0
            else:  # hours without a running day: the history has a gap, the meter is right
                rates[i] = span.hours / (span.to_on - span.from_on).days
        last = (b, span.hours / running if running >= TRUSTED_DAYS else None)
    if spans and last[1] is not None and max(timer, default=0) <= spans[-1].from_on.toordinal():
        for i in range(last[0], len(days)):
            rates[i] = min(last[1], HOURS_PER_DAY) if rates[i] else 0.0
    return seen


def _sums(days, rates):
    total, sums = 0.0, []
    for i in range(len(days)):
        sums.append(total)
        if i + 1 < len(days):
            total += (days[i + 1] - days[i]) * rates[i]
    return tuple(sums)
