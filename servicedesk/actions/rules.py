"""Which tasks apply where, with the firm's own figures over the defaults."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from math import copysign

from equipment.kinds import RUNNING, PositionKind, PositionUse, SystemState, WinterMode
from equipment.models import Component, Position
from servicedesk.actions.beginnings import records_from
from servicedesk.actions.facts import RESTARTS, SiteFacts
from servicedesk.kinds import Anchor, Clock, Join, PlaceKind, Who
from servicedesk.models import Override, Rhythm, Task, place_of
from servicedesk.planning.due.facts import Done, Event, Place, RhythmRule, TaskRule
from servicedesk.planning.due.sentences import day
from servicedesk.planning.season_plan import joined_windows, pond_windows
from servicedesk.planning.seasons import TROPIC_DEG, Window

WINTER_OF_STATE = {
    SystemState.SHUT_WINTER: WinterMode.SHUT_DOWN,
    SystemState.RUNNING_WINTER_SHALLOW: WinterMode.RUN_SHALLOW,
    SystemState.RUNNING_WINTER_DEEP: WinterMode.RUN_DEEP,
}
SCOPES = ["system_id", "site_id", "component_type_id"]  # the nearest wins, then the whole firm


@dataclass(frozen=True)
class Figure:
    """A figure of the firm, what it was before, and from when it holds."""

    value: float
    before: float | None
    from_on: date


@dataclass(frozen=True, slots=True)
class Plain:
    """What some rhythms of a task say, before the firm's own figures; the same everywhere."""

    rule: TaskRule
    slugs: tuple[str, ...]  # of the works that reset it: its own first
    counting: frozenset[SystemState]
    events: tuple[str, ...]


@dataclass
class Rules:
    """Tasks, rhythms and overrides as they stand, read once for many sites."""

    tasks: list[Task]
    rhythms: dict[int, list[Rhythm]]
    overrides: dict[int, list[Override]]
    shared: frozenset[int] = frozenset()  # tasks that owners do in a rhythm of their own as well
    windows: dict[tuple, tuple[Window, ...]] = field(default_factory=dict)
    plain: dict[tuple, Plain] = field(default_factory=dict)
    holding_on: date | None = None  # as if figures that begin by this day held already

    @classmethod
    def read(cls, now: datetime, *, who: Who = Who.TECHNICIAN) -> "Rules":
        """The rhythms of our technicians, or those that owners keep themselves."""
        tasks, rhythms, of_others = {}, defaultdict(list), set()
        active = Rhythm.objects.filter(task__active=True).select_related("task")
        for rhythm in active.order_by("task__slug", "number"):
            rhythm.task = tasks.setdefault(rhythm.task_id, rhythm.task)
            if rhythm.who == who:
                rhythms[rhythm.task_id].append(rhythm)
            else:
                of_others.add(rhythm.task_id)
        shared = frozenset(of_others) if who == Who.TECHNICIAN else frozenset()
        overrides = defaultdict(list)
        for row in Override.objects.filter(entered_at__lte=now).order_by("from_on", "value"):
            overrides[row.task_id].append(row)
        return cls(list(tasks.values()), dict(rhythms), dict(overrides), shared)

    def only(self, task: Task, holding_on: date, *more: Override) -> "Rules":
        """The rules of one task, as they will be on a day, with figures that are not kept yet."""
        own = [*self.overrides.get(task.pk, ()), *more]
        own.sort(key=lambda row: (row.from_on, row.value))
        same = [row for row in self.tasks if row.pk == task.pk]
        return replace(self, tasks=same, overrides={task.pk: own}, plain={}, holding_on=holding_on)

    def places(
        self, facts: SiteFacts, today: date
    ) -> Iterator[tuple[Task, object, TaskRule, Place]]:
        """Each task that applies at a place of this site, with all that bears on it."""
        serving = [system for system in facts.systems if system.in_service]
        for task in self.tasks:
            rhythms = self.rhythms.get(task.id, ())
            for thing, system in _things(task, facts, serving) if rhythms else ():
                holding = [r for r in rhythms if _holds(r, facts, system)]
                if holding:
                    found = self._at(task, holding, thing, system, facts, today)
                    if found:
                        yield task, thing, *found

    def _at(self, task, rhythms, thing, system, facts, today):
        key = facts.where(thing)["place_key"]
        own = self._overrides_at(task, thing, system, facts, today)
        if own and own.get((None, "active"), Figure(1, 1, today)).value == 0:
            return None
        plain = self._plain(task, rhythms)
        unit = _unit_of(thing, system)
        since, since_what = _since(task, thing, system, facts, unit)
        done = _done(key, plain.slugs, system, facts, unit)
        if task.id in self.shared:
            done = [work for work in done if not work.routine]
        place = Place(
            timeline=_timeline(thing, system, plain.counting, unit),
            since=since,
            since_what=since_what,
            records_from=records_from(task, system, facts, unit),
            hours_before=unit.hours_before if unit else 0.0,
            done=tuple(done),
            findings=system.findings_for(task.slug),
            verdicts=tuple(facts.verdicts.get((key, task.id), ())),
            events=_events(plain.events, system, facts),
            windows=self._windows(task, facts, system, today) if task.season else (),
        )
        return _with_own_figures(plain.rule, rhythms, own) if own else plain.rule, place

    def _plain(self, task, rhythms):
        key = (task.id, *[row.id for row in rhythms])
        if key not in self.plain:
            self.plain[key] = _plain(task, rhythms)
        return self.plain[key]

    def _overrides_at(self, task, thing, system, facts, today):
        """The firm's figures that hold at a place, the nearest scope winning."""
        until = self.holding_on or today
        rows = [row for row in self.overrides.get(task.id, ()) if row.from_on <= until]
        if not rows:
            return {}
        here = {"site_id": facts.site.pk, "system_id": system.system.pk if system else None}
        here["component_type_id"] = _type_at(thing, system)
        found = {}
        for scope in [None, *reversed(SCOPES)]:
            for row in rows:
                if _scope(row) == scope and (scope is None or getattr(row, scope) == here[scope]):
                    name = (row.rhythm_id, row.field)
                    before = found[name].value if name in found else None
                    found[name] = Figure(row.value, before, row.from_on)
        return found

    def _windows(self, task, facts, system, today):
        """The season windows of a system: those of its water, whatever was seen there."""
        band = copysign(
            1 if abs(facts.climate.latitude) < TROPIC_DEG else 45, facts.climate.latitude
        )
        climate = replace(facts.climate, latitude=band, ice_seen_on=None)  # they know no finer one
        ponds = ponds_of(system) if facts.seen else ()
        seen = {facts.seen.get(pond, ()) for pond in ponds} or {()}
        key = (task.season, climate, today.year, *sorted(seen))
        if key not in self.windows:
            years = range(today.year - 1, today.year + 3)
            each = [pond_windows(task.season, climate, years, one) for one in sorted(seen)]
            self.windows[key] = joined_windows(each)
        return self.windows[key]


