"""What a reading should have been in the configuration of its day, with its band.

A confirmed baseline of the same configuration and gauge comes first, level for level; then the
first settled readings, not yet confirmed; then a baseline from elsewhere, moved here by physics
or by two gauges read at one moment; then physics alone.
"""

from collections.abc import Sequence
from dataclasses import replace

from equipment.condition import expected
from equipment.condition.baseline import STEEP, At, Read, Reference, Series, reference_for
from equipment.condition.expected import Band, level_pa
from equipment.condition.history import FLOW, MANIFOLD, POWER, PRESSURES, RISE, History
from equipment.condition.wording import amount
from equipment.kinds import Moment, Quantity

NORMAL_BOIL = 3.0


def band_for(
    history: History, series: Series, read: Read, others: Sequence[Series] = ()
) -> tuple[Band | None, At]:
    """What a reading should have been, with its band, and the water and air it holds at.

    history: everything known of the system.
    series: the series of the reading.
    read: the reading to judge.
    others: all series of the same key; an earlier one lends its baseline where this has none.
    Returns the band (None where nothing is known) and how water and air stood for it.
    Source: our own rule, see the top of this file.
    """
    found = reference_for(history, series, read)
    if found is None or not found.sure:
        found = _bridged(history, series, read, others) or found
    if found:
        return _around(history, series, read, found), found.at
    lent = _lent(history, series, read, others)
    if lent:
        return lent
    return _by_physics(history, series, read), At(read.level_m or 0.0)


def gauge_step_pa(history: History, old: Series, new: Series) -> float | None:
    """How much more a new gauge showed than the one before it, at one moment.

    history: everything known of the system.
    old, new: series of one key before and after the exchange.
    Returns pascals, below 0 for less; None where the two were not read on one day.
    Source: our own rule: nothing but the gauge was changed between the two.
    """
    first = new.reads[0]
    pair = [r for r in old.reads if r.on == first.on and r.order <= first.order]
    if not pair or first.moment != Moment.AS_LEFT or old.step != new.step:
        return None
    return first.raw - pair[-1].raw


def _bridged(history, series, read, others):
    """The old gauge's confirmed baseline, with what the new gauge showed more at one moment."""
    if series.quantity not in PRESSURES:
        return None
    for other in others:
        if other.gauge == series.gauge or other.configuration != series.configuration:
            continue
        known, step = reference_for(history, other), gauge_step_pa(history, other, series)
        if known is None or not known.sure or step is None or other.generation != series.generation:
            continue
        more = amount(history, series.key, abs(step))
        way = "more" if step >= 0 else "less"
        words = f"{known.words}; the gauge since then showed {more} {way} at the same moment"
        return replace(known, value=known.value + step, sure=False, words=words)
    return None


def _around(history, series, read, reference: Reference):
    value = reference.value
    if series.quantity == Quantity.BUBBLES:
        value = min(value, NORMAL_BOIL)  # a strong boil that becomes normal is no loss
    away = _tolerance(history, series, value)
    note = ""
    if series.quantity in PRESSURES and (read.level_m is None or reference.at.level_m is None):
        away += level_pa(history.swing)
        note = "The level was not read: the band is wider by what the water may swing in a year."
    if series.key == FLOW and read.level_m is None:
        away += _flow_of_swing(history, series, value)
    return Band(
        series.quantity,
        value,
        value - away,
        value + away,
        reference.words,
        reference.sure,
        (),
        note,
    )


def _flow_of_swing(history, series, value):
    """What a swing of the level takes from a machine whose flow falls steeply with pressure."""
    rig = history.rigs.get(series.configuration)
    if rig is None or history.compressor_kind not in STEEP:
        return 0.0
    low, high = (expected.expected_flow(rig, level_m=level) for level in (0.0, history.swing))
    return value * (1 - high.expected / low.expected) if low and high and low.expected else 0.0


def _tolerance(history, series, value):
    t = history.tolerances
    if series.quantity in PRESSURES:
        return expected.pressure_tolerance_pa(value, history.gauge_error_pa(series.gauge), t)
    if series.key == FLOW:
        return t.flow_share * value
    if series.key == POWER:
        return t.power_share * value
    return t.rise_c if series.key == RISE else t.bubble_steps


