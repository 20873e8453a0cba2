"""What the readings of one system say: signs, causes, drift, and what is called for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum

from equipment.condition import sentences
from equipment.condition.baseline import Proposal, all_series, proposals
from equipment.condition.causes import KNOWN, Ranking, ranked, without
from equipment.condition.departures import (
    HALF,
    Departure,
    departures,
    judged_set,
    left_departures,
)
from equipment.condition.drift import Drift, drift_of
from equipment.condition.history import (
    FLOW,
    MANIFOLD,
    POWER,
    PRESSURES,
    RISE,
    History,
    Key,
    SetRead,
)
from equipment.condition.mass import MassPattern
from equipment.condition.shown import Shown
from equipment.condition.signs import signs_of
from equipment.kinds import Quantity, Sign

SOON = timedelta(days=120)  # a crossing before the next round of visits: judgement
MEMBRANE_CLEANING = "membrane_cleaning"
OF_MEMBRANES = ("membrane_fouled", "membrane_aged_stiff")
# What clears a cause when all of it was looked for and is not there. The filter that was seen
# clean is not loaded; a line that is shut has no normal boil.
_NO_WEAK_BOIL = frozenset({Sign.B_ONE_WEAK, Sign.B_ONE_NONE, Sign.B_ALL_WEAK, Sign.B_ALL_NONE})
CLEARED_BY = {
    "intake_filter_loaded": {Sign.FILTER_LOADED},
    "intake_unprotected": {Sign.FILTER_MISSING},
    "fan_failed": {Sign.FAN_STOPPED},
    "vents_blocked": {Sign.VENT_BLOCKED},
    "relief_stuck_open": {Sign.RELIEF_OPEN},
    "main_line_or_all_valves_shut": {Sign.B_ALL_WEAK, Sign.B_ALL_NONE},
    "valve_moved": _NO_WEAK_BOIL,
    "line_crushed_or_kinked": _NO_WEAK_BOIL,
    "check_valve_stuck_closed": _NO_WEAK_BOIL,
    "ice_plug": _NO_WEAK_BOIL,
}
LEVEL_SIGNS = frozenset({Sign.LEVEL_UP, Sign.LEVEL_DOWN})
PRESSURE_SIGNS = frozenset({Sign.P_UP, Sign.P_UP_STEP, Sign.P_DOWN, Sign.P_DOWN_STEP})


class State(StrEnum):
    """NO_FAULT: nothing shows. FINDING: something does. MENDED: it did, and is gone as left."""

    NO_READINGS = "no_readings"
    NO_FAULT = "no_fault"
    FINDING = "finding"
    MENDED = "mended"


@dataclass(frozen=True)
class Call:
    """Work that the condition calls for: the task's slug, since when, where, and why."""

    task: str
    on: date
    because: str
    position: str | None = None


@dataclass(frozen=True)
class Verdict:
    """Everything that a page says of one system on a day.

    judged: the set it speaks of. departures and left: readings against their bands, as found and
    as left. signs: present ones, those that stand alone first; absent: looked for and not there.
    ranking: causes, empty where nothing shows. sentences: what the readings say, most important
    first. opens: work on the condition clock. data_needed: what would make it surer.
    """

    on: date
    state: State
    judged: SetRead | None = None
    departures: Mapping[Key, Departure] = field(default_factory=dict)
    left: Mapping[Key, Departure] = field(default_factory=dict)
    signs: tuple[Shown, ...] = ()
    absent: tuple[Shown, ...] = ()
    ranking: Ranking | None = None
    drifts: tuple[Drift, ...] = ()
    sentences: tuple[str, ...] = ()
    opens: tuple[Call, ...] = ()
    data_needed: tuple[str, ...] = ()
    proposals: tuple[Proposal, ...] = ()

    @property
    def flagged(self) -> bool:
        return self.state in (State.FINDING, State.MENDED)

    @property
    def first_cause(self) -> str | None:
        causes = self.ranking.causes if self.ranking else ()
        return causes[0].slug if causes else None

    @property
    def pressure_share(self) -> float | None:
        """The manifold's pressure off its expectation, as read, in tolerances: for `Move`."""
        main = self.departures.get(MANIFOLD)
        return main.raw_away / main.side if main and main.read.set is self.judged else None


def assessed(
    history: History,
    *,
    on: date,
    counts: Mapping[str, int] | None = None,
    mass: Sequence[MassPattern] = (),
) -> Verdict:
    """What the readings of one system say on a day.

    history: everything known of the system.
    on: the day of the verdict; later readings are left aside.
    counts: causes that this firm confirmed, by their slug.
    mass: days on which many sites moved alike, from `mass_patterns`; a pressure that moved with
        them says nothing of this system's plates.
    Returns the verdict.
    Source: our own rule, on tolerances and a cause matrix that are marked as judgement.
    """
    judged = judged_set(history, on)
    if judged is None:
        return Verdict(on, State.NO_READINGS, sentences=(sentences.NO_READINGS,))
    by_key = all_series(history, on)
    found = departures(history, judged, by_key)
    left = left_departures(history, judged, by_key)
    drifts = _drifts(history, by_key, judged)
    weather = _weather(mass, judged, found)
    shown = _with_drift(signs_of(history, judged, found), found, drifts, on)
    if weather:
        shown = [_lighter(one) for one in shown]
    present = tuple(sorted((s for s in shown if s.present), key=lambda s: not s.alone))
    absent = tuple(s for s in shown if not s.present)
    ranking = _ranking(history, judged, present, absent, counts)
    state = _state(history, present, found, left, on)
    whole = Verdict(on, state, judged, found, left, present, absent, ranking, tuple(drifts))
    suggested = proposals(history, on, by_key)
    return replace(
        whole,
        opens=() if weather else _opens(whole),
        sentences=sentences.says(history, whole, weather),
        data_needed=sentences.data_needed(history, whole, suggested),
        proposals=suggested,
    )


