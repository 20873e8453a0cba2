"""The firm's visits to a system of the invented fleet, and the verdict after each."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from equipment.condition.history import BaselineRead, GaugeUsed, History, SetRead
from equipment.condition.verdict import State as Finding
from equipment.condition.verdict import Verdict, assessed
from equipment.kinds import Moment, Quantity
from tests.benchmarks.eyes import score, seen
from tests.benchmarks.fleet import BEGIN, Gauge, Machine

DAYS = 4 * 365


@dataclass(frozen=True)
class Round:
    """One visit: its day, the verdict on what was found, and what was read."""

    day: int
    verdict: Verdict
    read: SetRead
    level_m: float


def rounds(
    made: Machine, judge: Callable[..., Verdict] = assessed, days: int = DAYS
) -> Iterator[Round]:
    """Visits every 60 to 120 days, with readings missing here and there, judged one by one."""
    dice, firm = made.dice, _Firm(made)
    firm.commission()
    day, configuration = 25, "summer"
    while (day := _next(made, day)) < days:
        wanted = _configuration(made, day)
        read = firm.read(day, configuration)
        verdict = judge(firm.history(), on=read.on)
        yield Round(day, verdict, read, made.level_m(day))
        if firm.opened and (made.state(day, configuration).filter_pa > 2000 or _due(made, day)):
            made.filter_since = day
        swap = made.fault and made.fault.kind == "gauge" and made.fault.onset <= day
        if swap and made.gauge.key == "first":
            firm.swap_gauge(day, configuration)
        if wanted != configuration:
            configuration = wanted
            firm.move(day, configuration)
        elif verdict.state == Finding.NO_FAULT and dice.random() < 0.8:
            firm.confirm(verdict)


def _next(made, day):
    day += made.dice.randint(60, 120)
    on = BEGIN + timedelta(days=day)
    if made.winter == "shut" and (on.month == 12 or on.month <= 3):
        day += (date(on.year + (on.month == 12), 4, 5) - on).days
    return day


def _configuration(made, day):
    on = BEGIN + timedelta(days=day)
    cold = on.month >= 11 or on.month <= 3
    return "winter" if made.winter == "shallow" and cold else "summer"


def _due(made, day):
    return day - made.filter_since > 120


class _Firm:
    """What the firm has on record of one system, and how it reads."""

    def __init__(self, made: Machine):
        self.made, self.sets, self.baselines, self.opened = made, [], [], False
        self.hours, self.last = 10.0, 0

    def history(self):
        made = self.made
        gauge = made.gauge
        return History(
            tuple(self.sets),
            rigs=made.known,
            names={"summer": "summer", "winter": "winter shallow"},
            winter=frozenset({"winter"}),
            baselines=tuple(self.baselines),
            gauges={key: GaugeUsed(key, gauge.error_pa) for key in ("first", "second")},
            compressor_kind=made.kind,
            swing_m=made.swing_m if made.swing_known else None,
            nominal_v=115.0,
        )

    def commission(self):
        """Day 0, and the set 7 to 30 days later, with every line; a person confirms that one."""
        self.read(0, "summer", Moment.OTHER, full=True)
        second = self.read(self.made.dice.randint(8, 24), "summer", Moment.OTHER, full=True)
        self._keep(second)

    def confirm(self, verdict):
        for proposal in verdict.proposals:
            if proposal.set is not None:
                self._keep(proposal.set)

    def _keep(self, read):
        self.baselines += [
            BaselineRead(
                read.configuration, quantity, value, read.on, position, read.level_m,
                read.gauges.get(Quantity.PRESSURE, ""), read.on, read.moment,
            )
            for (quantity, position), value in read.values.items()
            if quantity != Quantity.RUN_HOURS
        ]  # fmt: skip

    def move(self, day, configuration):
        self.made.move(day, configuration)
        self.read(day, configuration, Moment.AS_LEFT)

    def swap_gauge(self, day, configuration):
        made = self.made
        old = made.gauge
        offset = made.dice.uniform(-old.error_pa, old.error_pa) + made.fault.size
        made.gauge = Gauge("second", old.error_pa, offset, old.noise_pa, old.step_pa)
        self.read(day, configuration, Moment.AS_LEFT)

    def read(self, day, configuration, moment=Moment.AS_FOUND, full=False):
        made, dice = self.made, self.made.dice
        state = made.state(day, configuration)
        values = {}
        if full or dice.random() < 0.97:
            shown = made.gauge.shows(state.point.manifold_pa, dice)
            values[Quantity.PRESSURE, None] = shown
        if len(made.lines) > 1 and (full or dice.random() < 0.5):
            values |= self._lines(state, full)
        if moment != Moment.AS_LEFT:
            values |= self._machine(day, state, full)
            values |= self._boils(state, full)
        self.opened = moment == Moment.AS_FOUND and dice.random() < 0.9
        read = SetRead(
            BEGIN + timedelta(days=day),
            values,
            moment,
            configuration,
            round(state.level_m + dice.gauss(0, 0.02), 2) if full or dice.random() < 0.85 else None,
            {Quantity.PRESSURE: made.gauge.key},
            seen(made, state, self.opened) if moment == Moment.AS_FOUND else {},
            24.0 * (day - self.last),
            day,
        )
        self.sets.append(read)
        self.last = day
        return read

    def _lines(self, state, full):
        """Each line alone: about its share of the air, as well as bleeding off by hand goes."""
        made, dice = self.made, self.made.dice
        found = {}
        for n, line in enumerate(made.lines):
            flow = made.normal.flows[n] * dice.gauss(1, 0.08)
            if full or dice.random() < 0.9:
                pressure = made.line_pressure(state, n, max(flow, 1.0))
                found[Quantity.LINE_PRESSURE, line.label] = made.gauge.shows(pressure, dice)
        return found

    def _machine(self, day, state, full):
        made, dice, found = self.made, self.made.dice, {}
        normal = made.normal
        if full or dice.random() < 0.8:
            volts = dice.gauss(117, 1.7)
            taken = 0.35 + 0.65 * state.power_w / normal.power_w
            shown = 3.0 * taken * 115 * (volts / 115) ** 0.6 / volts * dice.gauss(1, 0.02)
            found[Quantity.VOLTAGE, None] = round(volts * dice.gauss(1, 0.005))
            found[Quantity.CURRENT, None] = round(shown, 2)
        if full or dice.random() < 0.85:
            sun = dice.uniform(0, 3) if made.season(day) > 0 else 0.0
            rise = made.rise_c * (0.4 + 0.6 * state.heat / normal.heat) + sun
            outside = made.outside_c(day) + dice.gauss(0, 4)
            found[Quantity.OUTSIDE_AIR, None] = round(outside)
            found[Quantity.CABINET_AIR, None] = round(outside + rise + dice.gauss(0, 1))
        if made.has_flow_meter and (full or dice.random() < 0.9):
            flow = state.point.delivered_l_min_local * dice.gauss(1, 0.03)
            found[Quantity.FLOW, None] = round(flow)
        if made.has_hour_meter:
            self.hours += 24.0 * (day - self.last) * dice.uniform(0.97, 1.0)
            found[Quantity.RUN_HOURS, None] = round(self.hours)
        return found

    def _boils(self, state, full):
        made, dice = self.made, self.made.dice
        if not full and dice.random() < 0.1:
            return {}
        found = {}
        for n, line in enumerate(made.lines):
            value = score(state.flows[n] / made.normal.flows[n])
            if not full and dice.random() < 0.06:
                value = min(max(value + dice.choice((-1, 1)), 0), 4)
            if full or dice.random() < 0.95:
                found[Quantity.BUBBLES, line.label] = float(value)
        return found


def without_level(history: History, **more) -> Verdict:
    """A judge that forgets to take the water's level out: the fleet must catch it."""
    bare = tuple(replace(one, level_m=0.0) for one in history.sets)
    rows = tuple(replace(row, level_m=0.0) for row in history.baselines)
    return assessed(replace(history, sets=bare, baselines=rows), **more)
