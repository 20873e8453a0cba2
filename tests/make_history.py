"""The smallest history of one invented system, for tests of what readings say."""

from datetime import date, timedelta

from equipment.condition.history import (
    PSI_PA,
    BaselineRead,
    GaugeUsed,
    History,
    Rig,
    SetRead,
)
from equipment.kinds import Quantity
from equipment.physics.compressor import typical_curve
from equipment.physics.network import Line

FT_M = 0.3048
DAY = date(2026, 5, 1)
SUMMER, WINTER = "summer", "winter shallow"


def line(label, depth_ft):
    return Line(label, depth_ft * FT_M, 60.0, 0.0159, check_valve_pa=1500.0)


def rig(depth_ft=12.0, plates=3, free_l_min=95.0, **more):
    lines = tuple(line(f"D{n + 1}", depth_ft) for n in range(plates))
    curve = typical_curve("piston", free_l_min, 15 * PSI_PA)
    return Rig(curve, lines, compressor_kind="piston", **more)


def values(psi=None, *, lines=None, va=None, rise_c=None, boils=(3, 3, 3), flow=None, hours=None):
    """What was read: pressures in psi, V x A at 115 V, rise over 20 degC outside."""
    found = {}
    if psi is not None:
        found[Quantity.PRESSURE, None] = psi * PSI_PA
    for n, value in enumerate(lines or ()):
        found[Quantity.LINE_PRESSURE, f"D{n + 1}"] = value * PSI_PA
    for n, value in enumerate(boils or ()):
        found[Quantity.BUBBLES, f"D{n + 1}"] = float(value)
    if va is not None:
        found |= {(Quantity.VOLTAGE, None): 115.0, (Quantity.CURRENT, None): va / 115}
    if rise_c is not None:
        found |= {(Quantity.OUTSIDE_AIR, None): 20.0, (Quantity.CABINET_AIR, None): 20.0 + rise_c}
    if flow is not None:
        found[Quantity.FLOW, None] = flow
    if hours is not None:
        found[Quantity.RUN_HOURS, None] = hours
    return found


def read(days, psi=None, *, level_ft=0.0, moment="as_found", at=SUMMER, gauge="old", **more):
    """A set so many days after the baseline."""
    kept = {name: more.pop(name) for name in ("seen", "scheduled_h") if name in more}
    level = None if level_ft is None else level_ft * FT_M
    gauges = {Quantity.PRESSURE: gauge}
    on = DAY + timedelta(days=days)
    return SetRead(on, values(psi, **more), moment, at, level, gauges, key=days, **kept)


def baselines(of, *, confirmed=True):
    """Every value of a set as baseline."""
    return tuple(
        BaselineRead(
            of.configuration, quantity, value, of.on, position, of.level_m,
            of.gauges.get(Quantity.PRESSURE, ""), of.on if confirmed else None, of.moment,
        )
        for (quantity, position), value in of.values.items()
    )  # fmt: skip


def history(*sets, base=None, **more):
    """A system of three plates at 12 ft whose baseline is 6.0 psi, and later sets."""
    base = base or read(0, 6.0, lines=(6.0, 5.9, 5.8), va=330.0, rise_c=9.0, moment="other")
    rigs = {SUMMER: rig(), WINTER: rig(5.0)}
    known = {
        "rigs": rigs,
        "names": {SUMMER: SUMMER, WINTER: WINTER},
        "winter": frozenset({WINTER}),
        "baselines": baselines(base),
        "gauges": {name: GaugeUsed(name, 0.25 * PSI_PA) for name in ("old", "new")},
        "compressor_kind": "piston",
        "nominal_v": 115.0,
    }
    return History((base, *sets), **(known | more))


def later(days):
    return DAY + timedelta(days=days)
