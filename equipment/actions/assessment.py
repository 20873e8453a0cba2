"""Gather what is known of systems, call `condition`, and keep what the readings say."""

import logging
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models.fields.json import KT

from customers.models import Firm
from equipment.actions.causes import NOT_FOUND
from equipment.actions.histories import histories_of
from equipment.actions.rigs import Setup, setups_of
from equipment.condition.bands import band_for
from equipment.condition.baseline import all_series
from equipment.condition.causes import Cause, Ranking
from equipment.condition.expected import Band
from equipment.condition.history import (
    FLOW,
    MANIFOLD,
    Changed,
    History,
    Rig,
    SetRead,
    Tolerances,
)
from equipment.condition.mass import MassPattern, Move, mass_patterns
from equipment.condition.verdict import State, Verdict, assessed
from equipment.kinds import Moment, Quantity
from equipment.models import Assessment, CauseConfirmed, ReadingSet

TOGETHER = timedelta(days=21)  # how long a day on which many sites moved is spoken of: judgement
DRIFTING = "drifting"
NOT_SAID = (None, "null")  # the second is what SQLite makes of an empty value in JSON
NO_RIG = Rig(None, ())
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Judged:
    """One system: what is known of it, and what that says."""

    setup: Setup
    history: History
    verdict: Verdict


def tolerances_of(firm: Firm | None) -> Tolerances:
    """The firm's figures for judging readings; those it left alone are the program's."""
    own = firm.tolerances if firm else {}
    known = {field.name for field in fields(Tolerances)}
    return Tolerances(**{name: value for name, value in own.items() if name in known})


def counts_of_causes() -> dict[str, int]:
    """How often this firm found each cause in the end."""
    rows = CauseConfirmed.objects.exclude(cause=NOT_FOUND).values_list("cause", flat=True)
    return dict(Counter(rows))


def judge(
    system_ids: Collection[int],
    *,
    now: datetime,
    changes: Mapping[int, Sequence[Changed]] | None = None,
    mass: Mapping[int | None, Sequence[MassPattern]] | None = None,
    units: str | None = None,
) -> dict[int, Judged]:
    """What the readings of each system say at an instant; nothing is written.

    `changes` are days of work that starts a series anew; `mass` days on which many sites of a
    region moved alike. Where physics refuses what is recorded, baselines alone are asked.
    """
    firm = Firm.objects.first()
    setups = setups_of(system_ids)
    histories = histories_of(
        system_ids,
        until=now,
        changes=changes,
        tolerances=tolerances_of(firm),
        units=units or (firm.units if firm else "us"),
        setups=setups,
    )
    counts, found = counts_of_causes(), {}
    for pk, history in histories.items():
        on = _site_day(setups[pk], now)
        alike = (mass or {}).get(setups[pk].system.site.region_id, ())
        try:
            verdict = assessed(history, on=on, counts=counts, mass=alike)
        except ValueError as error:
            log.warning("system %s cannot be judged by physics: %s", pk, error)
            history = replace(history, rigs={})
            verdict = assessed(history, on=on, counts=counts, mass=alike)
        found[pk] = Judged(setups[pk], history, verdict)
    return found


def bands_today(
    system_ids: Collection[int],
    *,
    now: datetime,
    changes: Mapping[int, Sequence[Changed]] | None = None,
) -> dict[int, dict[tuple[str, str | None], Band]]:
    """What each system should read today, by quantity and label of the line.

    Only what is read as it stands: pressures and air flow. Before a reading the water's level of
    the day is not known, so the band holds with the level as last expected.
    """
    firm, setups = Firm.objects.first(), setups_of(system_ids)
    histories = histories_of(
        system_ids,
        until=now,
        changes=changes,
        tolerances=tolerances_of(firm),
        setups=setups,
        for_bands=True,
    )
    return {
        pk: _bands(history, setups[pk], _site_day(setups[pk], now))
        for pk, history in histories.items()
    }


def _bands(history, setup, today):
    """By way of a set that is taken today: its values play no part, only its place in a series."""
    lines = {line.label for line in history.rigs.get(setup.key_on(today), NO_RIG).lines}
    keys = [MANIFOLD, FLOW, *((Quantity.LINE_PRESSURE, label) for label in sorted(lines))]
    before = history.until(today)
    hung = dict(before[-1].gauges) if before else {}
    taken = SetRead(today, dict.fromkeys(keys, 0.0), Moment.AS_LEFT, setup.key_on(today))
    asked = replace(history, sets=(*before, replace(taken, gauges=hung)))
    found = {}
    for key, every in all_series(asked, today).items():
        band = None
        if key in keys:
            band, _at = band_for(asked, every[-1], every[-1].reads[-1], every)
        if band:
            found[key] = band
    return found


