"""An invented fleet whose readings come out of physics, with known faults put into the physics.

Nothing here knows the cause matrix. A fault changes membranes, curve, intake, lines, water or
gauge; what gauges show and what a technician sees follows from where compressor and lines then
meet, with the errors of instruments and eyes. All figures are invented, of plausible size.
"""

import math
import random
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from equipment.condition.history import PSI_PA, Rig
from equipment.kinds import CompressorKind
from equipment.physics.air import compressed_temperature_k, compression_power_w
from equipment.physics.atmosphere import air_pressure_pa
from equipment.physics.compressor import Curve, curve_at_site, typical_curve
from equipment.physics.network import Line, OperatingPoint, operating_point, valve_settings

BEGIN = date(2023, 4, 1)
WINTER_DEPTH_M = 1.5
SLOW = ("fouling_one", "fouling_all", "worn", "filter")
SUDDEN = ("leak_line", "leak_shore", "level")
KINDS = (*SLOW, *SUDDEN, "gauge")
# What counts as the true cause, set before any figure was looked at. A gauge that reads wrong is
# no fault of the system: nothing, or the gauge, may be named.
TRUTH = {
    "fouling_one": "membrane_fouled",
    "fouling_all": "membrane_fouled",
    "worn": "compressor_worn",
    "filter": "intake_filter_loaded",
    "leak_line": "line_leak_in_water",
    "leak_shore": "leak_on_shore",
    "level": "water_level_changed",
    "gauge": "gauge_wrong",
}
# Of one kind each: lowest and highest depth [m], pressure of the nameplate [Pa], plates
_SHAPES = {
    CompressorKind.PISTON: (2.4, 5.5, 110e3, (1, 6)),
    CompressorKind.VANE: (1.8, 4.5, 80e3, (2, 6)),
    CompressorKind.LINEAR: (1.0, 1.9, 35e3, (1, 2)),
}


@dataclass
class Gauge:
    """A dial: its class as known, and the error that nobody knows."""

    key: str
    error_pa: float
    offset_pa: float
    noise_pa: float
    step_pa: float

    def shows(self, pressure_pa, dice):
        read = pressure_pa + self.offset_pa + dice.gauss(0, self.noise_pa)
        return max(round(read / self.step_pa) * self.step_pa, 0.0)


@dataclass
class Fault:
    """What goes wrong, from a day on. `pace`: days until the limit; `size`: how much at once."""

    kind: str
    onset: int
    pace: float
    size: float
    plates: tuple[int, ...] = ()
    rates: tuple[float, ...] = ()
    where: float = 0.5

    def grown(self, day):
        """1 at the limit for what grows slowly."""
        return max(day - self.onset, 0) / self.pace


@dataclass
class State:
    """The truth of a day: where compressor and lines meet, and what follows from it."""

    point: OperatingPoint
    flows: tuple[float, ...]
    hole_l_min: float
    power_w: float
    heat: float
    level_m: float
    filter_pa: float
    lines: tuple[Line, ...]
    hole: Line | None


