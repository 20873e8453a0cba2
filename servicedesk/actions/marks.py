"""Which sites the nightly refresh may pass by: nothing they rest on changed, and no day came.

A mark holds digests of the facts of a site and of its due items, and the days on which they
follow from each other. Whatever cannot be told from a site's own rows is never marked.
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from hashlib import blake2b
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.models import BigIntegerField, Count, Exists, F, Func, Max, OuterRef, Q, Sum

from customers.models import Pond, Region, Site
from equipment.models import (
    Assessment,
    Baseline,
    Component,
    ComponentType,
    Configuration,
    Fitting,
    Position,
    Reading,
    ReadingSet,
    Schedule,
    StateChange,
    System,
)
from servicedesk.models import (
    Commissioning,
    Decision,
    DueItem,
    Observation,
    Override,
    Rhythm,
    SiteMark,
    Task,
    Work,
)
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.watched import WatchedDay

BYTES = 6  # of a row's digest on SQLite: sums of them stay within its integers
OUR_CODE = ["customers", "equipment", "servicedesk"]
NAMES = ["first_name", "last_name", "username"]


@dataclass(frozen=True)
class Source:
    """Rows that bear on due days: where their site stands, and what is read along with them."""

    model: type
    site: str
    along: dict[str, list[str]] = field(default_factory=dict)
    at: str = ""  # the instant from which such a row counts

    @property
    def columns(self):
        names = columns(self.model)
        return names + [f"{way}__{name}" for way, own in self.along.items() for name in own]


def columns(model):
    return [column.attname for column in model._meta.concrete_fields]


FITTED = {"component": columns(Component), "component__type": columns(ComponentType)}
SOURCES = [
    Source(Site, "pk", {"region": columns(Region)}),
    Source(System, "site"),
    Source(Position, "system__site", {"pond": columns(Pond)}),
    Source(Fitting, "position__system__site", FITTED),
    Source(StateChange, "system__site", at="at"),
    Source(Schedule, "system__site"),
    Source(Reading, "set__system__site", {"set": columns(ReadingSet)}, at="set__taken_at"),
    Source(Assessment, "system__site", at="at"),
    Source(Configuration, "system__site"),
    Source(Baseline, "configuration__system__site"),
    Source(Commissioning, "system__site"),
    Source(Work, "site", at="done_at"),
    Source(Decision, "site", {"by": NAMES}),
    Source(Observation, "site"),
]
ITEMS = Source(DueItem, "site")


@dataclass(frozen=True)
class Seen:
    """What was found of some sites at an instant: digests, and which may not be marked."""

    facts: dict[int, str]
    unmarkable: set[int]
    between: tuple[int, int] | None = None


def look_at(
    site_ids: Collection[int], *, now: datetime, between: tuple[int, int] | None = None
) -> Seen:
    """The digests of what some sites' due items rest on.

    `between` are the first and the last key of them, where they are all the sites from one to the
    other: a part is asked for in less time than its sites one by one.
    """
    rules = _rules_digest()
    sums: dict[int, list] = defaultdict(list)
    unmarkable = _entangled(site_ids, between)
    for source in SOURCES:
        for site, *row in _sums(source, site_ids, between):
            begins_at = row.pop()
            sums[site].append((source.model.__name__, *row))
            if begins_at and begins_at > now:
                unmarkable.add(site)
    if Override.objects.filter(entered_at__gt=now).exists():
        unmarkable.update(site_ids)
    return Seen({site: _digest(rules, sums[site]) for site in site_ids}, unmarkable, between)


def standing(seen: Seen, *, now: datetime) -> set[int]:
    """Sites whose due items would come out as they stand."""
    marks = SiteMark.objects.filter(**_at("site", seen.facts, seen.between))
    rows = marks.values_list("site_id", "facts", "items", "from_on", "until_on", "site__time_zone")
    found = {
        site: items
        for site, facts, items, from_on, until_on, zone in rows
        if site not in seen.unmarkable
        and facts == seen.facts.get(site)
        and from_on <= site_date(now, zone) < until_on
    }
    items = _items(found, seen.between) if found else {}
    return {site for site, digest in found.items() if items[site] == digest}


def mark(days: dict[int, WatchedDay], before: Seen, *, now: datetime) -> None:
    """Mark sites that were just computed for these days, from facts that were seen before.

    Facts that changed meanwhile leave no mark: nobody knows which of them were read.
    """
    after = look_at(list(days), now=now)
    items = _items(days)
    marks = [
        SiteMark(
            site_id=site,
            facts=after.facts[site],
            items=items[site],
            from_on=day.plain,
            until_on=day.until,
        )
        for site, day in days.items()
        if after.facts[site] == before.facts.get(site)
        and site not in after.unmarkable | before.unmarkable
    ]
    SiteMark.objects.filter(site__in=set(days) - {row.site_id for row in marks}).delete()
    SiteMark.objects.bulk_create(
        marks,
        update_conflicts=True,
        unique_fields=["site"],
        update_fields=["facts", "items", "from_on", "until_on"],
    )


def _items(site_ids, between=None):
    found = {site: _digest(row) for site, *row in _sums(ITEMS, site_ids, between)}
    return {site: found.get(site, "none") for site in site_ids}


def _at(way, site_ids, between):
    if between is None:
        return {f"{way}__in": list(site_ids)}
    return {f"{way}__gte": between[0], f"{way}__lte": between[1]}


def _sums(source, site_ids, between):
    """(site, rows, sum of their digests, latest instant) for each site that has such rows."""
    if connection.vendor == "sqlite":
        connection.ensure_connection()
        connection.connection.create_function("row_digest", -1, _row_digest, deterministic=True)
    rows = source.model.objects.order_by().filter(**_at(source.site, site_ids, between))
    return (
        rows.values_list(F(source.site))
        .annotate(
            rows=Count("pk"),
            digest=Sum(RowDigest(*source.columns)),
            begins_at=Max(source.at or "pk"),
        )
        .values_list(source.site, "rows", "digest", "begins_at" if source.at else F("rows") * 0)
    )


class RowDigest(Func):
    """A number that another content of the row would not give."""

    output_field = BigIntegerField()

    def as_postgresql(self, compiler, connection, **context):
        template = "hash_record_extended(ROW(%(expressions)s), 0)"
        return self.as_sql(compiler, connection, template=template, **context)

    def as_sqlite(self, compiler, connection, **context):
        return self.as_sql(compiler, connection, function="row_digest", **context)


def _row_digest(*values):
    return int.from_bytes(blake2b(repr(values).encode(), digest_size=BYTES).digest(), "big")


def _digest(*parts):
    return blake2b(repr(parts).encode(), digest_size=16).hexdigest()


def _rules_digest():
    """What holds at every site: the tasks, the firm's figures, and the program itself."""
    rows = [
        list(model.objects.order_by("pk").values_list(*columns(model)))
        for model in (Task, Rhythm, Override)
    ]
    return _digest(_code_digest(), rows)


@cache
def _code_digest():
    """Another version of the program may come to other due days."""
    base = Path(settings.BASE_DIR)
    found = [base / "requirements.txt"]
    for package in OUR_CODE:
        found += sorted((base / package).rglob("*.py"))
    digest = blake2b(digest_size=16)
    for path in found:
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _entangled(site_ids, between):
    """Sites that rest on rows of another: a unit or system of theirs was, or was mended, there."""
    unit, site = OuterRef("component"), OuterRef("position__system__site")
    sat = Fitting.objects.filter(component=unit).exclude(position__system__site=site)
    worked = Work.objects.filter(component=unit).exclude(site=site)
    here = Fitting.objects.filter(**_at("position__system__site", site_ids, between))
    rows = here.filter(Q(Exists(sat)) | Q(Exists(worked)))
    came = Commissioning.objects.filter(moved_from__isnull=False, system__site__in=site_ids)
    return {
        *rows.values_list("position__system__site", flat=True),
        *came.values_list("system__site", flat=True),
    }
