"""What the records say of a system that is to be started: how long it stood, where, with what."""

from dataclasses import dataclass
from datetime import datetime

from customers.models import Firm, Pond
from equipment.kinds import RUNNING
from equipment.models import Position, Schedule, StateChange, System
from servicedesk.actions.climates import climate_of, seen_at
from servicedesk.kinds import HoldKind, ObservationKind
from servicedesk.models import Hold, Observation, Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible
from servicedesk.planning.restart.ramps import Course
from servicedesk.planning.restart.readings import LIMITS, Fish, Limits, in_layered_season
from servicedesk.planning.season_plan import pond_year, winter_of
from servicedesk.planning.seasons import winter_begins

FULL_TIME_H = 23.5
ICE_WORDS = frozenset({ObservationKind.ICE_ON, ObservationKind.ICE_OUT})


@dataclass(frozen=True)
class Known:
    """Of one system and the pond that is read, at one moment."""

    ponds: tuple[Pond, ...]
    pond: Pond | None
    off_since: datetime | None
    off_is_assumed: bool
    ran_full_time: bool | None
    fish: Fish
    past_kill: bool
    layered_season: bool | None
    ice: bool | None
    heat: Hold | None
    treatment: Hold | None


def known_of(system: System, *, now: datetime, pond: Pond | None = None) -> Known:
    """What is on record, for the form to show and the table to read."""
    ponds = tuple(
        Pond.objects.filter(pk__in=Position.objects.lying().filter(system=system).values("pond"))
        .select_related("site")
        .order_by("pk")
    )
    pond = pond or (max(ponds, key=lambda p: p.depth_max_m or 0) if ponds else None)
    today = site_date(now, system.site.time_zone)
    stop, before = _stop_of(system, now)
    return Known(
        ponds=ponds,
        pond=pond,
        off_since=stop.at if stop else None,
        off_is_assumed=bool(stop) and stop.certainty != "observed",
        ran_full_time=_full_time(system, stop, before),
        fish=_fish(ponds),
        past_kill=any(one.fish_kill_note for one in ponds),
        layered_season=_layered(system, pond, today),
        ice=ice_of(system, ponds, now=now),
        heat=_hold(system, HoldKind.HEAT, today),
        treatment=treatment_of(system, now=now),
    )


def ice_of(system: System, ponds: tuple[Pond, ...], *, now: datetime) -> bool | None:
    """Whether there is ice: what was seen last goes before what is usual; None: look first."""
    today = site_date(now, system.site.time_zone)
    seen = Observation.objects.standing().filter(
        pond__in=ponds,
        kind__in=ICE_WORDS,
        seen_on__lte=today,
        seen_on__gte=_this_winter(system, today),
    )
    newest = seen.order_by("-seen_on", "-entered_at", "-pk").first()
    if newest and newest.kind == ObservationKind.ICE_ON:
        return True
    if newest and not newest.waits:
        return False
    return None if newest or ice_possible(climate_of(system.site), today) else False


def treatment_of(system: System, *, now: datetime) -> Hold | None:
    """A treatment of the water that is under way; nothing is stirred meanwhile."""
    return _hold(system, HoldKind.TREATMENT, site_date(now, system.site.time_zone))


def limits_of(fish: Fish) -> Limits:
    """When a ramp is stopped, by the firm's own figures; without fish the program's."""
    firm = Firm.objects.first()
    if firm is None or fish == Fish.NONE:
        return LIMITS[fish]
    if fish == Fish.WARM_WATER:
        return Limits(firm.ramp_stop_mg_l, firm.ramp_fall_mg_l)
    return Limits(firm.ramp_stop_cold_mg_l, firm.ramp_fall_cold_mg_l)


def ramp_before(system: System, *, now: datetime) -> tuple[bool, float | None]:
    """Whether the ramp before this was broken off, and days since its last step."""
    last = Restart.objects.filter(system=system).order_by("-made_at", "-pk").first()
    if last is None or last.state != Restart.State.CLOSED or last.started_at is None:
        return False, None
    steps = last.steps.filter(minutes__gt=0).order_by("-on").first()
    today = site_date(now, system.site.time_zone)
    return True, float((today - steps.on).days) if steps else None


def last_step_days(course: Course, today) -> float | None:
    """Days since a step of a ramp that is open ran."""
    ran = [day.on for day in course.days if day.what in {"done", "short", "stopped"}]
    return float((today - max(ran)).days) if ran else None


def _stop_of(system, now):
    """The state that began the stop it is in, and the running state before; None where it runs."""
    changes = StateChange.objects.standing().filter(system=system, at__lte=now)
    stop = None
    for change in changes.order_by("-at", "-state"):
        if change.state in RUNNING:
            return stop, change
        stop = change
    return stop, None


def _full_time(system, stop, before):
    if stop is None or before is None:
        return None
    if before.state in {"ramping", "commissioning"}:
        return False
    on = site_date(stop.at, system.site.time_zone)
    schedule = Schedule.objects.filter(system=system, from_on__lte=on).order_by("-from_on").first()
    return None if schedule is None else schedule.hours_per_day >= FULL_TIME_H


def _fish(ponds):
    if any(pond.cold_water_fish for pond in ponds):
        return Fish.COLD_WATER
    return Fish.WARM_WATER if ponds else Fish.UNKNOWN


def _layered(system, pond, today):
    climate = climate_of(system.site)
    seen = seen_at([system.site_id]).get(system.site_id, {}).get(pond.pk, ()) if pond else ()
    winter = winter_of(today, climate.latitude)
    return in_layered_season(today, [pond_year(climate, seen, w) for w in (winter - 1, winter)])


def _this_winter(system, today):
    """From the cold season that today belongs to on; older ice says nothing."""
    return winter_begins(winter_of(today, system.site.lat), system.site.lat)


def _hold(system, kind, today):
    found = Hold.objects.filter(kind=kind, lifted_at=None, from_on__lte=today, to_on__gte=today)
    mine = found.filter(site=system.site_id)
    if system.site.region_id:
        mine = mine | found.filter(region=system.site.region_id)
    return mine.order_by("to_on", "pk").first()
