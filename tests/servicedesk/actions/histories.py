"""Random histories of two ponds, kept twice: as records, and as plain lists counted day by day."""

import calendar
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from equipment.kinds import RUNNING, PositionKind, Quantity, SystemState
from equipment.models import Fitting, Reading, ReadingSet, StateChange
from servicedesk.actions.due import refresh_all, refresh_sites, refresh_watched
from servicedesk.actions.facts import facts_of
from servicedesk.actions.marks import look_at, mark, standing
from servicedesk.kinds import Anchor, Clock, DecisionKind, PlaceKind, WorkState
from servicedesk.models import Decision, DueItem, place_of
from tests import make

BEGIN = date(2026, 1, 31)
NOW = datetime(2026, 11, 25, 18, tzinfo=UTC)
FAR = 1_000  # days that are counted one by one
ZONES = ("America/Chicago", "Pacific/Auckland")
RUN_H, OP_D, OVERHAUL_H, EARLY, STEP = 900, 60, 2_000, 5, 1
shares = st.one_of(st.just(0.0), st.floats(0.2, 1))  # of all day long
moments = st.integers(30, (NOW.date() - BEGIN).days * 24 - 24)  # hours after the beginning
states = st.sampled_from([*sorted(RUNNING)[:3], SystemState.SHUT_WINTER, SystemState.FAILED])


def instant(hours):
    return datetime(BEGIN.year, BEGIN.month, BEGIN.day, tzinfo=UTC) + timedelta(hours=hours)


@dataclass
class Pond:
    """One system in its own zone, with the facts that were entered about it, as plain lists."""

    zone: str
    rows: dict = field(default_factory=dict)
    states: list = field(default_factory=list)  # [at, state]
    spans: list = field(default_factory=list)  # metered (from, to, hours)
    works: list = field(default_factory=list)  # (slug, at, counts)
    seats: list = field(default_factory=list)  # [unit, from, to]
    put_off: list = field(default_factory=list)  # (decided at, about, until)

    def on(self, at):
        return at.astimezone(ZoneInfo(self.zone)).date()

    def running(self):
        """Whether it ran, day by day."""
        found, running = [], False
        # The last change of a day says how the day is counted.
        changes = {(self.on(at) - BEGIN).days: state for at, state in sorted(self.states)}
        for n in range(FAR):
            running = SystemState(changes[n]) in RUNNING if n in changes else running
            found.append(running)
        return found

    def hours(self):
        """Hours run, day by day: the meter's where it was read, else all day long."""
        running = self.running()
        found = [24.0 if ran else 0.0 for ran in running]
        for from_on, to_on, hours in self.spans:
            days = range((from_on - BEGIN).days, (to_on - BEGIN).days)
            ran = sum(running[n] for n in days)
            for n in days:
                found[n] = (hours / ran if running[n] else 0.0) if ran else hours / len(days)
        if self.spans and ran >= 14:
            for n in range((self.spans[-1][1] - BEGIN).days, FAR):
                found[n] = min(hours / ran, 24.0) if running[n] else 0.0
        return found