def ponds_of(system) -> set[int]:
    """The ponds that a system feeds; of one without plates in use all it ever fed."""
    lying = [p for p in system.positions if p.pond_id]
    used = [p for p in lying if p.use == PositionUse.IN_USE]
    return {position.pond_id for position in used or lying}


def _things(task, facts, serving):
    """The places of a task's kind, with the system that its clocks follow."""
    if task.place_kind == PlaceKind.SITE:
        return [(facts.site, serving[0])] if serving else []
    if task.place_kind == PlaceKind.SYSTEM:
        return [(system.system, system) for system in serving]
    if task.place_kind == PlaceKind.POND:
        return _ponds(facts, serving)
    if task.place_kind == PlaceKind.UNIT:
        return [
            (fitting.component, system)
            for system in serving
            for position in system.in_use(PositionKind.COMPRESSOR)
            if (fitting := system.fitting_now(position.id))
            and _right_compressor(task, position, system)
        ]
    if task.place_kind == PlaceKind.POSITION:
        return [
            (position, system)
            for system in serving
            for position in system.in_use(task.position_kind)
            if _right_compressor(task, position, system)
        ]
    return []


def _ponds(facts, serving):
    """The ponds that have air, each once, with the first system that feeds it."""
    found = {}
    for system in serving:
        for position in system.positions:
            if position.pond_id and position.use == PositionUse.IN_USE:
                found.setdefault(position.pond_id, (position.pond, system))
    return [found[pk] for pk in sorted(found)]


def _unit_of(thing, system):
    """The serial unit whose wear a task is about: that of a compressor's place, or itself."""
    if isinstance(thing, Component):
        return thing
    if isinstance(thing, Position) and thing.kind == PositionKind.COMPRESSOR:
        fitting = system.fitting_now(thing.id)
        return fitting.component if fitting else None
    return None


