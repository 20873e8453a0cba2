"""What is known of many sites at once, read in a constant number of queries for the due engine."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from itertools import pairwise

from django.db.models import Exists, OuterRef, Q

from customers.models import Site
from equipment.kinds import NOT_IN_SERVICE, PositionKind, PositionUse, Quantity, SystemState
from equipment.models import (
    Assessment,
    Fitting,
    Position,
    Reading,
    Schedule,
    System,
)
from equipment.physics.limits import hours_counted
from servicedesk.actions.climates import climate_of, seen_at
from servicedesk.actions.happenings import States, open_event, states_of
from servicedesk.actions.settling import SETTLING, settling_of, was_elsewhere, with_settling
from servicedesk.kinds import DecisionKind, DoneBy
from servicedesk.models import Decision, Work, place_of
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.facts import Done, Event, Verdict
from servicedesk.planning.due.sentences import day
from servicedesk.planning.due.timeline import (
    MeterSpan,
    Piece,
    ScheduleFrom,
    StateFrom,
    Timeline,
    joined,
    timeline,
)
from servicedesk.planning.season_plan import Seen
from servicedesk.planning.seasons import Climate

CLOCK_SLACK = timedelta(minutes=5)  # a phone's clock may be ahead of ours
RESTARTS = ("spring_restart", "post_outage_restart")


@dataclass
class SystemFacts:
    """One system with its history; days are dates at its site."""

    system: System
    states: list[tuple[datetime, StateFrom]] = field(default_factory=list)
    redated: dict[datetime, datetime] = field(default_factory=dict)
    schedules: list[ScheduleFrom] = field(default_factory=list)
    positions: list[Position] = field(default_factory=list)
    fitted: dict[int, list[Fitting]] = field(default_factory=dict)  # by position
    hours_read: dict[int | None, list[tuple[date, float]]] = field(default_factory=dict)
    timelines: dict[tuple, Timeline] = field(default_factory=dict)
    seats: dict[int, list["Seat"]] = field(default_factory=dict)  # by serial unit, shared by all
    findings: list[tuple[date, datetime, dict[str, str]]] = field(default_factory=list)

    @cached_property
    def history(self) -> list[StateFrom]:
        if self.states or not self.system.commissioned_on:
            return [state for _, state in self.states]
        return [StateFrom(self.system.commissioned_on, SystemState.RUNNING)]

    @property
    def state(self) -> SystemState | None:
        return self.history[-1].state if self.history else None

    @property
    def in_service(self) -> bool:
        return self.state is not None and self.state not in NOT_IN_SERVICE

    @property
    def since(self) -> tuple[date, str]:
        if self.system.commissioned_on:
            return self.system.commissioned_on, "commissioning"
        return self.system.installed_on, "installation"

    def in_use(self, kind: str) -> list[Position]:
        return [p for p in self.positions if p.kind == kind and p.use == PositionUse.IN_USE]

    def fitting_now(self, position_id: int | None) -> Fitting | None:
        """The fitting that has not ended, of a compressor or meter position."""
        return next((f for f in self.fitted.get(position_id, ()) if f.to_on is None), None)

    def seats_of(self, unit_id: int) -> list["Seat"]:
        """Where a serial unit has sat, first to last, here and in other systems."""
        return self.seats.get(unit_id, [])

    def unit_timeline(self, unit_id: int, counting: frozenset) -> Timeline:
        """How long a serial unit ran, wherever it sat."""
        key = ("unit", unit_id, counting)
        if key not in self.timelines:
            pieces = [
                Piece(seat.facts.timeline(seat.position_id, counting), seat.from_on, seat.to_on)
                for seat in self.seats_of(unit_id)
            ]
            self.timelines[key] = joined(pieces)
        return self.timelines[key]

    def findings_for(self, slug: str) -> tuple[Event, ...]:
        """What the newest readings call for, since when they have done so without a break."""
        if not self.findings:
            return ()
        since, why = None, ""
        for on, at, calls in sorted(self.findings, key=lambda row: (row[1], sorted(row[2]))):
            since = (since or (on, at)) if slug in calls else None
            why = calls.get(slug, "")
        if since is None:
            return ()
        on, at = since
        words = f"the readings of {day(on)}" + (f": {why.rstrip('.')}" if why else "")
        return (Event(f"cond:{at:%Y%m%dT%H%M%S}", on, words),)

    def timeline(self, compressor_id: int | None, counting: frozenset) -> Timeline:
        key = (compressor_id, counting)
        if key not in self.timelines:
            spans = self._spans(compressor_id)
            self.timelines[key] = timeline(self.history, self.schedules, spans, counting)
        return self.timelines[key]

    def events(self, what: str) -> tuple[Event, ...]:
        """The open event of a kind: the stop, the bringing up or the settling it is in now."""
        if what == SETTLING:
            return settling_of(self.system)
        return open_event(what, States(self.states, self.redated))

    def _spans(self, compressor_id):
        """Metered hours of a compressor; without one, of the only meter that the system has.

        What a unit's own counter shows leaves the system with the unit.
        """
        compressors = [p.pk for p in self.positions if p.kind == PositionKind.COMPRESSOR]
        alone = len(compressors) <= 1
        meters = [
            p.pk
            for p in self.positions
            if p.kind == PositionKind.METER and (alone or p.serves_id == compressor_id)
        ]
        sources = {*meters, *([None] if alone else [])}
        reads = sorted({r for source in sources for r in self.hours_read.get(source, ())})
        fittings = [f for meter in meters[:1] for f in self.fitted.get(meter, ())]
        own = self.hours_read.get(compressor_id, ()) if compressor_id else ()
        return [*_counted(fittings, reads), *_counted(self.fitted.get(compressor_id, ()), own)]


@dataclass(frozen=True)
class Seat:
    """A serial unit sits at a compressor position from a day to a day."""

    facts: SystemFacts
    position_id: int
    from_on: date
    to_on: date | None


@dataclass(frozen=True)
class Units:
    """The compressors that sit at some sites now, and the positions elsewhere where they sat."""

    fitted: set[int]
    elsewhere: set[int]


@dataclass
class SiteFacts:
    site: Site
    climate: Climate
    systems: list[SystemFacts] = field(default_factory=list)
    done: dict[tuple[str, str], list[Done]] = field(default_factory=lambda: defaultdict(list))
    verdicts: dict[tuple[str, int], list[Verdict]] = field(
        default_factory=lambda: defaultdict(list)
    )
    seen: dict[int, tuple[Seen, ...]] = field(default_factory=dict)  # by pond
    wheres: dict[tuple, dict] = field(default_factory=dict)

    def where(self, thing) -> dict:
        """The fields of AtPlace for a thing at this site, made once for all its tasks."""
        key = (type(thing), thing.id)
        if key not in self.wheres:
            self.wheres[key] = place_of(thing, site=self.site)
        return self.wheres[key]


def facts_of(
    site_ids: Collection[int], *, now: datetime, known: Collection[Site] = ()
) -> list[SiteFacts]:
    """All that bears on due days at some sites, as it stands at an instant.

    `known`: the sites themselves, each with its region, where the caller has them already.
    """
    now += CLOCK_SLACK
    rows = known or Site.objects.filter(pk__in=site_ids).select_related("region").order_by("pk")
    sites = {site.pk: SiteFacts(site, climate_of(site)) for site in rows}
    systems: dict[int, SystemFacts] = {}
    for system in with_settling(System.objects.filter(site_id__in=sites)).order_by("key", "pk"):
        systems[system.pk] = SystemFacts(system)
        sites[system.site_id].systems.append(systems[system.pk])
    zones = {pk: sites[facts.system.site_id].site.time_zone for pk, facts in systems.items()}
    _add_positions(systems)
    units = _add_seats(systems, zones)
    for pk, found in states_of(systems, zones, now).items():
        systems[pk].states, systems[pk].redated = found.standing, found.redated
    timers = Schedule.objects.filter(system_id__in=systems).order_by("from_on")
    for pk, from_on, hours in timers.values_list("system_id", "from_on", "hours_per_day"):
        systems[pk].schedules.append(ScheduleFrom(from_on, hours))
    _add_hours_read(systems, zones, now)
    _add_findings(systems, zones, now)
    _add_works(sites, units, was_elsewhere(systems), now)
    _add_decisions(sites)
    for site_id, seen in seen_at(sites).items():
        sites[site_id].seen = seen
    return list(sites.values())


def _add_positions(systems, wanted=None):
    wanted = systems if wanted is None else wanted
    rows = Position.objects.filter(system_id__in=wanted).select_related("pond")
    positions = rows.order_by("label", "pk").in_bulk()
    for position in positions.values():
        position.system = systems[position.system_id].system
        systems[position.system_id].positions.append(position)
    kinds = [PositionKind.COMPRESSOR, PositionKind.METER]
    other = Fitting.objects.filter(component=OuterRef("component"))
    other = other.exclude(position__system=OuterRef("position__system"))
    fittings = (
        Fitting.objects.filter(position__system_id__in=wanted, position__kind__in=kinds)
        .select_related("component__type")
        .annotate(sat_elsewhere=Exists(other))
        .order_by("from_on", "pk")
    )
    for fitting in fittings:
        fitting.position = positions[fitting.position_id]
        facts = systems[fitting.position.system_id]
        facts.fitted.setdefault(fitting.position_id, []).append(fitting)


def _add_seats(systems, zones):
    """Where the compressors fitted here now have sat before; returns the seats elsewhere.

    Systems elsewhere join `systems`, for their history, and no site.
    """
    here = [row for row in _seated(systems) if row.to_on is None]
    now_here = {row.component_id for row in here}
    travelled = {row.component_id for row in here if row.sat_elsewhere}
    elsewhere = list(
        Fitting.objects.filter(component_id__in=travelled)
        .exclude(position__system_id__in=systems)
        .select_related("position__system__site")
    )
    fresh = {}
    for system in (fitting.position.system for fitting in elsewhere):
        if system.pk not in fresh:
            fresh[system.pk], zones[system.pk] = SystemFacts(system), system.site.time_zone
    systems.update(fresh)
    if fresh:
        _add_positions(systems, fresh)
    seats: dict[int, list[Seat]] = defaultdict(list)
    for row in sorted(_seated(systems), key=lambda row: (row.from_on, row.to_on or date.max)):
        facts = systems[row.position.system_id]
        seats[row.component_id].append(Seat(facts, row.position_id, row.from_on, row.to_on))
    for facts in systems.values():
        facts.seats = seats
    return Units(now_here, {fitting.position_id for fitting in elsewhere})


def _seated(systems):
    """Every fitting of a compressor in these systems."""
    return [
        row
        for facts in systems.values()
        for position in facts.positions
        if position.kind == PositionKind.COMPRESSOR
        for row in facts.fitted.get(position.pk, ())
    ]


def _add_findings(systems, zones, now):
    """What the readings call for: `basis["opens"]` names the tasks, `basis["calls"]` says why."""
    rows = Assessment.objects.filter(system_id__in=systems, at__lte=now)
    for pk, at, basis in rows.order_by("at", "pk").values_list("system_id", "at", "basis"):
        calls = {slug: basis.get("calls", {}).get(slug, "") for slug in basis.get("opens", ())}
        systems[pk].findings.append((site_date(at, zones[pk]), at.astimezone(UTC), calls))


def _add_hours_read(systems, zones, now):
    rows = (
        Reading.objects.standing()
        .filter(
            quantity=Quantity.RUN_HOURS,
            value__isnull=False,
            doubtful=False,
            set__system_id__in=systems,
            set__taken_at__lte=now,
        )
        .values_list("set__system_id", "position_id", "set__taken_at", "value")
    )
    for pk, position_id, taken_at, value in rows:
        read = (site_date(taken_at, zones[pk]), value)
        systems[pk].hours_read.setdefault(position_id, []).append(read)


def _add_works(sites, units, moved, now):
    """Works at these sites, and what was done elsewhere to systems and units that are here now."""
    done: dict[tuple[str, str], list[Done]] = defaultdict(list)
    for facts in sites.values():
        facts.done = done
    here = Q(site_id__in=sites) | Q(system_id__in=moved) if moved else Q(site_id__in=sites)
    if units.fitted:
        here |= Q(component_id__in=units.fitted)
    if units.elsewhere:
        here |= Q(position_id__in=units.elsewhere)
    rows = (
        Work.objects.counting()
        .filter(here, done_at__lte=now)
        .values_list(
            "site__time_zone",
            "place_key",
            "task__slug",
            "task__name",
            "done_at",
            "uuid",
            "done_by",
            "verified",
            "occasion",
            "ticket_id",
        )
    )
    for zone, place_key, slug, name, at, key, by, verified, occasion, ticket in rows:
        on, by = site_date(at, zone), DoneBy(by)
        routine = by == DoneBy.OWNER and not verified and ticket is None
        work = Done(at.astimezone(UTC), on, str(key), name, by, verified, occasion, routine)
        done[place_key, slug].append(work)


def _add_decisions(sites):
    rows = Decision.objects.standing().filter(site_id__in=sites).select_related("by")
    for row in rows:
        verdict = Verdict(
            kind=DecisionKind(row.kind),
            at=row.decided_at.astimezone(UTC),
            about_on=row.from_on,
            until_on=row.until_on,
            by=str(row.by),
            reason=row.reason,
            occasion=row.occasion,
        )
        sites[row.site_id].verdicts[row.place_key, row.task_id].append(verdict)


def _of_meter(fitting, reads):
    """What one meter showed, in order; the reading of the day it was replaced is its last."""
    last = fitting.to_on or date.max
    shown = [(on, value) for on, value in reads if fitting.from_on <= on < last]
    if fitting.meter_start_h is not None:
        shown.append((fitting.from_on, fitting.meter_start_h))
    if fitting.to_on and fitting.meter_end_h is not None:
        shown.append((fitting.to_on, fitting.meter_end_h))
    return sorted(set(shown))


def _counted(fittings, reads):
    """The spans of each counter in turn; a new one starts its own count."""
    if not fittings:
        return list(_between(reads))
    return [
        span
        for fitting in fittings
        for span in _between(_of_meter(fitting, reads), _turns_at_h(fitting))
    ]


def _turns_at_h(fitting):
    """Where a mechanical counter begins again at zero, as its nameplate says; 0 for never."""
    return float(fitting.component.type.nameplate.get("turns_at_h") or 0)


def _between(reads: Iterable[tuple[date, float]], turns_at_h: float = 0.0) -> Iterable[MeterSpan]:
    """Spans between readings of different days; of one day's readings the last count holds."""
    last_of_day = dict(sorted(reads))
    for first, second in pairwise(sorted(last_of_day)):
        hours = hours_counted(last_of_day[first], last_of_day[second], turns_at_h)
        yield MeterSpan(first, second, hours)