class Histories(RuleBasedStateMachine):
    """Facts come in at any order of their days; due days must be those of a count by hand."""

    def __init__(self):
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.tasks = {
            "run": make.task(clock=Clock.RUN, every=RUN_H, unit="h"),
            "op": make.task(clock=Clock.OP, every=OP_D),
            "month": make.task(
                clock=Clock.CAL,
                every=STEP,
                unit="month",
                anchor=Anchor.FIXED,
                place_kind=PlaceKind.SYSTEM,
                position_kind="",
                early_days=EARLY,
            ),
            "overhaul": make.task(
                clock=Clock.RUN,
                every=OVERHAUL_H,
                unit="h",
                position_kind=PositionKind.COMPRESSOR,
            ),
        }
        self.by = make.manager()
        self.ponds = [self.pond(zone) for zone in ZONES]
        kind = make.compressor_type()
        self.units = [make.component(type=kind) for _ in self.ponds]
        for pond, unit in zip(self.ponds, self.units, strict=True):
            self.sit(pond, unit, BEGIN)
        self.swapped_on = BEGIN
        mill = self.ponds[0]
        self.meter_type = make.compressor_type(kind=PositionKind.METER, compressor_kind="")
        mill.rows["meter"] = make.position(
            PositionKind.METER, system=mill.rows["system"], serves=mill.rows["compressor"]
        )
        make.fit(make.component(type=self.meter_type), mill.rows["meter"], from_on=BEGIN)
        self.read_on, self.shown = None, 500.0
        self.changes, self.closed = [], []
        self.refresh(*self.ponds)

    def pond(self, zone):
        system = make.system(
            site=make.site(time_zone=zone),
            installed_on=BEGIN,
            commissioned_on=BEGIN,
            state=None,
        )
        compressor = make.position(system=system)
        filter_ = make.position(PositionKind.FILTER, system=system, serves=compressor)
        rows = {"system": system, "compressor": compressor, "filter": filter_}
        found = Pond(zone, rows)
        self.enter_state(found, 13, SystemState.RUNNING)
        return found

    def place(self, pond, slug):
        return pond.rows[{"month": "system", "overhaul": "compressor"}.get(slug, "filter")]

    def refresh(self, *ponds):
        refresh_sites({pond.rows["system"].site_id for pond in ponds}, now=NOW)

    def enter_state(self, pond, hours, state, corrects=None):
        at = instant(hours)
        row = StateChange.objects.create(
            system=pond.rows["system"], at=at, state=state, entered_at=NOW, corrects=corrects
        )
        pond.states.append((at, state))
        return row

    def sit(self, pond, unit, on):
        make.fit(unit, pond.rows["compressor"], from_on=on)
        pond.seats.append([unit.pk, on, None])

    @rule(n=st.integers(0, 1), hours=moments, state=states)
    def run_or_stop(self, n, hours, state):
        at = instant(hours)
        if any(at == known for known, _ in self.ponds[n].states):
            return
        row = self.enter_state(self.ponds[n], hours, state)
        self.changes.append((self.ponds[n], row, (at, state)))
        self.refresh(self.ponds[n])

    @precondition(lambda self: self.changes)
    @rule(data=st.data(), hours=moments, state=states)
    def correct_a_state(self, data, hours, state):
        pond, row, entered = self.changes.pop(
            data.draw(st.integers(0, len(self.changes) - 1), label="which")
        )
        if any(instant(hours) == known for known, _ in pond.states):
            return
        pond.states.remove(entered)
        newer = self.enter_state(pond, hours, state, corrects=row)
        self.changes.append((pond, newer, (instant(hours), state)))
        self.refresh(pond)

    @rule(
        n=st.integers(0, 1),
        hours=moments,
        slug=st.sampled_from(["run", "op", "month", "overhaul"]),
        state=st.sampled_from(WorkState),
    )
    def visit(self, n, hours, slug, state):
        pond, at = self.ponds[n], instant(hours)
        row = make.work(self.place(pond, slug), self.tasks[slug], done_at=at, state=state)
        pond.works.append((slug, at, row))
        self.closed.append((pond, row))
        self.refresh(pond)

    @precondition(lambda self: self.closed)
    @rule(data=st.data(), state=st.sampled_from(WorkState))
    def review_a_work(self, data, state):
        pond, row = data.draw(st.sampled_from(self.closed), label="which")
        row.state = state
        row.save()
        self.refresh(pond)

    @rule(days=st.integers(10, 60), share=shares)
    def read_the_meter(self, days, share):
        on = (self.read_on or BEGIN + timedelta(days=2)) + timedelta(days=days)
        if on + timedelta(days=2) > NOW.date():
            return
        if self.read_on:
            hours = round(days * 24 * share, 1)
            self.shown += hours
            self.ponds[0].spans.append((self.read_on, on, hours))
        self.take_reading(on, self.shown)
        self.read_on = on
        self.refresh(self.ponds[0])

    def take_reading(self, on, value):
        pond = self.ponds[0]
        at = datetime(on.year, on.month, on.day, 12, tzinfo=ZoneInfo(pond.zone))
        taken = ReadingSet.objects.create(system=pond.rows["system"], taken_at=at, entered_at=NOW)
        Reading.objects.create(
            set=taken, quantity=Quantity.RUN_HOURS, position=pond.rows["meter"], value=value
        )

    @precondition(lambda self: self.read_on)
    @rule(days=st.integers(1, 30), share=shares, starts=st.sampled_from([0.0, 1_000.0]))
    def change_the_meter(self, days, share, starts):
        on = self.read_on + timedelta(days=days)
        if on + timedelta(days=2) > NOW.date():
            return
        hours = round(days * 24 * share, 1)
        old = Fitting.objects.get(position=self.ponds[0].rows["meter"], to_on=None)
        old.to_on, old.meter_end_h = on, self.shown + hours
        old.save()
        new = make.component(type=self.meter_type)
        make.fit(new, self.ponds[0].rows["meter"], from_on=on, meter_start_h=starts)
        self.ponds[0].spans.append((self.read_on, on, hours))
        self.read_on, self.shown = on, starts
        self.refresh(self.ponds[0])

    @rule(days=st.integers(1, 90))
    def swap_units(self, days):
        on = self.swapped_on + timedelta(days=days)
        if on + timedelta(days=2) > NOW.date():
            return
        for pond in self.ponds:
            Fitting.objects.filter(position=pond.rows["compressor"], to_on=None).update(to_on=on)
            pond.seats[-1][2] = on
        self.units.reverse()
        for pond, unit in zip(self.ponds, self.units, strict=True):
            self.sit(pond, unit, on)
        self.swapped_on = on
        self.refresh(self.ponds[0])

    @rule(n=st.integers(0, 1), decided=moments, ahead=st.integers(0, 60), more=st.integers(1, 90))
    def put_off(self, n, decided, ahead, more):
        pond, at = self.ponds[n], instant(decided)
        about = at.date() + timedelta(days=ahead)
        until = about + timedelta(days=more)
        row = Decision.objects.create(
            **place_of(pond.rows["filter"]),
            task=self.tasks["op"],
            kind=DecisionKind.POSTPONED,
            from_on=about,
            until_on=until,
            reason=f"{more}",
            by=self.by,
            decided_at=at,
        )
        pond.put_off.append((at, about, until, row.pk))
        self.refresh(pond)

    @precondition(lambda self: any(pond.put_off for pond in self.ponds))
    @rule(data=st.data())
    def take_a_decision_back(self, data):
        pond = next(pond for pond in self.ponds if pond.put_off)
        entry = data.draw(st.sampled_from(pond.put_off), label="which")
        pond.put_off.remove(entry)
        Decision.objects.filter(pk=entry[3]).update(withdrawn_at=NOW)
        self.refresh(pond)

    @invariant()
    def due_days_are_those_counted_by_hand(self):
        for pond in self.ponds:
            for slug, task in self.tasks.items():
                item = DueItem.objects.get(task=task, system=pond.rows["system"])
                assert item.due_on == self.by_hand(pond, slug), (slug, pond.zone, item.because)

    def by_hand(self, pond, slug):
        if slug == "month":
            return self.month_by_hand(pond)
        running, hours, start, works = pond.running(), pond.hours(), BEGIN, pond.works
        if slug == "overhaul":
            running, hours, start, works = self.unit_by_hand(pond)
        done = [(pond_on, at) for pond_on, at in self.counting(pond, slug, works)]
        last = max(done, default=None)
        start = last[0] if last else start
        moved = [
            (at, until)
            for at, about, until, _ in sorted(pond.put_off, key=lambda row: (row[0], row[1]))
            if slug == "op" and (not last or at > last[1]) and about >= start
        ]
        counted, every = (running, OP_D) if slug == "op" else (hours, self.interval(slug))
        due = self.reached(counted, start, every) if running[-1] else None
        for _, until in moved:
            due = until if due and due < until else due
        return due

    def counting(self, pond, slug, works):
        for work_slug, at, row, *where in works:
            home = where[0] if where else pond
            if work_slug == slug and row.state == WorkState.ACCEPTED and home.on(at) >= BEGIN:
                yield home.on(at), at

    def unit_by_hand(self, pond):
        unit = pond.seats[-1][0]
        running, hours, works = [False] * FAR, [0.0] * FAR, []
        for home in self.ponds:
            ran, counted = home.running(), home.hours()
            for _, first, last in (seat for seat in home.seats if seat[0] == unit):
                for n in range((first - BEGIN).days, (last - BEGIN).days if last else FAR):
                    running[n], hours[n] = ran[n], counted[n]
                works += [
                    (slug, at, row, home)
                    for slug, at, row in home.works
                    if first <= home.on(at) and (last is None or home.on(at) < last)
                ]
        return running, hours, BEGIN, works

    def interval(self, slug):
        return RUN_H if slug == "run" else OVERHAUL_H

    def reached(self, counted, start, every):
        total = 0.0
        for n in range((start - BEGIN).days, FAR):
            if total >= every - 1e-6:
                return BEGIN + timedelta(days=n)
            total += counted[n]
        return None

    def month_by_hand(self, pond):
        def nth(n):
            year, month = divmod(BEGIN.month - 1 + n, 12)
            year, month = BEGIN.year + year, month + 1
            return date(year, month, min(31, calendar.monthrange(year, month)[1]))

        def opened(day):
            return max(n for n in range(40) if nth(n) - timedelta(days=EARLY) <= day)

        done = [on for on, _ in self.counting(pond, "month", pond.works)]
        if done:
            return nth(opened(max(done)) + 1)
        return nth(max(opened(pond.on(NOW)), 1))

    def teardown(self):
        try:
            self.check_whole()
        finally:
            transaction.set_rollback(True)
            self.atomic.__exit__(None, None, None)

    def check_whole(self):
        """Nightly and incremental agree, nothing is written twice, no clock runs backwards."""
        assert refresh_all(now=NOW).written == 0
        self.check_sites_passed_by()
        for facts in facts_of([pond.rows["system"].site_id for pond in self.ponds], now=NOW):
            for system in facts.systems:
                line = system.timeline(system.in_use(PositionKind.COMPRESSOR)[0].pk, RUNNING)
                days = [BEGIN + timedelta(days=n) for n in range(0, FAR, 20)]
                for count in (line.days_run, line.hours_run):
                    found = [count(day) for day in days]
                    assert found == sorted(found)

    def check_sites_passed_by(self):
        """A site that a later night passes by would have come out the same."""
        sites = [pond.rows["system"].site_id for pond in self.ponds]
        seen = look_at(sites, now=NOW)
        _, days = refresh_watched(sites, now=NOW)
        mark(days, seen, now=NOW)
        for night in (1, 12):
            later = NOW + timedelta(days=night)
            passed_by = standing(look_at(sites, now=later), now=later)
            assert refresh_sites(passed_by, now=later).written == 0
            self.refresh(*self.ponds)