@dataclass
class Machine:
    """One invented system: what it truly is, and what the firm has on record of it."""

    number: int
    dice: random.Random
    kind: str
    air_pa: float
    curve: Curve
    lines: tuple[Line, ...]
    winter: str
    gauge: Gauge
    fault: Fault | None
    known: dict[str, Rig]
    has_flow_meter: bool
    has_hour_meter: bool
    swing_m: float
    swing_known: bool
    rise_c: float
    placed_m: dict[str, float] = field(default_factory=dict)
    valves: dict[str, float] = field(default_factory=dict)
    filter_since: int = 0
    normal: State | None = None

    def season(self, day):
        return math.sin(
            2 * math.pi * ((BEGIN + timedelta(days=day)).timetuple().tm_yday - 105) / 365
        )

    def level_m(self, day):
        wave = -self.swing_m / 2 * self.season(day)
        if self.fault and self.fault.kind == "level" and day >= self.fault.onset:
            wave += self.fault.size
        return wave

    def outside_c(self, day):
        return 11 + 13 * self.season(day)

    def state(self, day, configuration):
        """The physics of a day."""
        lines, hole = self._lines(day, configuration)
        filter_pa = self._filter_pa(day)
        inlet = self.outside_c(day) + 8
        curve = _throttled(curve_at_site(self.curve, self.air_pa, inlet), self.air_pa, filter_pa)
        if self.fault and self.fault.kind == "worn":
            left = max(1 - 0.15 * self.fault.grown(day), 0.45)
            curve = Curve(tuple((p, q * left) for p, q in curve.points))
        leak = 0.0
        if self.fault and self.fault.kind == "leak_shore" and day >= self.fault.onset:
            leak = self._leak()
        every = (*lines, hole) if hole else lines
        point = operating_point(curve, every, air_pa=self.air_pa, leak_l_min_per_sqrt_pa=leak)
        flows = tuple(s.flow_l_min_local for s in point.lines[: len(lines)])
        out = point.lines[-1].flow_l_min_local if hole else 0.0
        # Work goes with the volume drawn in. A loaded filter leaves the current flat, as the trade
        # knows it; that it heats the air more follows from the higher ratio of pressures.
        drawn = point.delivered_l_min_local * (273.15 + inlet) / 293.15
        drawn *= self.air_pa / (self.air_pa - filter_pa)
        power = compression_power_w(drawn, point.manifold_pa, air_pa=self.air_pa)
        ratio = (self.air_pa + point.manifold_pa) / (self.air_pa - filter_pa)
        heat = compressed_temperature_k(293.0, ratio) - 293.0
        level = self.level_m(day)
        return State(point, flows, out, power, heat, level, filter_pa, lines, hole)

    def _lines(self, day, configuration):
        lines = []
        for n, line in enumerate(self.lines):
            depth = line.depth_m if configuration == "summer" else min(WINTER_DEPTH_M, line.depth_m)
            kv = self.valves.get(f"{configuration}{n}", line.valve_pa_per_l_min2)
            depth += self.placed_m.get(f"{configuration}{n}", 0.0) + self.level_m(day)
            lines.append(replace(line, depth_m=max(depth, 0.2), valve_pa_per_l_min2=kv))
        fault = self.fault
        if fault and fault.kind.startswith("fouling"):
            for plate, rate in zip(fault.plates, fault.rates, strict=True):
                more = fault.grown(day) * rate * fault.size
                old = lines[plate]
                share = 0.3 * more / max(self._design(plate), 1.0)  # some of it grows with the flow
                lines[plate] = replace(
                    old,
                    opening_pa=old.opening_pa + 0.7 * more,
                    slope_pa_per_l_min=old.slope_pa_per_l_min + share,
                )
        hole = None
        if fault and fault.kind == "leak_line" and day >= fault.onset:
            hole = self._hole(lines[fault.plates[0]])
        return tuple(lines), hole

    def _design(self, plate):
        return self.normal.flows[plate] if self.normal else 25.0

    def _leak(self):
        return (
            self.fault.size
            * self.normal.point.delivered_l_min_local
            / math.sqrt(self.normal.point.manifold_pa)
        )

    def _hole(self, line):
        """An opening in the line part of the way down, as wide as takes a share of all air."""
        depth = max(self.fault.where * line.depth_m, 0.05)
        wanted = self.fault.size * self.normal.point.delivered_l_min_local
        head = max(self.normal.point.manifold_pa - 9790 * depth, 2000.0)
        return replace(
            line,
            label="hole",
            depth_m=depth,
            length_m=max(self.fault.where * line.length_m, 1.0),
            opening_pa=0.0,
            slope_pa_per_l_min=0.0,
            check_valve_pa=0.0,
            valve_pa_per_l_min2=line.valve_pa_per_l_min2 + head / wanted**2,
        )

    def _filter_pa(self, day):
        dust = 6.0 * (day - self.filter_since)  # 0.9 kPa in five months
        fault = self.fault
        if fault and fault.kind == "filter" and day > fault.onset:
            days = day - max(fault.onset, self.filter_since)
            dust += fault.size * min(days / fault.pace, 2.0)
        return dust

    def move(self, day, configuration):
        """Plates are laid down anew, never quite where they lay, and the boils balanced by eye."""
        for n in range(len(self.lines)):
            self.placed_m[f"{configuration}{n}"] = self.dice.gauss(0, 0.05)
        lines, _ = self._lines(day, configuration)
        wanted = [self.dice.uniform(0.9, 1.1) for _ in lines]
        curve = curve_at_site(self.curve, self.air_pa)
        balance = valve_settings(curve, lines, wanted, air_pa=self.air_pa)
        for n, setting in enumerate(balance.settings):
            self.valves[f"{configuration}{n}"] = setting.valve_pa_per_l_min2 or 0.0

    def line_pressure(self, state, plate, flow):
        """What one line takes alone, the others closed and the spare air let out."""
        lines = [state.lines[plate]]
        if state.hole and self.fault.plates[0] == plate:
            lines.append(state.hole)
        flow = min(flow, state.point.delivered_l_min_local)
        given = Curve(((0.0, 1.001 * flow), (200e3, 0.999 * flow)))  # as good as constant
        return operating_point(given, lines, air_pa=self.air_pa).manifold_pa


