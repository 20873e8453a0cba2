"""The configurations of many systems as physics sees them: curve, lines, air and water."""

import logging
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from equipment.condition.history import Change, Changed, Rig
from equipment.kinds import CheckValvePlace, PositionKind
from equipment.models import ComponentType, Configuration, ConfigurationLine, Fitting, System
from equipment.physics.atmosphere import air_pressure_pa
from equipment.physics.compressor import Curve, curve_at_site, typical_curve
from equipment.physics.network import OPENING_PA, SLOPE_PA_PER_L_MIN, Line
from equipment.physics.valve import throttle_pa_per_l_min2

CHECK_VALVE_PA = 2000.0  # 0.1 to 0.5 psi: common practice, no source
WATER_C = 15.0  # the year round, at the plates: judgement
UNKNOWN_BORE_M = 0.0127  # of a line that nobody measured, which then costs nothing: judgement
OF_WINTER = "winter"
OF_A_PLAN = (
    "position_id",
    "depth_m",
    "valve_open_percent",
    "in_use",
    "line_length_m",
    "bore_m",
    "membranes",
    "check_valve_at",
)


log = logging.getLogger(__name__)


@dataclass
class Setup:
    """What has stood in a system: its configurations and what was fitted, first to last."""

    system: System
    configurations: list[Configuration] = field(default_factory=list)
    lines: dict[int, list[ConfigurationLine]] = field(default_factory=dict)
    fittings: list[Fitting] = field(default_factory=list)

    def key_on(self, day: date) -> str:
        """The key of the configuration of a day; empty before the first one."""
        begun = [one for one in self.configurations if one.from_on <= day]
        return self.keys[begun[-1].pk] if begun else ""

    @cached_property
    def keys(self) -> dict[int, str]:
        """Configurations that are alike bear the key of the first of them.

        What was built anew, and has to settle, is like nothing before it.
        """
        first: dict[tuple, str] = {}
        keys, builds = {}, 0
        for one in self.configurations:
            builds += one.settles_from_on is not None
            keys[one.pk] = first.setdefault((builds, *self._plan(one)), str(one.pk))
        return keys

    def _plan(self, one):
        rows = sorted(self.lines.get(one.pk, ()), key=lambda line: line.position_id)
        return [tuple(getattr(line, name) for name in OF_A_PLAN) for line in rows]

    @property
    def names(self) -> dict[str, str]:
        return {self.keys[one.pk]: one.name for one in reversed(self.configurations)}

    @property
    def winter(self) -> frozenset[str]:
        return frozenset(
            self.keys[one.pk] for one in self.configurations if OF_WINTER in one.name.lower()
        )

    def fitted(self, kind: str, day: date) -> list[Fitting]:
        return [
            row
            for row in self.fittings
            if row.position.kind == kind
            and row.from_on <= day
            and (row.to_on is None or day < row.to_on)
        ]

    def nominal_v(self, day: date) -> float | None:
        """Volts by the nameplates of what pumps on a day; None where they do not say one figure."""
        units = (row.component.type for row in self.fitted(PositionKind.COMPRESSOR, day))
        said = {float(unit.nameplate.get("voltage_v") or 0) for unit in units}
        return (said.pop() or None) if len(said) == 1 else None

    def rigs(self, day: date) -> dict[str, Rig]:
        """Each configuration with what is fitted on a day; the newest of those that are alike.

        One that physics refuses is left out: its readings are judged by their baseline alone.
        """
        found = {}
        for one in self.configurations:
            try:
                found[self.keys[one.pk]] = self.rig(one, day)
            except ValueError as error:
                log.warning("configuration %s of %s: %s", one.pk, self.system.key, error)
        return found

    def rig(self, configuration: Configuration, day: date) -> Rig:
        """One configuration with what is fitted on a day."""
        units = [row.component.type for row in self.fitted(PositionKind.COMPRESSOR, day)]
        air_pa = air_pressure_pa(self.system.site.elevation_m or 0.0)
        plates = {
            row.position_id: row.component.type for row in self.fitted(PositionKind.DIFFUSER, day)
        }
        rows = self.lines.get(configuration.pk, ())
        reliefs = [row.component.type for row in self.fitted(PositionKind.RELIEF_VALVE, day)]
        opens = [float(pa) for one in reliefs if (pa := one.nameplate.get("set_pa"))]
        return Rig(
            curve=curve_of(units, air_pa),
            lines=tuple(line_of(row, plates.get(row.position_id)) for row in rows if row.depth_m),
            air_pa=air_pa,
            water_c=WATER_C,
            relief_pa=min(opens, default=None),
            compressor_kind=units[0].compressor_kind if len(units) == 1 else None,
        )

    def changes(self) -> Iterable[Changed]:
        """Days on which other plates, another compressor or a new build began."""
        for row in self.fittings:
            if row.from_on <= self.system.installed_on:
                continue
            if row.position.kind == PositionKind.COMPRESSOR:
                yield Changed(row.from_on, Change.COMPRESSOR)
            if row.position.kind == PositionKind.DIFFUSER:
                yield Changed(row.from_on, Change.MEMBRANES, row.position.label)
        for one in self.configurations:
            if one.settles_from_on and one.from_on > self.system.installed_on:
                yield Changed(one.from_on, Change.REBUILT)


