"""Drives by a routing service: what is known of them, and asking for what is not.

Asking takes seconds, so only jobs and the processes that plan do it. What they learn is kept;
where the service does not answer, drives are guessed as they are without it.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations_with_replacement

import numpy as np
from django.conf import settings
from django.db import connection, transaction
from numpy.typing import NDArray

from equipment.physics.geodesy import great_circle_km
from servicedesk import roads
from servicedesk.models import RoadTime
from servicedesk.planning import travel
from servicedesk.planning.routing.problem import Place

GOOD_FOR = timedelta(days=180)  # roads change; our judgement
FORGET_AFTER = timedelta(days=400)
BUDGET_S = 20.0
GIVE_UP_AFTER = 2  # calls in a row without an answer
GROUP = roads.MOST_PLACES // 2
MANY = 400  # places; of more only drives between near ones are asked for
NEAR_KM = 150.0  # straight; nobody drives farther from stop to stop; our judgement
AT_ONCE = 400  # keys in one question to the database

KEEP = (
    f"INSERT INTO {RoadTime._meta.db_table} (from_key, to_key, seconds, metres, asked_at) "
    "VALUES (%s, %s, %s, %s, %s) ON CONFLICT (from_key, to_key) DO UPDATE SET "
    "seconds = excluded.seconds, metres = excluded.metres, asked_at = excluded.asked_at"
)

DRIVE = ("from_key", "to_key", "seconds", "metres")

Matrix = NDArray[np.bool_]


@dataclass(frozen=True)
class Asked:
    """What came of asking: drives in all, those that are still guessed, those without a road."""

    drives: int = 0
    guessed: int = 0
    without_road: int = 0
    because: str = "had not enough time for all"

    @property
    def says(self) -> str:
        """For who asked for the plan; empty where every drive is known."""
        words = []
        if self.guessed:
            words.append(
                f"{self.guessed} of {self.drives} drives are guessed: the routing service "
                f"{self.because}."
            )
        if self.without_road:
            words.append(
                f"For {self.without_road} of them it knows no road."
                if self.guessed
                else f"For {self.without_road} drives the routing service knows no road."
            )
        return " ".join(words)


def known_table(places: Sequence[Place]) -> str:
    """What is known of the drives between places, packed; empty without a routing service.

    It never asks the service. A query for each 400 places by 400.
    """
    if not settings.ROADS_URL or not places:
        return ""
    return travel.packed(_Kept(_spots(places)).table())


def known_metres(pairs: Iterable[tuple[roads.Spot, roads.Spot]]) -> dict:
    """How long the road is, in metres, for those of some drives that are known."""
    keys = {(roads.spot_key(a), roads.spot_key(b)): (a, b) for a, b in pairs}
    kept = _Kept([spot for pair in keys.values() for spot in pair]) if settings.ROADS_URL else None
    rows = kept.rows if kept else []
    return {keys[row[:2]]: row[3] for row in rows if row[:2] in keys and row[3] is not None}


def ask(
    places: Sequence[Place],
    *,
    clock: Callable[[], datetime],
    go_on: Callable[[], bool] = lambda: True,
    budget_s: float = BUDGET_S,
) -> Asked:
    """Ask for the drives that are not known or were asked long ago, near ones first; keep them."""
    if not settings.ROADS_URL or len(places) < 2:
        return Asked()
    end = time.monotonic() + budget_s
    spots = _spots(places)
    kept = _Kept(spots, (*DRIVE, "asked_at"))
    wanted = _wanted(spots)
    missing = wanted & ~kept.fresh(clock() - GOOD_FOR)
    why, failed = "", 0
    for block in _blocks(spots, missing):
        left = min(end - time.monotonic(), roads.READ_S)  # a lease outlives one call
        if left <= 0 or failed >= GIVE_UP_AFTER or not go_on():
            break
        origins = block[missing[np.ix_(block, block)].any(axis=1)]
        ends = block[missing[np.ix_(block, block)].any(axis=0)]
        if not len(origins):
            continue
        try:
            _keep(spots, origins, ends, _answer(spots, origins, ends, left), clock())
        except roads.NoAnswer as silence:
            why, failed = str(silence), failed + 1
        else:
            missing[np.ix_(origins, ends)] = False
            failed = 0
    return _asked(_Kept(spots), wanted, why)


def forget_old(*, now: datetime) -> int:
    """Let go of drives that nobody wanted to know for more than a year; how many."""
    return RoadTime.objects.filter(asked_at__lt=now - FORGET_AFTER).delete()[0]


def _asked(kept: "_Kept", wanted: Matrix, why: str) -> Asked:
    minutes = kept.table().minutes
    guessed = int((wanted & (minutes == travel.UNKNOWN)).sum())
    no_road = int((wanted & (minutes == travel.NO_ROAD_MIN)).sum())
    return Asked(int(wanted.sum()), guessed, no_road, why or Asked.because)


def _spots(places: Sequence[Place]) -> list[roads.Spot]:
    return [(place.latitude, place.longitude) for place in places]


class _Kept:
    """The rows about drives between some places."""

    def __init__(self, spots: list[roads.Spot], fields: tuple[str, ...] = DRIVE):
        self.keys = [roads.spot_key(spot) for spot in spots]
        self.unique = np.unique(np.array(self.keys, dtype=np.int64))
        self.rows = list(self._rows(fields))

    def _rows(self, fields: tuple[str, ...]) -> Iterator[tuple]:
        keys = self.unique.tolist()
        parts = [keys[start : start + AT_ONCE] for start in range(0, len(keys), AT_ONCE)]
        for here in parts:
            for there in parts:
                found = RoadTime.objects.filter(from_key__in=here, to_key__in=there)
                yield from found.values_list(*fields)

    def table(self) -> travel.Travel:
        known = travel.whole_units(*(self._column(n) for n in (2, 3)))
        return travel.Travel(
            self._spread(known.minutes, travel.UNKNOWN),
            self._spread(known.hectometres, travel.UNKNOWN),
        )

    def fresh(self, since: datetime) -> Matrix:
        return self._spread(np.array([row[4] >= since for row in self.rows], dtype=bool), False)

    def _column(self, number: int) -> NDArray[np.float64]:
        """Seconds or metres; what is null becomes not a number."""
        return np.array([row[number] for row in self.rows], dtype=float)

    def _spread(self, values: NDArray, other: int | bool) -> NDArray:
        """Values of the rows as a table by place; two places at one spot have the same."""
        size = len(self.unique)
        table = np.full((size, size), other)
        if self.rows:
            ends = np.array([row[:2] for row in self.rows], dtype=np.int64)
            here, there = np.searchsorted(self.unique, ends).T
            table[here, there] = values
        at = np.searchsorted(self.unique, self.keys)
        return table[np.ix_(at, at)]


def _wanted(spots: list[roads.Spot]) -> Matrix:
    """Drives worth knowing: all between different places; of very many only the nearer ones."""
    keys = np.array([roads.spot_key(spot) for spot in spots])
    wanted = keys[:, None] != keys[None, :]
    if len(spots) > MANY:
        wanted &= _straight_km(spots) <= NEAR_KM
    return wanted


def _straight_km(spots: list[roads.Spot]) -> NDArray[np.float64]:
    at = np.array(spots)
    return great_circle_km(at[:, None, 0], at[:, None, 1], at[None, :, 0], at[None, :, 1])


def _blocks(spots: list[roads.Spot], missing: Matrix) -> Iterator[NDArray[np.int64]]:
    """Places of one call each, so that together they meet every missing drive; near ones first.

    Places about which nearly nothing is known stand together: ten new ones among three hundred
    cost a handful of calls, not all of them.
    """
    lacks = missing.sum(axis=0) + missing.sum(axis=1)
    is_new = lacks > len(spots)
    at = np.array(spots)
    order = np.lexsort((at[:, 1], np.round(at[:, 0], 1), is_new))
    groups = [order[start : start + GROUP] for start in range(0, len(order), GROUP)]
    middles = [at[group].mean(axis=0) for group in groups]
    pairs = combinations_with_replacement(range(len(groups)), 2)
    if len(groups) > 1:  # two groups in a call know the drives inside each as well
        pairs = (pair for pair in pairs if pair[0] != pair[1])
    for a, b in sorted(pairs, key=lambda p: float(np.hypot(*(middles[p[0]] - middles[p[1]])))):
        yield groups[a] if a == b else np.concatenate([groups[a], groups[b]])


def _answer(spots, origins, ends, left: float) -> list[list[roads.Drive]]:
    used = sorted({*origins.tolist(), *ends.tolist()})
    number = {place: n for n, place in enumerate(used)}
    return roads.drives(
        settings.ROADS_URL,
        [spots[place] for place in used],
        [number[place] for place in origins.tolist()],
        [number[place] for place in ends.tolist()],
        within_s=left,
    )


def _keep(spots, origins, ends, table: list[list[roads.Drive]], now: datetime) -> None:
    """Ten thousand rows of one answer at once; by statements of our own, ten times as fast."""
    keys = [roads.spot_key(spot) for spot in spots]
    rows = {}
    for a, row in zip(origins.tolist(), table, strict=True):
        for b, drive in zip(ends.tolist(), row, strict=True):
            if keys[a] != keys[b]:
                rows[keys[a], keys[b]] = drive
    at = connection.ops.adapt_datetimefield_value(now)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(KEEP, [(*pair, *drive, at) for pair, drive in sorted(rows.items())])
