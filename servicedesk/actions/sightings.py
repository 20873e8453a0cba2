"""What is seen of ponds from the bank: recorded, looked at by a manager, taken for neighbours."""

import uuid as uuids
from collections.abc import Collection
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from customers.models import Contact, Pond, Site, Trail, User
from equipment.models import Position
from servicedesk.actions import due
from servicedesk.actions.climates import climate_of, seen_at
from servicedesk.actions.refreshing import JOB
from servicedesk.kinds import ObservationKind, OfficeTaskKind
from servicedesk.models import JobBeat, Observation, OfficeTask
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day
from servicedesk.planning.season_plan import Seen, is_far_off, is_reversed, winter_of
from servicedesk.planning.seasons import winter_begins
from servicedesk.wakeups import wake

LATE = timedelta(days=400)  # what was seen before that belongs to no plan
AT_ONCE = 60  # sites whose due days are computed while somebody waits
ICE = (ObservationKind.ICE_ON, ObservationKind.ICE_OUT)
WORDS = {
    ObservationKind.ICE_ON: "ice",
    ObservationKind.ICE_OUT: "ice-out",
    ObservationKind.LAYERED: "layered water",
    ObservationKind.MIXED: "mixed water",
}


class SightingRefused(Exception):
    """Why a sighting cannot be kept, in a sentence for the reader."""


@transaction.atomic
def record_sighting(
    pond: Pond,
    kind: ObservationKind,
    seen_on: date,
    *,
    now: datetime,
    by: User | None = None,
    by_contact: Contact | None = None,
    note: str = "",
    uuid: uuids.UUID | None = None,
) -> Observation:
    """Keep what somebody saw at a pond; its plan, warnings and due days follow.

    Ice after an ice-out holds at once and waits for a manager's word; an ice-out far from the
    usual day moves nothing until he has looked at it.
    """
    site = pond.site
    today = site_date(now, site.time_zone)
    if not today - LATE <= seen_on <= today:
        raise SightingRefused("Give the day on which it was seen: today, or at most a year back.")
    due.lock_sites([site.pk])
    key = uuid or uuids.uuid4()
    if found := Observation.objects.filter(uuid=key).first():
        return found
    new = Seen(seen_on, kind)
    before = seen_at([site.pk]).get(site.pk, {}).get(pond.pk, ())
    waits = is_reversed(before, new, site.lat) or is_far_off(climate_of(site), new)
    kept = Observation.objects.create(
        uuid=key,
        site=site,
        pond=pond,
        kind=kind,
        seen_on=seen_on,
        by=by,
        by_contact=by_contact,
        note=note,
        entered_at=now,
        waits=waits,
    )
    if waits:
        _ask_manager(kept, now)
    else:
        _suggest(kept, now)
    _follow([site.pk], now)
    return kept


@transaction.atomic
def settle_sighting(kept: Observation, *, holds: bool, by: User, now: datetime) -> bool:
    """A manager's word on a sighting that waits; False if somebody gave his already."""
    due.lock_sites([kept.site_id])
    waiting = Observation.objects.standing().filter(pk=kept.pk, waits=True)
    withdrawn = None if holds else now
    fields = {"waits": False, "settled_at": now, "settled_by": by, "withdrawn_at": withdrawn}
    if not waiting.update(**fields):
        return False
    did = "confirmed a sighting" if holds else "struck a sighting"
    Trail.objects.create(at=now, by=by, did=did, about=f"observation:{kept.pk}")
    handled = OfficeTask.objects.filter(key=f"sighting:{kept.pk}", handled_at=None)
    handled.update(handled_at=now, handled_by=by, handled_note=did)
    if holds:
        _suggest(kept, now)
    _follow([kept.site_id], now)
    return True


@transaction.atomic
def strike_sighting(kept: Observation, *, by: User, now: datetime) -> bool:
    """Take back what was entered by mistake, at its pond and wherever it was taken for others."""
    rows = Observation.objects.standing()
    taken = rows.filter(taken_from=kept)
    sites = {kept.site_id, *taken.values_list("site_id", flat=True)}
    due.lock_sites(sites)
    fields = {"withdrawn_at": now, "settled_at": now, "settled_by": by, "waits": False}
    if not rows.filter(pk=kept.pk).update(**fields):
        return False
    taken.update(**fields)
    Trail.objects.create(at=now, by=by, did="struck a sighting", about=f"observation:{kept.pk}")
    keys = [f"sighting:{kept.pk}", _suggestion(kept)]
    open_ = OfficeTask.objects.filter(key__in=keys, handled_at=None)
    open_.update(handled_at=now, handled_by=by, handled_note="It was struck out.")
    _follow(sites, now)
    return True