def _drifts(history, by_key, judged):
    """Drift of what can drift, in the series that is being read now."""
    return [
        drift_of(history, series[-1])
        for key, series in sorted(by_key.items(), key=lambda item: _place(item[0]))
        if key[0] != Quantity.BUBBLES and series[-1].configuration == judged.configuration
    ]


def _place(key):
    order = [MANIFOLD[0], Quantity.LINE_PRESSURE, FLOW[0], POWER[0], RISE[0], Quantity.BUBBLES]
    return order.index(key[0]), key[1] or ""


def _with_drift(shown, found, drifts, on):
    """A slope that soon crosses its limit, and is half way to it, is a sign of its own."""
    more = [
        Shown(sign, True, True, drift.says, drift.key[1])
        for drift in drifts
        if drift.trend and (drift.over or drift.crosses_by(on + SOON))
        if drift.key in found and abs(found[drift.key].share) >= HALF
        for sign in [_sign_of(drift)]
        if sign
    ]
    weightier = {one.sign for one in shown if one.present and one.alone}
    more = [one for one in more if one.sign not in weightier]
    names = {one.sign for one in more}
    return [one for one in shown if one.sign not in names] + more


def _sign_of(drift):
    up, down = {
        Quantity.PRESSURE: (Sign.P_UP, Sign.P_DOWN),
        Quantity.LINE_PRESSURE: (Sign.P_UP, Sign.P_DOWN),
        Quantity.FLOW: (None, Sign.F_DOWN),
        Quantity.CURRENT: (Sign.VA_UP, Sign.VA_DOWN),
        Quantity.CABINET_AIR: (Sign.RISE_HIGH, None),
    }[drift.key[0]]
    return up if drift.rising else down


def _weather(mass, judged, found):
    main = found.get(MANIFOLD)
    if main is None or main.read.set is not judged:
        return None
    return next((p for p in mass if p.covers(judged.on, main.raw_away)), None)


def _lighter(shown):
    return replace(shown, alone=False) if shown.sign in PRESSURE_SIGNS else shown


def _ranking(history, judged, present, absent, counts):
    """Causes are named only where something says by itself that all is not well."""
    telling = present if any(one.alone for one in present) else ()
    ranking = ranked(
        [one.sign for one in telling],
        [one.sign for one in absent],
        compressor_kind=history.compressor_kind,
        counts=counts,
    )
    ruled_out = _cleared(history, judged, telling, {one.sign for one in absent})
    # What only lends weight names no cause that leaves unexplained why anything is said at all.
    alone = {one.sign for one in telling if one.alone}
    there = {one.sign for one in telling}
    alone |= {slow for slow, step in _SAME_WAY if step in alone and slow in there}
    explains = {slug for slug, known in KNOWN.items() if alone & known.weights.keys()}
    left = without(ranking, ruled_out | (KNOWN.keys() - explains))
    return left if left.causes else without(ranking, ruled_out)


_SAME_WAY = ((Sign.P_UP, Sign.P_UP_STEP), (Sign.P_DOWN, Sign.P_DOWN_STEP))


def _cleared(history, judged, telling, absent):
    """Causes that were looked for themselves; the water's level, where the mark was read."""
    cleared = {slug for slug, signs in CLEARED_BY.items() if signs <= absent}
    level = any(one.sign in LEVEL_SIGNS and (one.alone or one.seen) for one in telling)
    if judged.level_m is not None and not level:
        cleared.add("water_level_changed")
    return cleared


def _state(history, present, found, left, on):
    alone = [one for one in present if one.alone]
    if not alone:
        return State.NO_FAULT
    off = {key for key, d in found.items() if abs(d.share) >= 1 and _said(key, alone)}
    worked = all(_answered(history, key, found[key], left, on) for key in off)
    return State.MENDED if off and worked else State.FINDING


def _said(key, alone):
    if key[0] == Quantity.BUBBLES:
        return any(one.sign.name.startswith("B_") for one in alone)
    return True


def _answered(history, key, departure, left, on):
    """As left it lies inside its band, or work has been done on it since."""
    if key in left:
        return abs(left[key].share) < 1
    return any(
        change.touches(*key) and departure.read.on < change.on <= on for change in history.changes
    )


def _opens(verdict):
    """Membrane cleaning, where a pressure went over its limit for good or soon will."""
    if verdict.first_cause not in OF_MEMBRANES or verdict.state != State.FINDING:
        return ()
    calls = [
        Call(MEMBRANE_CLEANING, drift.points[-1][0], drift.says, drift.key[1])
        for drift in verdict.drifts
        if drift.key[0] in PRESSURES
        and drift.upward
        and (drift.over or drift.crosses_by(verdict.on + SOON))
    ]
    return tuple(calls)
