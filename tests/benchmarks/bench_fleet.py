"""Scores the verdicts on an invented fleet whose faults are put into the physics.

Run: python -m tests.benchmarks.bench_fleet --seeds 1 2 3 [--systems 160] [--speed]
"""

import argparse
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass
from statistics import median

from equipment.condition.expected import _point
from equipment.condition.history import MANIFOLD
from equipment.condition.verdict import State, Verdict, assessed
from tests.benchmarks.fleet import SLOW, SUDDEN, TRUTH, machine
from tests.benchmarks.rounds import DAYS, rounds

WATER_M = 0.65  # of level, which is beyond every tolerance of pressure here
LEVEL_TRULY_OFF_M = 0.3  # then "water level" is no false alarm
DOUBLE = 2.0
FIRM, MADE = 5000, 200  # systems timed, and different ones among them


@dataclass
class Case:
    """One system over its years, scored."""

    kind: str | None
    clean_days: int
    false: list
    found_day: int | None = None
    limit_day: float | None = None
    rank: int | None = None
    first: str | None = None
    comparable: int = 0
    in_time: bool | None = None
    sudden_first: bool | None = None
    gauge_named: str | None = None
    base_level_m: float = 0.0


def case(made, judge=assessed, days=DAYS) -> Case:
    """Follow one system and score what was said of it."""
    fault = made.fault
    kind = fault.kind if fault else None
    starts = fault.onset if fault and kind != "gauge" else days
    scored = Case(kind, min(starts, days), [])
    scored.base_level_m, last = made.level_m(20), None
    truth = TRUTH.get(kind)
    for visit in rounds(made, judge, days):
        verdict = visit.verdict
        cause = verdict.first_cause if verdict.flagged else None
        if visit.day < starts:
            level = (
                cause == TRUTH["level"]
                and abs(visit.level_m - scored.base_level_m) >= LEVEL_TRULY_OFF_M
            )
            gauge = cause == TRUTH["gauge"] and kind == "gauge" and visit.day >= fault.onset
            if verdict.flagged and not level and not gauge and cause != last:
                scored.false.append((visit.day, cause))
            if gauge:
                scored.gauge_named = cause
            last = cause
            continue
        _follow(scored, visit, fault, truth)
    if kind in SLOW:
        scored.limit_day = fault.onset + fault.pace
    return scored


def _follow(scored, visit, fault, truth):
    verdict, day = visit.verdict, visit.day
    if fault.kind in SUDDEN and scored.sudden_first is None and _telling(scored, visit):
        scored.sudden_first = verdict.flagged
    if fault.kind in SLOW:
        grown = _grown(fault, visit)
        if 1 <= grown <= DOUBLE:
            scored.comparable += _compared(fault, visit.read)
        if grown > DOUBLE and scored.in_time is None:
            scored.in_time = scored.found_day is not None
    if verdict.flagged and scored.found_day is None:
        scored.found_day = day
        causes = [cause.slug for cause in (*verdict.ranking.causes, *verdict.ranking.others)]
        scored.first = causes[0] if causes else "none"
        scored.rank = causes.index(truth) + 1 if truth in causes else 99


def _grown(fault, visit):
    return fault.grown(visit.day)


def _telling(scored, visit):
    """Whether a set can be compared: with pressure or boils; for the water, with its mark."""
    read = visit.read
    if scored.kind == "level":
        off = abs(visit.level_m - scored.base_level_m)
        return read.level_m is not None and read.value(*MANIFOLD) is not None and off >= WATER_M
    return any(key[0] in ("pressure", "bubbles") for key in read.values)


def _compared(fault, read):
    """Whether a set holds a reading that can show this fault at all."""
    if fault.kind.startswith("fouling"):
        named = {f"D{n + 1}" for n in fault.plates}
        return any(q == "line_pressure" and p in named for q, p in read.values) or (
            any(q == "pressure" for q, _ in read.values) and fault.kind == "fouling_all"
        )
    quantities = {quantity for quantity, _ in read.values}
    return bool(quantities & {"flow"}) or {"current", "voltage"} <= quantities


