"""The firm as it is, read from the records for a simulated year. Nothing is written."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from customers.models import Firm, Pond, Site
from equipment.kinds import SystemState, WinterMode
from equipment.models import Component, Position, System
from servicedesk.actions.facts import SiteFacts, SystemFacts, facts_of
from servicedesk.actions.routes.hours import Hours
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import WeekOfRecords, read_week, skills_of
from servicedesk.actions.routes.wishes import infested_sites
from servicedesk.actions.rules import Rules
from servicedesk.actions.whatif.holds import Holds
from servicedesk.kinds import Clock, Harm, PlaceKind, Skill
from servicedesk.models import Absence, Task, Technician, WeekDetours
from servicedesk.models import Shift as PaidShift
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.timeline import StateFrom
from servicedesk.planning.routing.ahead import WEEKS_KEPT
from servicedesk.planning.routing.problem import WHOLE_DAY
from servicedesk.planning.seasons import Season, season_windows
from servicedesk.planning.whatif.coming import coming_states
from servicedesk.planning.whatif.running import first_monday
from servicedesk.planning.whatif.world import (
    Duty,
    Opening,
    PaidDay,
    Person,
    Reset,
    Work,
    WorkSite,
    World,
)

CHUNK = 200
FAR = date(2190, 1, 1)  # a state from this day on says which one is meant, and counts nowhere

Read = Callable[[int, int], None]


def world_of(*, now: datetime, weeks: int, on_progress: Read | None = None) -> World:
    """The firm on the Monday after an instant. A dozen queries, and thirty for 200 sites.

    `on_progress` hears how many sites are read, and of how many.
    Raises RouteRefused while nobody knows where the days begin.
    """
    firm = Firm.objects.first()
    if firm is None:
        raise RouteRefused("The firm is not set up yet. Enter it at the first login.")
    if firm.shop_lat is None or firm.shop_lon is None:
        raise RouteRefused(
            "Nobody knows yet where the days begin. Enter the shop's latitude and longitude in the "
            "settings, then ask again."
        )
    monday = first_monday(site_date(now, firm.time_zone))
    reader = _Reader(firm, monday, now, monday + timedelta(weeks=weeks))
    pks = list(Site.objects.order_by("pk").values_list("pk", flat=True))
    sites: list[WorkSite] = []
    for start in range(0, len(pks), CHUNK):
        sites += reader.sites(pks[start : start + CHUNK])
        if on_progress:
            on_progress(min(start + CHUNK, len(pks)), len(pks))
    return World(
        monday,
        (firm.shop_lat, firm.shop_lon),
        _people(monday, reader.until),
        tuple(sites),
        firm.road_factor,
        firm.speed_km_h,
        firm.setup_min,
        firm.day_full_percent,
        tuple(reader.holds.ways),
    )


def _people(monday: date, until: date) -> tuple[Person, ...]:
    """Technicians with their paid days and the absences that are on record. Three queries."""
    days, away = defaultdict(list), defaultdict(list)
    for row in PaidShift.objects.filter(from_on__lt=until).order_by("-from_on", "pk"):
        if row.to_on is None or row.to_on >= monday:
            days[row.technician_id].append(
                PaidDay(
                    row.weekday,
                    row.starts.hour * 60 + row.starts.minute,
                    row.ends.hour * 60 + row.ends.minute,
                    row.lunch_min,
                    row.from_on,
                    row.to_on,
                )
            )
    for row in Absence.objects.filter(from_on__lt=until, to_on__gte=monday):
        away[row.technician_id].append((row.from_on, row.to_on))
    people = Technician.objects.filter(active=True).select_related("user")
    return tuple(
        Person(
            str(person.pk),
            str(person),
            tuple(days[person.pk]),
            skills_of(person),
            person.boat,
            _home(person),
            tuple(away[person.pk]),
        )
        for person in people.order_by("user__first_name", "pk")
    )


def _home(person: Technician) -> tuple[float, float] | None:
    if person.start_lat is None or person.start_lon is None:
        return None
    return person.start_lat, person.start_lon


class _Reader:
    """One reading of all sites, a chunk at a time, so that only what is needed stays in memory."""

    def __init__(self, firm: Firm, monday: date, now: datetime, until: date):
        self.monday, self.at, self.until = monday, now, until
        self.week: WeekOfRecords = read_week(monday, today=monday, firm=firm)
        self.rules = _of_trips(Rules.read(now))
        self.works = {task.pk: _work(task) for task in self.rules.tasks}
        self.slugs = {
            task.pk: frozenset({task.slug, *_reset_by(task, self.rules)})
            for task in self.rules.tasks
        }
        self.detours = _detours(monday)
        self.holds = Holds(monday, until)

    def sites(self, pks: Collection[int]) -> Iterator[WorkSite]:
        gathered = facts_of(pks, now=self.at)
        hours = Hours(self.week, [facts.site for facts in gathered])
        infested = infested_sites(pks)
        ponds = _ponds(pks)
        for facts in gathered:
            site = facts.site
            duties = self._duties(facts)
            if duties:
                yield WorkSite(
                    f"site:{site.pk}",
                    site.name,
                    site.lat,
                    site.lon,
                    duties,
                    ponds.get(site.pk, 0),
                    site.region.factor_used if site.region else None,
                    site.region.speed_used_km_h if site.region else None,
                    site.pk in infested,
                    self._opening(hours, site),
                    (site.no_van_from, site.no_van_to),
                    tuple(self.detours.get(site.pk, ())),
                    self.holds.days(site),
                )

    def _opening(self, hours: Hours, site: Site) -> tuple[Opening, ...]:
        """Opening hours, inside those in which the owner is there if he must be.

        Without hours of his a day is agreed with him, which here is any day.
        """
        open_ = [self._hours(site, r.weekday, r.opens, r.closes) for r in hours.opening[site.pk]]
        home = [self._hours(site, r.weekday, r.comes, r.leaves) for r in hours.home[site.pk]]
        if not (open_ and home):
            return tuple(open_ or home)
        both = [
            Opening(a.weekday, max(a.opens_min, b.opens_min), min(a.closes_min, b.closes_min))
            for a in open_
            for b in home
            if a.weekday == b.weekday
        ]
        return tuple(row for row in both if row.opens_min < row.closes_min) or tuple(home)

    def _hours(self, site: Site, weekday: int, begins: time, ends: time) -> Opening:
        """Hours by the site's clock as the firm's clock shows them in the first week."""
        day = self.monday + timedelta(days=weekday - 1)
        zone = ZoneInfo(site.time_zone)
        first, last = (
            self.week.minute(datetime.combine(day, at, tzinfo=zone), weekday - 1)
            for at in (begins, ends)
        )
        return Opening(weekday, max(0, first), min(WHOLE_DAY, last))

    def _duties(self, facts: SiteFacts) -> tuple[Duty, ...]:
        """Each task at each place, by the states that its system will be in.

        The real rules are asked once for each of these states, as if it were today's.
        """
        today = site_date(self.at, facts.site.time_zone)
        real = {system.system.pk: system.history for system in facts.systems}
        coming = {system.system.pk: self._coming(system, facts, today) for system in facts.systems}
        phases = {row.state for rows in coming.values() for row in rows}
        found: dict[tuple[str, int], Duty] = {}
        for phase in [None, *sorted(phases)]:
            state = {
                pk: phase if any(row.state == phase for row in coming[pk]) else _last(history)
                for pk, history in real.items()
            }
            for system in facts.systems:
                pk = system.system.pk
                if state[pk] is not None:
                    ahead = [*real[pk], *coming[pk], StateFrom(FAR, state[pk])]
                    system.history = ahead
            for task, thing, rule, place in self.rules.places(facts, today):
                owner = _system_of(thing, facts)
                pk = owner.system.pk
                key = (facts.where(thing)["place_key"], task.pk)
                if key not in found:
                    found[key] = Duty(
                        self.works[task.pk],
                        key[0],
                        _slim(place, rule),
                        {},
                        _last(real[pk]),
                        coming[pk],
                        self._resets(key[0], thing, owner, task),
                    )
                found[key].rules.setdefault(state[pk], (rule, place.timeline))
        return tuple(found[key] for key in sorted(found))

    def _coming(self, system: SystemFacts, facts: SiteFacts, today: date) -> tuple[StateFrom, ...]:
        years = range(today.year, self.until.year + 1)
        return coming_states(
            system.history,
            today,
            self.until,
            WinterMode(system.system.winter_mode),
            season_windows(Season.WINTER, facts.climate, years),
            season_windows(Season.SPRING, facts.climate, years),
        )

    def _resets(self, key: str, thing, owner: SystemFacts, task: Task) -> frozenset[Reset]:
        """Work that counts: at its place; for a serial unit also where it sits, and the reverse."""
        keys = {key}
        if isinstance(thing, Position) and (fitting := owner.fitting_now(thing.pk)):
            keys.add(f"{PlaceKind.UNIT}:{fitting.component_id}")
        if isinstance(thing, Component):
            seats = owner.seats_of(thing.pk)
            keys |= {f"{PlaceKind.POSITION}:{s.position_id}" for s in seats if s.to_on is None}
        return frozenset((place, slug) for place in keys for slug in self.slugs[task.pk])


def _last(history: list[StateFrom]) -> SystemState | None:
    return history[-1].state if history else None


def _slim(place, rule):
    """Without the older works, which no clock looks at; events look at all."""
    if len(place.done) > 1 and all(rhythm.clock != Clock.EVENT for rhythm in rule.rhythms):
        last = max(place.done, key=lambda d: (d.on, d.at, d.verified, d.key))
        place.done = (last,)
    return place


def _system_of(thing, facts: SiteFacts) -> SystemFacts:
    """The system whose states a place follows; for water and site the first that serves."""
    serving = [system for system in facts.systems if system.in_service]
    for system in serving:
        if isinstance(thing, Position) and thing.system_id == system.system.pk:
            return system
        if isinstance(thing, System) and thing.pk == system.system.pk:
            return system
        if isinstance(thing, Pond) and any(
            position.pond_id == thing.pk for position in system.positions
        ):
            return system
        if isinstance(thing, Component) and any(
            row.component_id == thing.pk and row.to_on is None
            for rows in system.fitted.values()
            for row in rows
        ):
            return system
    return serving[0]


def _of_trips(rules: Rules) -> Rules:
    """Without paperwork, for which nobody drives."""
    rules.tasks = [task for task in rules.tasks if task.crew or task.needs_boat]
    return rules


def _work(task: Task) -> Work:
    return Work(
        task.slug,
        task.name,
        task.minutes,
        Harm(task.harm),
        Skill(task.skill),
        task.crew,
        task.needs_boat,
        bool(task.season),
        tuple(task.part_roles),
    )


def _reset_by(task: Task, rules: Rules) -> set[str]:
    rhythms = rules.rhythms.get(task.pk, ())
    return {slug for row in rhythms for slug in row.condition.get("reset_by", ())}


def _ponds(pks: Collection[int]) -> dict[int, int]:
    found: dict[int, int] = defaultdict(int)
    for pk in Pond.objects.filter(site__in=pks).values_list("site_id", flat=True):
        found[pk] += 1
    return found


def _detours(monday: date) -> dict[int, list[int]]:
    """What coming to each site would have added to past weeks, oldest first."""
    rows = list(
        WeekDetours.objects.filter(monday_on__lt=monday).order_by("-monday_on")[:WEEKS_KEPT]
    )
    found: dict[int, list[int]] = defaultdict(list)
    for row in reversed(rows):
        for pk, hm in row.hm.items():
            found[int(pk)].append(hm)
    return found
