"""Road factor and speed of each region, learned from logged drives; a figure by hand stands first.

Minutes come from the visits. How long a road is, nobody logs: it is learned where a routing service
measured the way between the two sites of a logged drive.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from customers.models import Firm, Region, Trail, User
from servicedesk.actions.roads import known_metres
from servicedesk.models import Shift, Visit
from servicedesk.planning.drives import (
    FACTORS,
    SPEEDS_KM_H,
    Drive,
    Learned,
    Stay,
    drives_between,
    learned,
    speed_km_h,
)
from servicedesk.planning.routing.problem import Lunch

LOOK_BACK = timedelta(days=365)  # all seasons of a road; our judgement


@transaction.atomic
def learn_roads(*, now: datetime) -> int:
    """Work out the figures of every region anew; how many regions have drives of their own.

    Four queries and one for each 400 places, whatever the number of visits.
    """
    firm = Firm.objects.first()
    if firm is None:
        return 0
    by_region: dict[int, list[Drive]] = defaultdict(list)
    drives = drives_between(_stays(now - LOOK_BACK), _lunch())
    for drive in drives:
        by_region[drive.region].append(drive)
    metres = known_metres({(drive.from_at, drive.to_at) for drive in drives})
    regions = list(Region.objects.all())
    for region in regions:
        own = by_region.get(region.pk, [])
        factor = learned(_factors(own, metres), firm.road_factor, *FACTORS)
        used = region.road_factor or (factor.value if factor.drives else firm.road_factor)
        speeds = [speed_km_h(drive, used) for drive in own]
        speed = learned(speeds, firm.speed_km_h, *SPEEDS_KM_H)
        region.learned_road_factor, region.factor_drives = _kept(factor, 3)
        region.learned_speed_km_h, region.speed_drives = _kept(speed, 1)
    fields = ["learned_road_factor", "factor_drives", "learned_speed_km_h", "speed_drives"]
    Region.objects.bulk_update(regions, fields)
    return len(by_region)


@transaction.atomic
def set_road_figures(
    figures: Mapping[int, tuple[float | None, float | None]], *, by: User, now: datetime
) -> None:
    """Road factor and speed by hand, by number of the region; None: as learned, else the firm's."""
    for region in Region.objects.select_for_update().filter(pk__in=figures):
        before = [region.road_factor, region.speed_km_h]
        region.road_factor, region.speed_km_h = figures[region.pk]
        after = [region.road_factor, region.speed_km_h]
        if before != after:
            region.save(update_fields=["road_factor", "speed_km_h"])
            Trail.objects.create(
                at=now,
                by=by,
                did="changed road factor and speed",
                about=f"region:{region.pk}",
                before={"road_factor": before[0], "speed_km_h": before[1]},
                after={"road_factor": after[0], "speed_km_h": after[1]},
            )
    learn_roads(now=now)  # a speed rests on the factor


def _kept(one: Learned, digits: int) -> tuple[float | None, int]:
    """A figure that rests on no drive at all is that of the firm, not one of the region."""
    return (round(one.value, digits) if one.drives else None), one.drives


def _factors(drives: Iterable[Drive], metres: Mapping) -> list[float]:
    found = [(metres.get((d.from_at, d.to_at)), d.straight_km) for d in drives]
    return [m / 1000 / km for m, km in found if m is not None and m / 1000 >= km]


def _lunch() -> Lunch:
    longest = Shift.objects.order_by("-lunch_min").values_list("lunch_min", flat=True).first()
    return Lunch(minutes=longest or 0)


def _stays(since: datetime) -> Iterable[Stay]:
    fields = ("technician", "arrived_at", "left_at")
    site = ("site__lat", "site__lon", "site__region", "site__time_zone")
    rows = Visit.objects.filter(arrived_at__gte=since, left_at__isnull=False)
    zones: dict[str, ZoneInfo] = {}
    for person, arrived, left, lat, lon, region, name in rows.values_list(*fields, *site):
        zone = zones.setdefault(name, ZoneInfo(name))
        local = arrived.astimezone(zone)
        arrives = local.hour * 60 + local.minute + local.second / 60
        stayed = (left - arrived).total_seconds() / 60
        yield Stay(person, local.date(), lat, lon, region, arrives, arrives + stayed)
