"""Keep the due items: derived from dated facts, written only where they changed."""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple

from django.db import transaction
from django.db.models import Model

from customers.models import Pond, Site
from equipment.kinds import PositionKind
from equipment.models import Component, Fitting, Position, System
from servicedesk.actions.due_rows import row_of, write_rows
from servicedesk.actions.facts import SystemFacts, facts_of
from servicedesk.actions.rules import Rules
from servicedesk.kinds import Who
from servicedesk.models import Task, place_of
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.engine import due, projected
from servicedesk.planning.due.facts import Due
from servicedesk.planning.due.watched import WatchedDay

CHUNK = 200
BEAT = "due"
STALE = timedelta(hours=6)
NEVER = datetime(1970, 1, 1, tzinfo=UTC)


class Refreshed(NamedTuple):
    systems: int = 0
    added: int = 0
    changed: int = 0
    removed: int = 0

    @property
    def written(self) -> int:
        return self.added + self.changed + self.removed


@dataclass(frozen=True)
class Occasion:
    """One occasion of a task at a place, stored or projected."""

    thing: Model  # the position, system, serial unit, pond or site
    task: Task
    due: Due
    site: Site
    around: tuple[SystemFacts, ...] = ()  # the systems that it belongs to

    @property
    def place(self) -> dict:
        return place_of(self.thing, site=self.site)


def refresh_systems(system_ids: Collection[int], *, now: datetime) -> Refreshed:
    """Compute again what falls due at some systems, and at their ponds and sites."""
    sites = System.objects.filter(pk__in=system_ids).values_list("site_id", flat=True)
    return refresh_sites(set(sites), now=now)


def refresh_sites(site_ids: Collection[int], *, now: datetime) -> Refreshed:
    """The same for some sites; and where units sit now that sat there before."""
    return _refresh_chunks(sorted({*site_ids, *_where_units_went(site_ids)}), now=now)


def _refresh_chunks(ids, *, now):
    total, rules = Refreshed(), None
    for start in range(0, len(ids), CHUNK):
        with transaction.atomic():
            chunk = ids[start : start + CHUNK]
            lock_sites(chunk)
            rules = rules or Rules.read(now)
            total = _sum(total, _refresh(chunk, rules, now))
    return total


def refresh_watched(
    site_ids: Collection[int], *, now: datetime
) -> tuple[Refreshed, dict[int, WatchedDay]]:
    """The same for some sites; and for each its day, which knows until when the answer holds."""
    zones = Site.objects.filter(pk__in=site_ids).values_list("pk", "time_zone")
    days = {pk: WatchedDay(site_date(now, zone)) for pk, zone in zones}
    with transaction.atomic():
        lock_sites(site_ids)
        return _refresh(site_ids, Rules.read(now), now, days), days


def _where_units_went(site_ids):
    """Sites where a compressor sits now that sat at these before: its wear came along."""
    sat_here = Fitting.objects.filter(
        position__system__site_id__in=site_ids,
        position__kind=PositionKind.COMPRESSOR,
        to_on__isnull=False,
    )
    now = Fitting.objects.filter(to_on=None, component__in=sat_here.values("component"))
    return now.values_list("position__system__site_id", flat=True)


def lock_sites(site_ids: Collection[int]) -> None:
    """Until the transaction ends nobody else changes these sites' works, tickets and due items.

    Without it an older view of the facts, computed slowly, could win over a newer one.
    """
    rows = Site.objects.select_for_update(no_key=True).filter(pk__in=site_ids).order_by("pk")
    list(rows.values_list("pk", flat=True))


def refresh_all(*, now: datetime, progress: Callable[[int, int], None] | None = None) -> Refreshed:
    """Compute again what falls due everywhere; `progress` hears sites done and all of them."""
    ids = list(Site.objects.order_by("pk").values_list("pk", flat=True))
    total = Refreshed()
    for start in range(0, len(ids), CHUNK):
        total = _sum(total, _refresh_chunks(ids[start : start + CHUNK], now=now))
        if progress:
            progress(min(start + CHUNK, len(ids)), len(ids))
    return total


def occasions(
    site_ids: Collection[int],
    *,
    now: datetime,
    until: date | None = None,
    who: Who = Who.TECHNICIAN,
    known: Collection[Site] = (),
) -> Iterator[Occasion]:
    """What falls due at some sites by the facts of an instant; with `until`, the later ones too.

    `known`: the sites themselves, each with its region, where the caller has them already.
    What owners look after themselves is told here alone: it is never stored and opens no ticket.
    """
    rules = Rules.read(now, who=who)
    for facts in facts_of(site_ids, now=now, known=known):
        today = site_date(now, facts.site.time_zone)
        for task, thing, rule, place in rules.places(facts, today):
            if until is None:
                item = due(rule, place, today)
                found = [item] if item else []
            else:
                found = projected(rule, place, today, until)
            around = tuple(s for s in facts.systems if found and _belongs(thing, s))
            for item in found:
                yield Occasion(thing, task, item, facts.site, around)


def _belongs(thing, system):
    """Whether a place is a system's own: its position, its water, the unit that sits in it."""
    if isinstance(thing, Position):
        return thing.system_id == system.system.pk
    if isinstance(thing, System):
        return thing.pk == system.system.pk
    if isinstance(thing, Pond):
        return any(position.pond_id == thing.pk for position in system.positions)
    if isinstance(thing, Component):
        return any(
            row.component_id == thing.pk and row.to_on is None
            for fittings in system.fitted.values()
            for row in fittings
        )
    return True


def _refresh(site_ids, rules, now, days=None):
    gathered, rows = facts_of(site_ids, now=now), []
    for facts in gathered:
        today = days[facts.site.pk] if days else site_date(now, facts.site.time_zone)
        for task, thing, rule, place in rules.places(facts, today):
            item = due(rule, place, today)
            if item is not None:
                rows.append(row_of(facts.where(thing), task.id, item))
    return Refreshed(sum(len(facts.systems) for facts in gathered), *write_rows(site_ids, rows))


def _sum(a, b):
    return Refreshed(*(x + y for x, y in zip(a, b, strict=True)))