def neighbours(kept: Observation) -> QuerySet[Pond]:
    """Served ponds of the same region of which nobody has seen the same this winter."""
    begins, ends = _winter(kept)
    same = Observation.objects.standing().filter(
        pond=OuterRef("pk"), kind=kept.kind, seen_on__gte=begins, seen_on__lt=ends
    )
    fed = Position.objects.lying().filter(pond=OuterRef("pk"))
    ponds = Pond.objects.filter(Exists(fed), ~Exists(same)).exclude(pk=kept.pond_id)
    if kept.site.region_id is None:
        return ponds.none()
    ponds = ponds.filter(site__region=kept.site.region_id)
    return ponds.select_related("site").order_by("site__name", "name", "pk")


@transaction.atomic
def take_for_neighbours(
    kept: Observation, pond_ids: Collection[int], *, by: User, now: datetime
) -> int:
    """Take a sighting for ponds nearby, until somebody sees their own; how many were new."""
    if kept.withdrawn_at or kept.waits or kept.taken_from_id:
        raise SightingRefused("This sighting does not stand, or waits for a manager's word.")
    ponds = list(neighbours(kept).filter(pk__in=pond_ids))
    sites = {pond.site_id for pond in ponds}
    due.lock_sites(sites)
    same = {"kind": kept.kind, "seen_on": kept.seen_on, "taken_from": kept}
    rows = [
        Observation(site_id=pond.site_id, pond=pond, by=by, entered_at=now, **same)
        for pond in ponds
    ]
    Observation.objects.bulk_create(rows, batch_size=500, ignore_conflicts=True)
    after = {"ponds": len(rows)}
    about = f"observation:{kept.pk}"
    Trail.objects.create(at=now, by=by, did="took it for neighbours", about=about, after=after)
    open_ = OfficeTask.objects.filter(key=_suggestion(kept), handled_at=None)
    open_.update(handled_at=now, handled_by=by, handled_note=f"Taken for {len(rows)} ponds.")
    _follow(sites, now)
    return len(rows)


def _winter(kept):
    winter = winter_of(kept.seen_on, kept.site.lat)
    return winter_begins(winter, kept.site.lat), winter_begins(winter + 1, kept.site.lat)


def _follow(site_ids, now):
    """Ice that stands at sites is noted there, and due days are computed again."""
    _note_ice(site_ids)
    if len(site_ids) <= AT_ONCE:
        due.refresh_sites(site_ids, now=now)
        return
    JobBeat.objects.filter(name=due.BEAT).update(beat_at=due.NEVER)
    wake(JOB)


def _note_ice(site_ids):
    rows = Observation.objects.counting().filter(site_id__in=site_ids, kind__in=ICE)
    last = {}  # of each pond; of one day's sightings ice is the word that counts
    for site, pond, on, kind in rows.order_by("seen_on", "-kind", "pk").values_list(
        "site_id", "pond_id", "seen_on", "kind"
    ):
        last[site, pond] = on if kind == ObservationKind.ICE_ON else None
    found = {}
    for (site, _), on in last.items():
        if on:
            found[site] = max(on, found.get(site, on))
    sites = list(Site.objects.filter(pk__in=site_ids).only("pk", "ice_seen_on"))
    changed = [site for site in sites if site.ice_seen_on != found.get(site.pk)]
    for site in changed:
        site.ice_seen_on = found.get(site.pk)
    Site.objects.bulk_update(changed, ["ice_seen_on"], batch_size=500)


def _ask_manager(kept, now):
    ice = kept.kind == ObservationKind.ICE_ON
    says = (
        f"{kept.pond}: ice was seen again on {day(kept.seen_on)}, after an ice-out. Nothing is "
        "started there until ice is seen to leave. A manager confirms it, or strikes it out."
        if ice
        else f"{kept.pond}: ice-out was seen on {day(kept.seen_on)}, far from the usual day. A "
        "manager looks at it before the spring window moves."
    )
    fields = {"kind": OfficeTaskKind.SEASON, "text": says, "site": kept.site, "opened_at": now}
    OfficeTask.objects.get_or_create(key=f"sighting:{kept.pk}", defaults=fields | {"urgent": ice})


def _suggestion(kept):
    """One suggestion a region, kind and winter: the second pond tells nothing new."""
    winter = winter_of(kept.seen_on, kept.site.lat)
    return f"neighbours:{kept.site.region_id}:{kept.kind}:{winter}"


def _suggest(kept, now):
    count = neighbours(kept).count()
    if not count:
        return
    says = (
        f"{kept.site.region}: {WORDS[kept.kind]} was seen at {kept.pond} on {day(kept.seen_on)}. "
        f"Ponds nearby without a day of their own: {count}. Look whether to take it for them."
    )
    fields = {"kind": OfficeTaskKind.SEASON, "text": says, "opened_at": now}
    OfficeTask.objects.get_or_create(key=_suggestion(kept), defaults=fields)