def _lent(history, series, read, others):
    """A baseline of another configuration, gauge or generation, moved here by physics."""
    if series.key in (RISE, POWER) or series.quantity == Quantity.BUBBLES:
        return None  # a motor's losses that do not hang on the air are not known
    for other in reversed([s for s in others if s.reads[0].order < series.reads[0].order]):
        found = reference_for(history, other, read)
        if found is None or (series.generation != other.generation and series.key in (POWER, FLOW)):
            continue
        moved = _moved(history, other, series, found)
        if moved is None:
            continue
        value = found.value + moved
        away = _lent_tolerance(history, series, other, value, moved)
        words = found.words + _from_where(history, series, other)
        if series.quantity in PRESSURES and (read.level_m is None or found.at.level_m is None):
            away += level_pa(history.swing)
        other_gauge = series.gauge != other.gauge
        band = Band(series.quantity, value, value - away, value + away, words)
        return replace(band, other_gauge=other_gauge), found.at
    return None


def _moved(history, old, new, reference):
    if old.configuration == new.configuration:
        return 0.0
    before, after = (history.rigs.get(s.configuration) for s in (old, new))
    if before is None or after is None:
        return None
    level = reference.at.level_m or 0.0
    was, now = (_physics(rig, new.key, level) for rig in (before, after))
    if was is None or now is None:
        return None
    if new.quantity in PRESSURES:
        return now.expected - was.expected
    return reference.value * (now.expected / was.expected - 1) if was.expected else None


def _lent_tolerance(history, series, other, value, moved):
    away = _tolerance(history, series, value) + history.tolerances.moved_share * abs(moved)
    if series.quantity not in PRESSURES:
        return away
    if series.gauge != other.gauge:
        errors = [history.gauge_error_pa(s.gauge) for s in (series, other)]
        away += history.tolerances.gauge_errors * max(errors)
    if series.generation != other.generation:
        away = max(
            away,
            expected.pressure_tolerance_pa(
                value, history.gauge_error_pa(series.gauge), history.tolerances, by_physics=True
            ),
        )
    return away


def _from_where(history, series, other):
    if series.configuration != other.configuration:
        name = history.name(other.configuration)
        return f" in {name}, moved to this configuration by physics"
    if series.gauge != other.gauge:
        return ", read with the gauge before this one"
    return ", from before the last work"


def _over_outside(history):
    most = amount(history, RISE, history.tolerances.before_c)
    return f"no baseline: {most} over outside air"


def _by_physics(history, series, read):
    if series.quantity == Quantity.BUBBLES:
        return Band(series.quantity, NORMAL_BOIL, 2.0, 4.0, "a normal boil")
    if series.key == RISE:
        limit = history.tolerances.before_c
        return Band(series.quantity, 0.0, -limit, limit, _over_outside(history))
    rig = history.rigs.get(series.configuration)
    if rig is None or series.key == POWER:
        return None
    band = _physics(rig, series.key, read.level_m or 0.0, history, series)
    if band and series.quantity in PRESSURES and read.level_m is None:
        swing = level_pa(history.swing)
        band = replace(band, low=band.low - swing, high=band.high + swing)
    if band and series.key == FLOW:  # a curve to begin with is not this machine's own
        away = 2 * band.tolerance
        band = replace(band, low=band.expected - away, high=band.expected + away)
    return band


def _physics(rig, key, level_m, history=None, series=None):
    if key == POWER:
        return expected.expected_power_w(rig, level_m=level_m)
    if key == FLOW:
        return expected.expected_flow(rig, level_m=level_m)
    more = {}
    if history is not None:
        more = {
            "gauge_error_pa": history.gauge_error_pa(series.gauge),
            "tolerances": history.tolerances,
        }
    if key == MANIFOLD:
        return expected.expected_pressure(rig, level_m=level_m, **more)
    return expected.expected_line_pressure(rig, key[1], level_m=level_m, **more)
