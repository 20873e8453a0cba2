"""Systems of the demo firm: cabinets, units, plates, and the states they have been in."""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from random import Random
from zoneinfo import ZoneInfo

from customers.models import User
from equipment.kinds import (
    RUNNING,
    CheckValvePlace,
    PartRole,
    PositionKind,
    Quantity,
    SystemState,
    WinterMode,
)
from equipment.models import (
    Component,
    ComponentType,
    Configuration,
    ConfigurationLine,
    Fitting,
    Gauge,
    Part,
    PartFor,
    Position,
    Schedule,
    StateChange,
    System,
)
from equipment.physics import units
from servicedesk.actions.demo import words
from servicedesk.actions.demo.places import FOOT_M, Cabinet, Place
from servicedesk.actions.demo.plumbing import (
    GAUGE_PERCENT,
    GAUGE_PSI,
    Ailment,
    Plumbing,
    ailment_of,
    curve_of,
    plumb,
)

ZONE = ZoneInfo(words.ZONE)
WINTER_STATE = {
    WinterMode.RUN_SHALLOW: SystemState.RUNNING_WINTER_SHALLOW,
    WinterMode.RUN_DEEP: SystemState.RUNNING_WINTER_DEEP,
    WinterMode.SHUT_DOWN: SystemState.SHUT_WINTER,
}
WINTER_MODES = [WinterMode.RUN_DEEP] * 5 + [WinterMode.RUN_SHALLOW] * 2 + [WinterMode.SHUT_DOWN]
RAMP_DAYS = 7
SHALLOW = 0.45  # of the summer depth
FAILED_DAYS_AGO = 6
FAILED_BECAUSE = "The compressor does not start; a loaner is asked for."
HERON_SHUT = (11, 10)  # month and day


@dataclass
class Built:
    """A system with what the history needs to know of it."""

    cabinet: Cabinet
    place: Place
    model: words.Model
    system: System
    hours_per_day: float
    depths_m: list[float]
    states: list[tuple[date, SystemState]]
    seasons: list[tuple[date, str]]  # days of season work, with the task's slug
    told_until: date  # the day of the demo
    positions: dict[str, Position] = field(default_factory=dict)
    configurations: list[Configuration] = field(default_factory=list)
    gauge: Gauge | None = None

    def state_on(self, day: date) -> SystemState | None:
        return next((state for since, state in reversed(self.states) if since <= day), None)

    def runs_on(self, day: date) -> bool:
        return self.state_on(day) in RUNNING

    def running_days(self, until: date) -> int:
        """Days in a running state since the installation."""
        ends = [since for since, _ in self.states[1:]] + [until]
        return sum(
            max(0, (min(end, until) - since).days)
            for (since, state), end in zip(self.states, ends, strict=True)
            if state in RUNNING
        )

    def depths_on(self, day: date) -> tuple[float, ...]:
        """Depth of each plate in metres, in the configuration of that day."""
        shallow = self.state_on(day) == SystemState.RUNNING_WINTER_SHALLOW
        return tuple(depth * (SHALLOW if shallow else 1) for depth in self.depths_m)

    @cached_property
    def plumbing(self) -> Plumbing:
        curve = curve_of(self.model)
        return plumb(self.system.key, curve, self.depths_m, self.place.site.elevation_m)

    @cached_property
    def ailment(self) -> Ailment:
        told = bool(self.cabinet.story)
        return ailment_of(self.system.key, self.cabinet.ails, self.told_until, story=told)

    def configuration_on(self, day: date) -> Configuration:
        begun = [one for one in self.configurations if one.from_on <= day]
        return (begun or self.configurations)[-1]

    @property
    def plates(self) -> list[Position]:
        return [p for p in self.positions.values() if p.kind == PositionKind.DIFFUSER]