def _site_day(setup, now):
    return now.astimezone(ZoneInfo(setup.system.site.time_zone)).date()


@transaction.atomic
def keep(judged: Mapping[int, Judged]) -> set[int]:
    """Keep what was found where it says something new; the systems for which it does.

    One row for each set that was spoken of: said again otherwise it is written over, said of a
    newer set it is a row of its own.
    """
    spoken = {pk: one.verdict for pk, one in judged.items() if one.verdict.judged is not None}
    sets = ReadingSet.objects.in_bulk([verdict.judged.key for verdict in spoken.values()])
    rows = {
        (row.system_id, row.at): row
        for row in Assessment.objects.filter(
            system__in=spoken, at__in={taken.taken_at for taken in sets.values()}
        )
    }
    changed = set()
    for pk, verdict in spoken.items():
        at, basis = sets[verdict.judged.key].taken_at, told(verdict)
        because = verdict.sentences[0] if verdict.sentences else ""
        known = rows.get((pk, at))
        if known and (known.because, known.basis) == (because, basis):
            continue
        Assessment.objects.update_or_create(
            pk=known.pk if known else None,
            defaults={"system_id": pk, "at": at, "because": because, "basis": basis},
        )
        changed.add(pk)
    return changed


def patterns_at(now: datetime) -> dict[int | None, tuple[MassPattern, ...]]:
    """Days of the last weeks on which many sites of a region moved alike, from what was kept."""
    rows = Assessment.objects.filter(at__gt=now - TOGETHER, at__lte=now)
    moves = defaultdict(list)
    for region, system, site, on, share in rows.order_by("at", "pk").values_list(
        "system__site__region_id",
        "system_id",
        "system__site_id",
        KT("basis__on"),
        KT("basis__share"),
    ):
        if on and share not in NOT_SAID:
            moves[region].append(Move(system, site, date.fromisoformat(on), float(share)))
    found = {region: mass_patterns(those) for region, those in moves.items()}
    return {region: patterns for region, patterns in found.items() if patterns}


def newest(system_ids: Iterable[int]) -> dict[int, Assessment]:
    """What the newest readings of each system say, as it was kept."""
    rows = Assessment.objects.filter(system__in=list(system_ids)).order_by("at", "pk")
    return {row.system_id: row for row in rows}


def told(verdict: Verdict) -> dict:
    """What a verdict says, as it is kept and shown."""
    ranking = verdict.ranking
    return {
        "on": verdict.judged.on.isoformat() if verdict.judged else "",
        "state": str(verdict.state),
        "says": list(verdict.sentences),
        "signs": [str(one.sign) for one in verdict.signs],
        "share": _rounded(verdict.pressure_share),
        "word": word_of(verdict),
        "first": list(ranking.overrides) if ranking else [],
        "causes": [_cause(cause) for cause in ranking.causes] if ranking else [],
        "others": [cause.slug for cause in ranking.others] if ranking else [],
        "check": _check(ranking),
        "opens": sorted({call.task for call in verdict.opens}),
        "calls": {call.task: call.because for call in reversed(verdict.opens)},
        "needed": list(verdict.data_needed),
    }


def word_of(verdict: Verdict) -> str:
    """A verdict in one word: its state, or `drifting` where only something slow shows."""
    slow = any(drift.trend and (drift.over or drift.crosses) for drift in verdict.drifts)
    return DRIFTING if verdict.state == State.NO_FAULT and slow else str(verdict.state)


def _cause(cause: Cause):
    return {
        "slug": cause.slug,
        "words": cause.words,
        "means": cause.means,
        "because": cause.because,
        "check": cause.check,
        "minutes": cause.minutes,
        "who": str(cause.who),
        "caution": cause.caution,
        "counted": cause.counted,
    }


def _check(ranking: Ranking | None):
    return _cause(ranking.first_check) if ranking and ranking.first_check else None


def _rounded(share):
    return None if share is None else round(share, 3)