def machine(number: int, seed: int, kind: str | None = None) -> Machine:
    """One system; `kind` forces its fault ("none" for no fault), otherwise dice decide."""
    dice = random.Random(f"{seed}/{number}")
    compressor = dice.choices(list(_SHAPES), weights=(60, 25, 15))[0]
    shallow, deep, pressure_max, (fewest, most) = _SHAPES[compressor]
    plates = dice.randint(fewest, most)
    air_pa = air_pressure_pa(dice.choice((0, 100, 250, 400, 800, 1500)))
    depth = dice.uniform(shallow, deep)
    lines = tuple(_line(dice, n, depth, shallow) for n in range(plates))
    each = dice.uniform(20, 35)
    plate_rated = typical_curve(compressor, 1.25 * each * plates, pressure_max)
    true = Curve(
        tuple((p, q * dice.uniform(0.96, 1.04)) for p, q in plate_rated.points[:1])
        + tuple((p, q * 0.98) for p, q in plate_rated.points[1:])
    )
    lines = _balanced(curve_at_site(true, air_pa), lines, air_pa)
    winter = dice.choices(("runs", "shallow", "shut"), weights=(50, 30, 20))[0]
    fault_kind = kind or dice.choices((None, *KINDS), weights=(35, *[8] * 8))[0]
    made = Machine(
        number,
        dice,
        compressor,
        air_pa,
        true,
        lines,
        winter,
        _gauge(dice, compressor, "first"),
        None,
        {},
        dice.random() < 0.35,
        dice.random() < 0.7,
        dice.uniform(0.1, 0.6),
        dice.random() < 0.5,
        dice.uniform(6, 12),
    )
    made.normal = made.state(20, "summer")
    made.known = _known(made, plate_rated)
    made.fault = _fault(dice, made, fault_kind) if fault_kind in KINDS else None
    return made


def _line(dice, n, depth, shallow):
    length = dice.uniform(20, 110)
    return Line(
        f"D{n + 1}",
        max(depth - dice.choice((0, 0, 0.2, 0.5)) * dice.random(), min(shallow, 1.0)),
        length,
        0.0127 if length < 60 else 0.0159,
        membranes=1,
        opening_pa=dice.uniform(2000, 3500),
        slope_pa_per_l_min=dice.uniform(25, 55),
        check_valve_pa=dice.uniform(700, 2500),
    )


def _balanced(curve, lines, air_pa):
    balance = valve_settings(curve, lines, [1.0] * len(lines), air_pa=air_pa)
    return tuple(
        replace(line, valve_pa_per_l_min2=s.valve_pa_per_l_min2 or 0.0)
        for line, s in zip(lines, balance.settings, strict=True)
    )


