"""What is known of many sites at once, read in a constant number of queries for the due engine."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from itertools import pairwise

from customers.models import Site
from equipment.kinds import NOT_IN_SERVICE, PositionKind, PositionUse, Quantity, SystemState
from equipment.models import Fitting, Position, Reading, Schedule, StateChange, System
from servicedesk.kinds import DecisionKind, DoneBy
from servicedesk.models import Decision, Work
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.facts import Done, Event, Verdict
from servicedesk.planning.due.sentences import day
from servicedesk.planning.due.timeline import (
    MeterSpan,
    ScheduleFrom,
    StateFrom,
    Timeline,
    timeline,
)
from servicedesk.planning.seasons import Climate

CLOCK_SLACK = timedelta(minutes=5)  # a phone's clock may be ahead of ours
STOPPED = frozenset({SystemState.FAILED, SystemState.SHUT_OTHER})
BROUGHT_UP = frozenset({SystemState.RAMPING, SystemState.COMMISSIONING})
RESTARTS = ("spring_restart", "post_outage_restart")


@dataclass
class SystemFacts:
    """One system with its history; days are dates at its site."""

    system: System
    states: list[tuple[datetime, StateFrom]] = field(default_factory=list)
    schedules: list[ScheduleFrom] = field(default_factory=list)
    positions: list[Position] = field(default_factory=list)
    fitted: dict[int, list[Fitting]] = field(default_factory=dict)  # by position
    hours_read: dict[int | None, list[tuple[date, float]]] = field(default_factory=dict)
    timelines: dict[tuple, Timeline] = field(default_factory=dict)

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

    def timeline(self, compressor_id: int | None, counting: frozenset) -> Timeline:
        key = (compressor_id, counting)
        if key not in self.timelines:
            spans = self._spans(compressor_id)
            self.timelines[key] = timeline(self.history, self.schedules, spans, counting)
        return self.timelines[key]

    def events(self, what: str) -> tuple[Event, ...]:
        """The open event of a kind: the stop, or the bringing up, that the system is in now."""
        wanted = {"stopped": STOPPED, "ramp": BROUGHT_UP}.get(what, frozenset())
        begun = None
        for at, state in reversed(self.states):
            if state.state not in wanted:
                break
            begun = (at, state)
        if begun is None:
            return ()
        words = "stop" if what == "stopped" else "slow start"
        at, state = begun
        return (Event(f"{what}:{at:%Y%m%dT%H%M%S}", state.on, f"the {words} of {day(state.on)}"),)

    def _spans(self, compressor_id):
        """Metered hours of a compressor; without one, of the only meter that the system has."""
        compressors = [p.pk for p in self.positions if p.kind == PositionKind.COMPRESSOR]
        alone = len(compressors) <= 1
        meters = [
            p.pk
            for p in self.positions
            if p.kind == PositionKind.METER and (alone or p.serves_id == compressor_id)
        ]
        sources = {*meters, compressor_id, *([None] if alone else [])}
        reads = sorted({r for source in sources for r in self.hours_read.get(source, ())})
        fittings = [f for meter in meters[:1] for f in self.fitted.get(meter, ())]
        if not fittings:
            return list(_between(reads))
        return [span for f in fittings for span in _between(_of_meter(f, reads))]


@dataclass
class SiteFacts:
    site: Site
    climate: Climate
    systems: list[SystemFacts] = field(default_factory=list)
    done: dict[tuple[str, str], list[Done]] = field(default_factory=lambda: defaultdict(list))
    verdicts: dict[tuple[str, int], list[Verdict]] = field(
        default_factory=lambda: defaultdict(list)
    )


def facts_of(site_ids: Collection[int], *, now: datetime) -> list[SiteFacts]:
    """All that bears on due days at some sites, as it stands at an instant."""
    now += CLOCK_SLACK
    sites = {
        site.pk: SiteFacts(site, climate_of(site))
        for site in Site.objects.filter(pk__in=site_ids).select_related("region").order_by("pk")
    }
    systems: dict[int, SystemFacts] = {}
    for system in System.objects.filter(site_id__in=sites).order_by("key", "pk"):
        systems[system.pk] = SystemFacts(system)
        sites[system.site_id].systems.append(systems[system.pk])
    zones = {pk: sites[facts.system.site_id].site.time_zone for pk, facts in systems.items()}
    _add_states(systems, zones, now)
    for row in Schedule.objects.filter(system_id__in=systems).order_by("from_on"):
        systems[row.system_id].schedules.append(ScheduleFrom(row.from_on, row.hours_per_day))
    _add_positions(systems)
    _add_hours_read(systems, zones, now)
    _add_works(sites, now)
    _add_decisions(sites)
    return list(sites.values())


def climate_of(site):
    region = site.region
    if region is None:
        return Climate(latitude=site.lat)
    return Climate(
        latitude=site.lat,
        has_winter=region.has_winter,
        ice_on=region.ice_on_typical,
        ice_on_earliest=region.ice_on_earliest,
        ice_out=region.ice_out_typical,
        layering=region.layering_typical,
        mixing=region.mixing_typical,
    )


def _add_states(systems, zones, now):
    changes = StateChange.objects.standing().filter(system_id__in=systems, at__lte=now)
    # Two changes of one instant go by their words, so that the order of entry plays no part.
    for pk, at, word in changes.order_by("at", "state").values_list("system_id", "at", "state"):
        state = StateFrom(site_date(at, zones[pk]), SystemState(word))
        systems[pk].states.append((at.astimezone(UTC), state))


def _add_positions(systems):
    for position in Position.objects.filter(system_id__in=systems).order_by("label", "pk"):
        position.system = systems[position.system_id].system
        systems[position.system_id].positions.append(position)
    kinds = [PositionKind.COMPRESSOR, PositionKind.METER]
    fittings = (
        Fitting.objects.filter(position__system_id__in=systems, position__kind__in=kinds)
        .select_related("component__type", "position")
        .order_by("from_on", "pk")
    )
    for fitting in fittings:
        facts = systems[fitting.position.system_id]
        facts.fitted.setdefault(fitting.position_id, []).append(fitting)


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


def _add_works(sites, now):
    rows = (
        Work.objects.counting()
        .filter(site_id__in=sites, done_at__lte=now)
        .values_list(
            "site_id",
            "place_key",
            "task__slug",
            "task__name",
            "done_at",
            "uuid",
            "done_by",
            "verified",
            "occasion",
        )
    )
    for site_id, place_key, slug, name, at, key, by, verified, occasion in rows:
        facts = sites[site_id]
        on = site_date(at, facts.site.time_zone)
        work = Done(at.astimezone(UTC), on, str(key), name, DoneBy(by), verified, occasion)
        facts.done[place_key, slug].append(work)


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


def _between(reads: Iterable[tuple[date, float]]) -> Iterable[MeterSpan]:
    """Spans between readings of different days; of one day's readings the last count holds."""
    last_of_day = dict(sorted(reads))
    days = sorted(last_of_day)
    for first, second in pairwise(days):
        yield MeterSpan(first, second, last_of_day[second] - last_of_day[first])