def done_on_unit(unit_id: int, slugs, seats, done) -> list[Done]:
    """Work on a serial unit: in the shop, and wherever it sat on that day."""
    found = [d for slug in slugs for d in done.get((f"{PlaceKind.UNIT}:{unit_id}", slug), ())]
    for seat in seats:
        for slug in slugs:
            works = done.get((f"{PlaceKind.POSITION}:{seat.position_id}", slug), ())
            found += [
                d
                for d in works
                if seat.from_on <= d.on and (seat.to_on is None or d.on < seat.to_on)
            ]
    return found


def _done(key, slugs, system, facts, unit):
    if unit is None:
        return [done for slug in slugs for done in facts.done.get((key, slug), ())]
    return done_on_unit(unit.id, slugs, system.seats_of(unit.id), facts.done)


def _right_compressor(task, position, system):
    if not task.compressor_kinds:
        return True
    unit = system.fitting_now(_compressor_of(position))
    return unit is not None and unit.component.type.compressor_kind in task.compressor_kinds


def _compressor_of(thing):
    if not isinstance(thing, Position):
        return None
    return thing.id if thing.kind == PositionKind.COMPRESSOR else thing.serves_id


def _type_at(thing, system):
    unit = system.fitting_now(_compressor_of(thing)) if system else None
    return unit.component.type_id if unit else None


def _holds(rhythm, facts, system):
    """Whether a rhythm's condition holds at a system as it is now."""
    condition = rhythm.condition
    if not condition:
        return True
    if "states" in condition and system.state not in condition["states"]:
        return False
    if "winter_modes" in condition and _winter_mode(system) not in condition["winter_modes"]:
        return False
    return (
        "public_access" not in condition or facts.site.public_access is condition["public_access"]
    )


def _winter_mode(system):
    chosen = system.system.winter_mode
    return WINTER_OF_STATE.get(system.state, chosen) if chosen == WinterMode.UNDECIDED else chosen


def _timeline(thing, system, counting, unit):
    if unit is not None:
        return system.unit_timeline(unit.id, counting)
    return system.timeline(_compressor_of(thing), counting)


def _since(task, thing, system, facts, unit):
    """Where clocks begin: commissioning, or the day its place was new; for a compressor's wear
    the day its unit first ran."""
    if unit is not None:
        first = system.seats_of(unit.id)[0]
        if first.from_on > first.facts.since[0]:
            return first.from_on, f"fitting unit {unit.serial or 'without a serial'}"
        return first.facts.since
    if task.place_kind == PlaceKind.SITE:
        return min(s.since for s in facts.systems if s.in_service)
    if isinstance(thing, Position) and thing.from_on and thing.from_on > system.since[0]:
        return thing.from_on, f"the placing of {thing.label}"
    return system.since


def _events(kinds, system, facts) -> tuple[Event, ...]:
    if "restarted" in kinds:
        return _restarted(system, facts)
    return tuple(event for kind in kinds for event in system.events(kind))


def _restarted(system, facts):
    """The last restart of a system by one of ours."""
    key = place_of(system.system)["place_key"]
    works: list[Done] = [d for slug in RESTARTS for d in facts.done.get((key, slug), ())]
    last = max(works, key=lambda d: (d.at, d.key), default=None)
    if last is None:
        return ()
    return (Event(f"restarted:{last.at:%Y%m%dT%H%M%S}", last.on, f"the restart of {day(last.on)}"),)


def _plain(task, rhythms):
    states = next((r.condition["states"] for r in rhythms if "states" in r.condition), RUNNING)
    reset_by = {slug for r in rhythms for slug in r.condition.get("reset_by", ())}
    return Plain(
        rule=TaskRule(
            slug=task.slug,
            name=task.name,
            rhythms=tuple(RhythmRule(Clock(r.clock), r.every, r.unit) for r in rhythms),
            early_days=task.early_days,
            late_days=task.late_days,
            anchor=Anchor(task.anchor),
            join=Join(task.join),
        ),
        slugs=(task.slug, *sorted(reset_by)),
        counting=frozenset(SystemState(state) for state in states),
        events=tuple(sorted({r.condition["event"] for r in rhythms if "event" in r.condition})),
    )


def _with_own_figures(rule, rhythms, own):
    figures = {name: int(f.value) for (_, name), f in own.items() if name.endswith("_days")}
    changed = []
    for row, rhythm in zip(rhythms, rule.rhythms, strict=True):
        figure = own.get((row.pk, "every"))
        if figure:
            before = figure.before or row.every
            rhythm = replace(
                rhythm, every=figure.value, previous_every=before, changed_on=figure.from_on
            )
        changed.append(rhythm)
    return replace(rule, rhythms=tuple(changed), **figures)


def _scope(row):
    return next((name for name in SCOPES if getattr(row, name)), None)