def fleet(seeds, systems, judge=assessed):
    """All cases of some seeds."""
    return [case(machine(n, seed), judge) for seed in seeds for n in range(systems)]


def figures(cases) -> dict:
    """The four figures that are aimed at."""
    years = sum(one.clean_days for one in cases) / 365
    found = [one for one in cases if one.rank is not None]
    slow = [one for one in cases if one.in_time is not None and one.comparable >= 3]
    sudden = [one for one in cases if one.sudden_first is not None]
    return {
        "system_years": years,
        "false_a_year": sum(len(one.false) for one in cases) / max(years, 1e-9),
        "found": len(found),
        "first": _share(one.rank == 1 for one in found),
        "first_two": _share(one.rank <= 2 for one in found),
        "slow": len(slow),
        "slow_in_time": _share(one.in_time for one in slow),
        "sudden": len(sudden),
        "sudden_at_once": _share(one.sudden_first for one in sudden),
    }


def _share(flags):
    flags = list(flags)
    return sum(flags) / len(flags) if flags else float("nan")


def main(write=sys.stdout.write):
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--systems", type=int, default=160)
    parser.add_argument("--speed", action="store_true", help="also 5,000 systems of two years")
    chosen = parser.parse_args()
    if chosen.speed:
        _speed(write)
    begin = time.perf_counter()
    cases = fleet(chosen.seeds, chosen.systems)
    took = time.perf_counter() - begin
    write(f"{len(cases)} systems over {DAYS // 365} years, {took:.0f} s\n")
    for name, value in figures(cases).items():
        write(f"  {name:<16} {value:.3f}\n")
    _by_kind(cases, write)
    write(f"false alarms: {Counter(c for one in cases for _, c in one.false).most_common()}\n")


def _by_kind(cases, write):
    groups = defaultdict(list)
    for one in cases:
        groups[one.kind].append(one)
    write("fault         n   found  median delay d  first  first two  in time  named instead\n")
    for kind in (*SLOW, *SUDDEN):
        group = groups[kind]
        found = [one for one in group if one.found_day is not None]
        since = [_delay(one) for one in found]
        wrong = Counter(one.first for one in found if one.rank != 1).most_common(3)
        write(
            f"{kind:<12} {len(group):3} {len(found):6} {median(since) if since else 0:12.0f}"
            f"  {_share(o.rank == 1 for o in found):9.2f}"
            f"  {_share(o.rank <= 2 for o in found):9.2f}  {_in_time(kind, group):>7}  {wrong}\n"
        )
    named = Counter(one.gauge_named or "nothing" for one in groups["gauge"])
    write(f"gauge swaps: {len(groups['gauge'])}, named {dict(named)}\n")


def _in_time(kind, group):
    """Found before double the limit, or at the first comparable reading; of how many."""
    if kind in SLOW:
        asked = [o.in_time for o in group if o.in_time is not None and o.comparable >= 3]
    else:
        asked = [o.sudden_first for o in group if o.sudden_first is not None]
    return f"{sum(asked)}/{len(asked)}"


def _delay(one):
    return one.found_day - (one.limit_day if one.limit_day is not None else one.clean_days)


def _speed(write):
    """5,000 systems of two years; only the verdicts are timed, and nothing is kept between them."""
    histories = []

    def judge(history, on):
        last[:] = [(history, on)]
        return Verdict(on, State.NO_READINGS)

    for n in range(MADE):
        last = []
        for _ in rounds(machine(n, 99), judge, 730):
            pass
        histories += last
    begin, busy = time.perf_counter(), time.process_time()
    for _ in range(FIRM // MADE):
        _point.cache_clear()
        for history, on in histories:
            assessed(history, on=on)
    took, busy = time.perf_counter() - begin, time.process_time() - busy
    sets = sum(len(history.sets) for history, _ in histories) / len(histories)
    write(
        f"{FIRM} systems of two years ({sets:.0f} sets each) assessed in {took:.1f} s, "
        f"{busy:.1f} s of them at work\n"
    )


if __name__ == "__main__":
    main()