def at(day: date, hour: float) -> datetime:
    """A time of day at the demo's sites."""
    minutes = round(hour * 60)
    return datetime.combine(day, time(minutes // 60, minutes % 60), ZONE)


def draw_systems(draw: Random, places: list[Place], *, today: date) -> list[Built]:
    """What stands at each place, with its states from its installation until today."""
    built = []
    for place in places:
        installed = today - timedelta(days=draw.randrange(790, 2300))
        for cabinet in place.cabinets:
            built.append(_system(draw, place, cabinet, installed, len(built) + 1, today))
    return built


def _system(draw, place, cabinet, installed, number, today):
    model = words.MODELS[draw.choice([0, 0, 0, 1, 1, 2])]
    if cabinet.pond.depth_max_m > model.depth_max_m:
        model = words.MODELS[1]
    winter = cabinet.winter or draw.choice(WINTER_MODES)
    hours = 24 if cabinet.story else draw.choice([24, 24, 24, 24, 16, 12])
    deepest = round(cabinet.pond.depth_max_m / FOOT_M) - 1
    feet = sorted(max(4, deepest - draw.randrange(4)) for _ in range(draw.randrange(1, 5)))[::-1]
    built = Built(
        cabinet=cabinet,
        place=place,
        model=model,
        system=System(
            key=f"A-{number:04}",
            name=cabinet.name,
            installed_on=installed,
            commissioned_on=installed,
            warranty_from=installed,
            warranty_months=24,
            winter_mode=winter,
            supply_note="115 V, own circuit with ground-fault outlet",
        ),
        hours_per_day=hours,
        depths_m=[round(foot * FOOT_M, 4) for foot in feet],
        states=[(installed, SystemState.RUNNING)],
        seasons=[],
        told_until=today,
    )
    seasons = Random(f"seasons of {place.site.key}")  # all that stands at a site on one day
    _winters(seasons, built, winter, today)
    _story(built, cabinet.story, today)
    return built


def _winters(draw, built, winter, today):
    """Every autumn into its winter state, every spring back; season work falls on those days."""
    slug = {
        WinterMode.RUN_SHALLOW: "winter_shallow",
        WinterMode.RUN_DEEP: "winter_deep",
        WinterMode.SHUT_DOWN: "winter_shut_down",
    }[winter]
    installed = built.system.installed_on
    alone = len(built.place.cabinets) == 1 and not built.cabinet.story
    late = draw.random() < 0.02 and alone  # somebody is always behind
    for year in range(installed.year, today.year + 1):
        spring = _weekday(date(year, 4, 12) + timedelta(days=draw.randrange(26)))
        summer = _weekday(date(year, 7, 6) + timedelta(days=draw.randrange(28)))
        autumn = _weekday(date(year, 11, 2) + timedelta(days=draw.randrange(10)))
        missed = late and autumn.year == today.year
        if installed < spring < today and built.states[-1][1] != SystemState.RUNNING:
            shut = winter == WinterMode.SHUT_DOWN
            if shut:
                built.states.append((spring, SystemState.RAMPING))
                built.seasons.append((spring, "spring_restart"))
            full = spring + timedelta(days=RAMP_DAYS if shut else 0)
            if full < today:
                built.states.append((full, SystemState.RUNNING))
        if installed < summer < today:
            built.seasons.append((summer, "midsummer_check"))
        if installed < autumn < today and not missed:
            built.states.append((autumn, WINTER_STATE[winter]))
            built.seasons.append((autumn, slug))


def _story(built, story, today):
    """The special systems: one that failed, and one that was shut for winter and stayed so."""
    if story == "failed":
        built.states.append((failed_on(today), SystemState.FAILED))
    if story == "shut":
        shut = heron_shut_on(today)
        autumn = shut.replace(month=9, day=1)
        built.states = [one for one in built.states if one[0] < autumn]
        built.seasons = [one for one in built.seasons if one[0] < autumn]
        built.states.append((shut, SystemState.SHUT_WINTER))
        built.seasons.append((shut, "winter_shut_down"))


def failed_on(today: date) -> date:
    """The working day of last week on which the dead compressor was found."""
    return _weekday(today - timedelta(days=FAILED_DAYS_AGO))


def heron_shut_on(today: date) -> date:
    """The last tenth of November before today."""
    year = today.year if (today.month, today.day) > HERON_SHUT else today.year - 1
    return date(year, *HERON_SHUT)


def _weekday(day):
    return day - timedelta(days=max(0, day.isoweekday() - 5))


def save_systems(draw: Random, built: list[Built], *, by: User) -> None:
    """Write systems, positions, units, configurations and states."""
    types = _save_types()
    for one in built:
        one.system.site = one.place.site
    System.objects.bulk_create([one.system for one in built], batch_size=500)
    Schedule.objects.bulk_create(
        (
            Schedule(
                system=one.system,
                from_on=one.system.installed_on,
                hours_per_day=one.hours_per_day,
            )
            for one in built
        ),
        batch_size=500,
    )
    _save_positions(draw, built)
    _save_units(draw, built, types)
    _save_configurations(built)
    _save_gauges(built)
    StateChange.objects.bulk_create(
        (
            StateChange(
                system=one.system,
                at=at(since, 11),
                state=state,
                by=by,
                reason=FAILED_BECAUSE if state == SystemState.FAILED else "",
                entered_at=at(since, 12),
            )
            for one in built
            for since, state in one.states
        ),
        batch_size=500,
    )


def _save_types():
    """Compressor models with the parts that fit them, and one hour meter."""
    types = {}
    gasket = Part.objects.create(number="GK-1", name="Housing gasket")
    for model in words.MODELS:
        element = Part.objects.create(
            number=model.filter_part, name=f"Filter element for {model.maker} {model.model}"
        )
        made = ComponentType.objects.create(
            kind=PositionKind.COMPRESSOR,
            maker=model.maker,
            model=model.model,
            compressor_kind=model.kind,
            power_w=model.power_w,
            free_air_l_min=model.free_air_l_min,
            pressure_max_pa=units.to_stored("pressure", model.pressure_max_psi, "psi"),
            current_a=model.current_a,
            nameplate={"voltage_v": model.voltage_v},
        )
        for role, part in [(PartRole.FILTER_ELEMENT, element), (PartRole.GASKET, gasket)]:
            PartFor.objects.create(component_type=made, role=role, part=part)
        types[model.model] = made
    types["meter"] = ComponentType.objects.create(
        kind=PositionKind.METER, maker="Tallywell", model="H-1"
    )
    return types


def _save_positions(draw, built):
    for one in built:
        position = Position(system=one.system, kind=PositionKind.COMPRESSOR, label="compressor 1")
        one.positions["compressor"] = position
    Position.objects.bulk_create([one.positions["compressor"] for one in built], batch_size=500)
    more = []
    for one in built:
        serves = {"system": one.system, "serves": one.positions["compressor"]}
        one.positions["filter"] = Position(kind=PositionKind.FILTER, label="filter 1", **serves)
        if draw.random() < 0.4:
            one.positions["meter"] = Position(kind=PositionKind.METER, label="meter 1", **serves)
        for number in range(1, len(one.depths_m) + 1):
            label = f"D{number}"
            one.positions[label] = Position(
                system=one.system, pond=one.cabinet.pond, kind=PositionKind.DIFFUSER, label=label
            )
        more += [p for name, p in one.positions.items() if name != "compressor"]
    Position.objects.bulk_create(more, batch_size=500)


def _save_units(draw, built, types):
    components, fittings = [], []
    for number, one in enumerate(built, start=4400):
        wanted = [("compressor", types[one.model.model], f"{one.model.model[0]}{number}")]
        if "meter" in one.positions:
            wanted.append(("meter", types["meter"], f"H{number}"))
        for name, kind, serial in wanted:
            installed = one.system.installed_on
            unit = Component(type=kind, serial=serial, warranty_from=installed, warranty_months=24)
            components.append(unit)
            fittings.append(
                Fitting(
                    component=unit,
                    position=one.positions[name],
                    from_on=installed,
                    meter_start_h=0 if name == "meter" else None,
                    entered_at=at(installed, 12),
                )
            )
    Component.objects.bulk_create(components, batch_size=500)
    Fitting.objects.bulk_create(fittings, batch_size=500)


def _save_configurations(built):
    """Summer depths since the installation; where plates move in winter, one for each move."""
    configurations, lines = [], []
    for one in built:
        moves = [(one.system.installed_on, "summer", 1.0)]
        for since, state in one.states[1:]:
            shallow = state == SystemState.RUNNING_WINTER_SHALLOW
            if shallow != (moves[-1][2] == SHALLOW):
                moves.append(
                    (since, "winter shallow", SHALLOW) if shallow else (since, "summer", 1.0)
                )
        for since, name, share in moves:
            made = Configuration(
                system=one.system, from_on=since, name=name, entered_at=at(since, 12)
            )
            one.configurations.append(made)
            laid = one.plumbing
            lines += [
                ConfigurationLine(
                    configuration=made,
                    position=plate,
                    depth_m=round(depth * share, 3),
                    valve_open_percent=laid.valves_percent[number],
                    line_length_m=laid.lengths_m[number],
                    bore_m=laid.bores_m[number],
                    membranes=laid.membranes,
                    check_valve_at=CheckValvePlace.MANIFOLD,
                )
                for number, (plate, depth) in enumerate(zip(one.plates, one.depths_m, strict=True))
            ]
        configurations += one.configurations
    Configuration.objects.bulk_create(configurations, batch_size=500)
    ConfigurationLine.objects.bulk_create(lines, batch_size=500)


def _save_gauges(built):
    """One gauge at each manifold since the installation."""
    full = units.to_stored("pressure", GAUGE_PSI, "psi")
    for one in built:
        one.gauge = Gauge(
            system=one.system,
            quantity=Quantity.PRESSURE,
            label=f"0 to {GAUGE_PSI:.0f} psi at the manifold",
            full_scale=full,
            error_percent=GAUGE_PERCENT,
            from_on=one.system.installed_on,
        )
    Gauge.objects.bulk_create([one.gauge for one in built], batch_size=500)