def _gauge(dice, compressor, key, more_pa=0.0):
    scale = {CompressorKind.LINEAR: 7.5}.get(compressor) or dice.choices((15, 30), (70, 30))[0]
    error = dice.choice((0.016, 0.02, 0.025)) * scale * PSI_PA
    return Gauge(
        key, error, dice.uniform(-error, error) + more_pa, 0.2 * error, scale / 150 * PSI_PA
    )


def _known(made, rated):
    """What the register says: nameplate curve, measured depth, new membranes as usual."""
    lines = tuple(
        Line(
            line.label,
            max(line.depth_m + made.dice.gauss(0, 0.04), 0.2),
            line.length_m,
            line.bore_m,
            check_valve_pa=1500.0,
            valve_pa_per_l_min2=line.valve_pa_per_l_min2,
        )
        for line in made.lines
    )
    curve = curve_at_site(rated, made.air_pa)
    summer = Rig(curve, lines, made.air_pa, compressor_kind=made.kind)
    shallow = tuple(replace(one, depth_m=min(WINTER_DEPTH_M, one.depth_m)) for one in lines)
    return {"summer": summer, "winter": replace(summer, lines=shallow)}


def _fault(dice, made, kind):
    onset, plates = dice.randint(200, 700), len(made.lines)
    baseline = made.normal.point.manifold_pa
    limit = max(PSI_PA, 0.15 * baseline)
    if kind == "fouling_one":
        chosen = tuple(dice.sample(range(plates), dice.randint(1, max(plates // 2, 1))))
        return Fault(kind, onset, dice.uniform(200, 600), limit, chosen, _rates(dice, chosen))
    if kind == "fouling_all":
        chosen = tuple(range(plates))
        return Fault(kind, onset, dice.uniform(200, 600), limit, chosen, _rates(dice, chosen))
    if kind == "leak_line":
        where = dice.uniform(0.1, 0.85)
        return Fault(kind, onset, 1, dice.uniform(0.25, 0.7), (dice.randrange(plates),), (), where)
    sizes = {
        "worn": (0, 0),
        "filter": (1, 1),
        "leak_shore": (0.25, 0.65),
        "level": (0.5, 1.2),
        "gauge": (0.5 * PSI_PA, 2 * PSI_PA),
    }
    size = dice.uniform(*sizes[kind]) * (dice.choice((-1, 1)) if kind in ("level", "gauge") else 1)
    if kind == "level" and size < 0:
        size *= 0.5 if min(line.depth_m for line in made.lines) < 2 else 1
    if kind == "filter":
        size = _clogged_pa(made)
    pace = dice.uniform(40, 110) if kind == "filter" else dice.uniform(200, 600)
    return Fault(kind, onset, pace, size)


def _clogged_pa(made):
    """The intake loss that takes 15 percent of the air."""
    low, high = 0.0, 0.4 * made.air_pa
    normal = made.normal.point.delivered_l_min_local
    curve = curve_at_site(made.curve, made.air_pa, made.outside_c(20) + 8)
    for _ in range(25):
        middle = (low + high) / 2
        point = operating_point(
            _throttled(curve, made.air_pa, middle), made.normal.lines, air_pa=made.air_pa
        )
        enough = point.delivered_l_min_local > 0.85 * normal
        low, high = (middle, high) if enough else (low, middle)
    return low


def _rates(dice, plates):
    """One plate goes ahead; the others foul at their own pace."""
    return tuple(1.0 if n == 0 else dice.uniform(0.6, 1.0) for n in range(len(plates)))


def _throttled(curve, air_pa, filter_pa):
    """A machine that breathes thinner air: less mass, and a higher ratio for the same pressure."""
    if filter_pa <= 0:
        return curve
    thin = (air_pa - filter_pa) / air_pa
    points = [((p + air_pa) * thin - air_pa, q * thin) for p, q in curve.points]
    inside = [(p, q) for p, q in points if p > 0]
    if not inside:
        return Curve(((0.0, 0.0),))
    (p0, q0), (p1, q1) = points[len(points) - len(inside) - 1], inside[0]
    first = q0 + (q1 - q0) * (0 - p0) / (p1 - p0)
    return Curve(((0.0, first), *inside))