def setups_of(system_ids: Collection[int]) -> dict[int, Setup]:
    """Configurations and fittings of many systems, in four queries."""
    systems = System.objects.filter(pk__in=system_ids).select_related("site")
    found = {system.pk: Setup(system) for system in systems}
    lines = defaultdict(list)
    rows = ConfigurationLine.objects.filter(configuration__system__in=found)
    for row in rows.select_related("position").order_by("position__label", "pk"):
        lines[row.configuration_id].append(row)
    for one in Configuration.objects.filter(system__in=found).order_by("from_on", "pk"):
        setup = found[one.system_id]
        setup.configurations.append(one)
        setup.lines[one.pk] = lines[one.pk]
    fittings = Fitting.objects.filter(position__system__in=found)
    for row in fittings.select_related("component__type", "position").order_by("from_on", "pk"):
        found[row.position.system_id].fittings.append(row)
    return found


def curve_of(units: Sequence[ComponentType], air_pa: float) -> Curve | None:
    """What the compressors of a cabinet give together; None where one of them is not known."""
    curves = [_curve(unit) for unit in units]
    if not curves or None in curves:
        return None
    if len(curves) == 1:
        return curve_at_site(curves[0], air_pa)
    most = min(curve.pressure_max_pa for curve in curves)
    steps = sorted({p for curve in curves for p, _ in curve.points if p <= most})
    total = tuple((p, sum(curve.delivered_l_min_local(p) for curve in curves)) for p in steps)
    return curve_at_site(Curve(total, curves[0].basis), air_pa)


def _curve(unit):
    points = unit.nameplate.get("curve")
    if points:
        return Curve(tuple((float(p), float(q)) for p, q in points))
    if unit.free_air_l_min and unit.pressure_max_pa and unit.compressor_kind:
        return typical_curve(unit.compressor_kind, unit.free_air_l_min, unit.pressure_max_pa)
    return None


def line_of(row: ConfigurationLine, plate: ComponentType | None = None) -> Line:
    """One line of a configuration; a length that nobody measured costs no pressure."""
    bore = row.bore_m or UNKNOWN_BORE_M
    plate = plate.nameplate if plate else {}
    has_check_valve = row.check_valve_at not in {"", CheckValvePlace.NONE}
    return Line(
        label=row.position.label,
        depth_m=row.depth_m,
        length_m=(row.line_length_m or 0.0) if row.bore_m else 0.0,
        bore_m=bore,
        membranes=row.membranes,
        opening_pa=float(plate.get("opening_pa") or OPENING_PA),
        slope_pa_per_l_min=float(plate.get("slope_pa_per_l_min") or SLOPE_PA_PER_L_MIN),
        check_valve_pa=CHECK_VALVE_PA if has_check_valve else 0.0,
        valve_pa_per_l_min2=throttle_pa_per_l_min2(row.valve_open_percent, bore),
        in_use=row.in_use and row.valve_open_percent > 0,
    )
