"""The balance of a system's lines: what each gets now, and how valves would share it as wanted."""

from collections.abc import Mapping
from dataclasses import dataclass

from equipment.condition.expected import point
from equipment.condition.history import Rig
from equipment.physics.network import ValveSetting, valve_settings
from equipment.physics.valve import valve_open_percent


@dataclass(frozen=True)
class LineRow:
    """One line: what it gets and where its pressure goes, and what is proposed for its valve."""

    label: str
    depth_m: float
    length_m: float
    open_percent: float
    flow_l_min: float
    terms_pa: tuple[tuple[str, float], ...]
    wanted: float
    then_open_percent: float | None
    then_flow_l_min: float


@dataclass(frozen=True)
class Balance:
    manifold_pa: float
    then_manifold_pa: float
    delivered_l_min: float
    then_delivered_l_min: float
    rows: tuple[LineRow, ...]
    basis: str
    dead_head: bool


def balance(rig: Rig | None, wanted: Mapping[str, float]) -> Balance | None:
    """None where compressor or lines are not known; shares that nobody named are equal."""
    found = point(rig) if rig else None
    if found is None:
        return None
    lines = [line for line in rig.lines if line.in_use]
    states = {state.label: state for state in found.lines}
    shares = [max(0.0, wanted.get(line.label, 1.0)) for line in lines]
    if not any(shares):
        shares = [1.0] * len(lines)
    then = valve_settings(
        rig.curve,
        lines,
        shares,
        air_pa=rig.air_pa,
        temperature_c=rig.water_c,
        relief_pa=rig.relief_pa,
    )
    rows = tuple(
        LineRow(
            label=line.label,
            depth_m=line.depth_m,
            length_m=line.length_m,
            open_percent=valve_open_percent(line.valve_pa_per_l_min2, line.bore_m),
            flow_l_min=states[line.label].flow_l_min_local,
            terms_pa=_terms(states[line.label]),
            wanted=100 * share / sum(shares),
            then_open_percent=_turn(setting, line.bore_m),
            then_flow_l_min=setting.flow_l_min_local,
        )
        for line, share, setting in zip(lines, shares, then.settings, strict=True)
    )
    return Balance(
        manifold_pa=found.manifold_pa,
        then_manifold_pa=then.manifold_pa,
        delivered_l_min=found.delivered_l_min_local,
        then_delivered_l_min=sum(row.then_flow_l_min for row in rows),
        rows=rows,
        basis=rig.curve.basis,
        dead_head=found.dead_head or then.surplus_l_min_local > 0,
    )


def _terms(state):
    return (
        ("water", state.water_pa),
        ("line", state.line_pa),
        ("membrane", state.membrane_pa),
        ("check valve", state.check_valve_pa),
        ("valve", state.valve_pa),
    )


def _turn(setting: ValveSetting, bore_m):
    if setting.valve_pa_per_l_min2 is None:
        return None
    return valve_open_percent(setting.valve_pa_per_l_min2, bore_m)
