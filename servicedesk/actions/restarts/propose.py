"""From what was read at the pond to a proposal that a manager may approve."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime

from django.db import IntegrityError, transaction

from customers.models import Pond, Trail, User
from equipment.actions.profiles import Probe, record_profile
from equipment.kinds import NOT_IN_SERVICE, RUNNING
from equipment.models import ProfilePoint, ReadingSet, System
from servicedesk.actions.due import lock_sites
from servicedesk.actions.restarts.known import known_of, limits_of, ramp_before
from servicedesk.actions.states import state_at
from servicedesk.models import Restart
from servicedesk.planning.restart import proposal as proposals
from servicedesk.planning.restart.readings import (
    Fish,
    Readings,
    density_difference_kg_m3,
    reaches_down,
)
from servicedesk.planning.restart.states import RestartState

READ_ANEW = "Read anew."


class RestartRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@dataclass(frozen=True)
class Told:
    """What a person read, saw and knows, as it reaches the table. None: nobody knows."""

    read_at: datetime
    pond: Pond | None = None
    probes: Sequence[Probe] = ()
    depth_unit: str = "m"
    temperature_unit: str = "C"
    off_hours: float | None = None
    ran_full_time: bool | None = None
    surface_c: float | None = None
    fish: Fish = Fish.WARM_WATER
    past_kill: bool | None = False
    smell: bool = False
    stop_sign: bool = False
    ice: bool | None = False
    layered_season: bool | None = None
    bad_weather_coming: bool = False
    confirmed: bool = False  # odd figures of the profile are as they are
    others: tuple[str, ...] = field(default=())  # ponds of the cabinet that were not read


@transaction.atomic
def propose_restart(system: System, told: Told, *, by: User, now: datetime) -> Restart:
    """What the table says of these readings, kept beside them. A proposal before it is closed.

    Raises RestartRefused, or ProfileRefused for a profile that cannot be or is odd.
    """
    lock_sites([system.site_id])
    _refuse_running(system, now)
    before = Restart.objects.open().filter(system=system).first()
    if before and before.state == RestartState.UNDER_WAY:
        raise RestartRefused(
            "A ramp is under way here. Go on with it, or close it by name and reason first."
        )
    if told.read_at > now:
        raise RestartRefused("The readings are dated in the future. Enter when they were taken.")
    kept = _keep_profile(told, by, now)
    opened, days = ramp_before(system, now=now)
    seen, bottom_c = _readings(told, kept, opened, days)
    known = known_of(system, now=now, pond=told.pond)
    said = proposals.proposal(seen, bottom_c=bottom_c, treated=known.treatment is not None)
    if before:
        Restart.objects.filter(pk=before.pk).update(
            state=RestartState.CLOSED, ended_at=now, ended_because=READ_ANEW
        )
    try:
        with transaction.atomic():
            made = Restart.objects.create(
                system=system,
                inputs=_plain(seen, told),
                proposed=asdict(said),
                readings=kept,
                read_at=told.read_at,
                read_by=by,
                made_at=now,
                path=said.path,
                minutes=list(said.minutes),
            )
    except IntegrityError:
        raise RestartRefused("Somebody else has just entered one. Load the page again.") from None
    note(made, "propose restart", by, now, path=said.path)
    return made


def note(restart: Restart, did: str, by: User | None, now: datetime, **after) -> None:
    """Who did what to a restart, on the trail of its system."""
    after = {"restart": restart.pk} | after
    Trail.objects.create(at=now, by=by, did=did, about=f"system:{restart.system_id}", after=after)


def readings_of(restart: Restart) -> Readings:
    """The readings of a restart, as they were told."""
    kept = dict(restart.inputs["readings"])
    fish = Fish(kept["fish"])
    return Readings(**kept | {"fish": fish, "limits": limits_of(fish)})


def _refuse_running(system, now):
    state = state_at(system, now)
    if state is None or state.state in NOT_IN_SERVICE:
        raise RestartRefused(f"{system} is not in service. It is started by handing it over.")
    if state.state in RUNNING:
        raise RestartRefused(
            f"{system} runs, as far as is on record. Was it found off? Record that state first."
        )


def _keep_profile(told, by, now):
    if not told.probes:
        return None
    if told.pond is None:
        raise RestartRefused("Say which pond the profile is from.")
    return record_profile(
        told.pond,
        taken_at=told.read_at,
        entered_at=now,
        probes=told.probes,
        depth_unit=told.depth_unit,
        temperature_unit=told.temperature_unit,
        taken_by=by,
        confirmed=told.confirmed,
    )


def _readings(told: Told, kept: ReadingSet | None, opened, days):
    """The readings for the table, and the temperature of the deepest water."""
    points = list(ProfilePoint.objects.filter(set=kept).order_by("depth_m")) if kept else []
    warm = [p for p in points if p.temperature_c is not None]
    air = [p for p in points if p.oxygen_mg_l is not None]
    depth = told.pond.depth_max_m if told.pond else None
    warm_reaches = len(warm) > 1 and reaches_down(warm[-1].depth_m, depth)
    air_reaches = len(air) > 1 and reaches_down(air[-1].depth_m, depth)
    seen = Readings(
        off_hours=told.off_hours,
        ran_full_time=told.ran_full_time,
        difference=density_difference_kg_m3([p.temperature_c for p in warm])
        if warm_reaches
        else None,
        surface_c=warm[0].temperature_c if warm else told.surface_c,
        surface_mg_l=air[0].oxygen_mg_l if air else None,
        bottom_mg_l=air[-1].oxygen_mg_l if air_reaches else None,
        fish=told.fish,
        past_kill=told.past_kill,
        smell=told.smell,
        stop_sign=told.stop_sign,
        ice=told.ice,
        layered_season=told.layered_season,
        bad_weather_coming=told.bad_weather_coming,
        ramp=opened,
        ramp_days=days,
        limits=limits_of(told.fish),
    )
    return seen, warm[-1].temperature_c if warm_reaches else None


def _plain(seen: Readings, told: Told):
    readings = {k: v for k, v in asdict(seen).items() if k != "limits"}
    return {
        "readings": readings,
        "pond": told.pond.name if told.pond else "",
        "probes": [asdict(probe) for probe in told.probes],
        "units": [told.depth_unit, told.temperature_unit],
        "not_read": list(told.others),
    }
