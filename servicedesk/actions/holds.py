"""Days on which nobody comes and ways that are closed: entered, ended early, and whom they meet."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet

from customers import access
from customers.models import Region, Site, Trail, User
from equipment.kinds import GONE, RUNNING, SystemState
from equipment.models import System
from servicedesk.kinds import HoldKind, OfficeTaskKind
from servicedesk.models import Hold, OfficeTask, Stop
from servicedesk.planning.calendar import month_day
from servicedesk.planning.due.sentences import day
from servicedesk.planning.routing.barriers import barrier_of, is_within

STOPPED = [SystemState.FAILED, SystemState.SHUT_OTHER]


class HoldRefused(Exception):
    """Why a hold cannot be kept, in a sentence for the reader."""


@transaction.atomic
def enter_hold(
    kind: HoldKind,
    *,
    from_on: date,
    to_on: date,
    reason: str,
    by: User,
    now: datetime,
    site: Site | None = None,
    region: Region | None = None,
    area: dict[str, Any] | None = None,
    way_round_km: float | None = None,
) -> Hold:
    """Keep a hold; every week that is planned or repaired from now on knows it."""
    if to_on < from_on:
        raise HoldRefused("The last day lies before the first one.")
    if kind == HoldKind.NO_GO_AREA:
        if not area:
            raise HoldRefused("Say where nobody gets through.")
        barrier_of(area)
    elif (site is None) == (region is None):
        raise HoldRefused("Name one site or one region.")
    if kind == HoldKind.HEAT and not access.is_manager(by):
        raise HoldRefused("A heat hold is set by a manager: ask one.")
    hold = Hold.objects.create(
        kind=kind,
        site=site,
        region=region,
        area=area or {},
        way_round_km=way_round_km,
        from_on=from_on,
        to_on=to_on,
        reason=reason,
        by=by,
    )
    after = {"kind": kind, "from_on": from_on.isoformat(), "to_on": to_on.isoformat()}
    _note("entered a hold", f"hold:{hold.pk}", by, now, after=after | {"reason": reason})
    if kind == HoldKind.HEAT:
        _raise_watch(hold, now)
    return hold


@transaction.atomic
def end_hold(hold: Hold, *, by: User, now: datetime) -> bool:
    """Lift a hold before its last day; False if somebody did so already."""
    lifted = Hold.objects.filter(pk=hold.pk, lifted_at=None).update(lifted_at=now)
    if lifted:
        _note("ended a hold early", f"hold:{hold.pk}", by, now)
        open_ = OfficeTask.objects.filter(key__startswith=f"heat:{hold.pk}:", handled_at=None)
        open_.update(handled_at=now, handled_by=by, handled_note="The heat hold was ended.")
    return bool(lifted)


def _raise_watch(hold: Hold, now: datetime) -> None:
    """While it is hot water is watched: all ponds of the hold, each system that stands still."""
    here = System.objects.filter(_sites(hold)).with_state(now).exclude(state_now__in=GONE)
    running = here.filter(state_now__in=RUNNING).count()
    where = hold.region or hold.site
    first = (
        f"{where}: heat hold until {day(hold.to_on)}. Have ponds looked at from the bank before "
        f"sunrise (systems that run there: {running}). Gasping fish: call us, change nothing. Let "
        "systems run at night, feed and handle no fish."
    )
    rows = [_watch(hold, "ponds", first, now)]
    stopped = here.filter(state_now__in=STOPPED).select_related("site").order_by("pk")
    for system in stopped:
        text = (
            f"{system} stands still in the heat. Water without air loses oxygen fastest now: send "
            "a loaner within 48 hours, and have the owner look for gasping fish."
        )
        rows.append(_watch(hold, f"system:{system.pk}", text, now, site=system.site, urgent=True))
    OfficeTask.objects.bulk_create(rows)


def _watch(hold, about, text, now, **fields):
    key = f"heat:{hold.pk}:{about}"
    same = {"kind": OfficeTaskKind.SEASON, "due_on": hold.from_on, "opened_at": now}
    return OfficeTask(key=key, text=text, **same | fields)


@transaction.atomic
def set_days_without_van(
    site: Site, first: str, last: str, note: str, *, by: User, now: datetime
) -> None:
    """Each year from a month and day to another no van gets to a site; both empty: always."""
    if bool(first) != bool(last):
        raise HoldRefused("Give the first and the last day without a van, or neither.")
    for text in filter(None, (first, last)):
        try:
            month_day(text, 2024)
        except ValueError as error:
            raise HoldRefused(f"{error}.") from None
    before = {"from": site.no_van_from, "to": site.no_van_to, "note": site.no_van_note}
    site.no_van_from, site.no_van_to, site.no_van_note = first, last, note if first else ""
    site.save(update_fields=["no_van_from", "no_van_to", "no_van_note"])
    after = {"from": first, "to": last, "note": site.no_van_note}
    _note("set the days without a van", f"site:{site.pk}", by, now, before=before, after=after)


def holds_listed(today: date) -> QuerySet[Hold]:
    """Those that stand today or will, the next to end first."""
    found = Hold.objects.filter(lifted_at=None, to_on__gte=today)
    return found.select_related("site", "region", "by").order_by("to_on", "pk")


def met_stops(hold: Hold, today: date) -> list[Stop]:
    """Stops with open work that stand on a day and at a site of a hold, in their order."""
    stops = Stop.objects.filter(
        route__day__range=(max(hold.from_on, today), hold.to_on),
        tickets__closed_at=None,
        tickets__isnull=False,
    )
    if hold.kind != HoldKind.NO_GO_AREA:
        stops = stops.filter(_sites(hold))
    stops = stops.select_related("site", "route__technician__user").distinct()
    found = list(stops.order_by("route__day", "route__technician__user__first_name", "number"))
    return found if hold.kind != HoldKind.NO_GO_AREA else list(_inside(hold, found))


def _sites(hold: Hold) -> Q:
    return Q(site=hold.site_id) if hold.site_id else Q(site__region=hold.region_id)


def _inside(hold: Hold, stops: Iterable[Stop]) -> Iterable[Stop]:
    barrier = barrier_of(hold.area)
    return (stop for stop in stops if is_within(barrier, stop.site.lat, stop.site.lon))


def _note(did: str, about: str, by: User, now: datetime, **more: dict) -> None:
    Trail.objects.create(at=now, by=by, did=did, about=about, **more)
