"""The clocks of a simulated firm: what is due at each place, and what work resets it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from servicedesk.kinds import Clock, DoneBy
from servicedesk.planning.due.engine import due
from servicedesk.planning.due.facts import Done, Due, Place, TaskRule
from servicedesk.planning.due.watched import WatchedDay
from servicedesk.planning.whatif.coming import until_then
from servicedesk.planning.whatif.world import Duty, Reset, WorkSite

DAYS_IN = {"d": 1.0, "h": 1 / 24, "month": 30.4}
NOON = time(12, tzinfo=UTC)


@dataclass
class RunningDuty:
    """One task at one place as the year goes on. What the engine said is kept while it holds."""

    key: str
    duty: Duty
    done: tuple[Done, ...]
    item: Due | None = None
    holds_until: date = date.min  # the first day on which another answer may come
    begins_late: bool = False  # and not done since

    @property
    def every_days(self) -> float | None:
        """The shortest interval; none for what keeps a season or follows an event."""
        days = [
            rhythm.every * DAYS_IN.get(rhythm.unit, 1.0)
            for rule, _ in self.duty.rules.values()
            for rhythm in rule.rhythms
            if rhythm.every and rhythm.clock not in (Clock.SEASON, Clock.EVENT)
        ]
        return min(days, default=None)

    def due_on(self, today: date) -> Due | None:
        """The next undone occasion, by what is known on a day."""
        if today >= self.holds_until:
            self._ask(today)
        return self.item

    def _ask(self, today: date) -> None:
        duty = self.duty
        rule, line = duty.rules.get(duty.state_on(today), (None, None))
        changes = [row.on for row in duty.states if row.on > today]
        self.item, self.holds_until = None, min(changes, default=date.max)
        if rule is None:
            return
        watched = WatchedDay(today)
        place = replace(duty.place, timeline=until_then(line, today), done=self.done)
        self.item = _workable(rule, place, watched)
        self.holds_until = min(self.holds_until, watched.until)

    def reset(self, done: Done) -> None:
        self.done = (*self.done, done)
        self.holds_until = date.min


class Clocks:
    """All that is due in a simulated firm."""

    def __init__(self, sites: Iterable[WorkSite], begins_on: date):
        self.by_site: dict[str, list[RunningDuty]] = {}
        self.by_key: dict[str, RunningDuty] = {}
        self._listening: dict[Reset, list[RunningDuty]] = defaultdict(list)
        self._count = 0
        for site in sites:
            rows = [
                RunningDuty(f"{site.key}/{n}", duty, duty.place.done)
                for n, duty in enumerate(site.duties)
            ]
            self.by_site[site.key] = rows
            for row in rows:
                self.by_key[row.key] = row
                for reset in row.duty.resets:
                    self._listening[reset].append(row)
                item = row.due_on(begins_on)
                if item and item.closes_on and item.closes_on < begins_on:
                    row.begins_late = True

    def work(self, row: RunningDuty, day: date) -> int:
        """A duty is done on a day; so is whatever its work counts for. Days after its tolerance."""
        item = row.item
        late = (day - item.closes_on).days if item and item.closes_on else 0
        self._count += 1
        done = Done(
            at=datetime.combine(day, NOON),
            on=day,
            key=f"whatif-{self._count:07d}",
            name=row.duty.work.name,
            by=DoneBy.TECHNICIAN,
            occasion=item.occasion if item else "",
        )
        inherited = row.begins_late
        key = (row.duty.place_key, row.duty.work.slug)
        for other in self._listening[key]:
            other.begins_late = False
            other.reset(done)
        return 0 if inherited else max(0, late)

    def late_on(self, day: date) -> list[int]:
        """Days after its tolerance of each undone task; without what was late at the beginning."""
        found = []
        for row in self.by_key.values():
            item = row.due_on(day)
            if item and item.closes_on and item.closes_on < day and not row.begins_late:
                found.append((day - item.closes_on).days)
        return found


def _workable(rule: TaskRule, place: Place, watched: WatchedDay) -> Due | None:
    """What is due and may be done: nothing while its clock stands still or somebody blocked it."""
    item = due(rule, place, watched)
    if item is None or item.on is None or item.paused or "blocked" in item.basis:
        return None
    return item


def first_monday(today: date) -> date:
    """The Monday on which a simulated year begins.

    today: any day.
    Returns the next Monday; today if it is one.
    Source: our own rule.
    """
    return today + timedelta(days=-today.weekday() % 7)
