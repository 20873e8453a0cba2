"""The usual days of a site, and what was seen of its ponds."""

from collections import defaultdict
from collections.abc import Collection

from customers.models import Region, Site
from servicedesk.kinds import ObservationKind
from servicedesk.models import Observation
from servicedesk.planning.season_plan import Seen
from servicedesk.planning.seasons import Climate


def climate_of(site: Site) -> Climate:
    """The usual days of a site: its own where it has any, else those of its region."""
    region = site.region or Region()
    winter = region.has_winter if site.has_winter is None else site.has_winter
    return Climate(
        latitude=site.lat,
        has_winter=winter,
        ice_on=site.ice_on_typical or region.ice_on_typical,
        ice_on_earliest=site.ice_on_earliest or _earliest_ice(site, region),
        ice_out=site.ice_out_typical or region.ice_out_typical,
        layering=site.layering_typical or region.layering_typical,
        mixing=site.mixing_typical or region.mixing_typical,
        ice_seen_on=site.ice_seen_on,
    )


def _earliest_ice(site, region):
    """The region's earliest day says nothing of a site whose ice comes at another time."""
    return "" if site.ice_on_typical else region.ice_on_earliest


def seen_at(site_ids: Collection[int]) -> dict[int, dict[int, tuple[Seen, ...]]]:
    """What was seen of ponds that plans rest on, by site and pond."""
    rows = Observation.objects.counting().filter(site_id__in=site_ids).order_by("seen_on", "pk")
    found: dict[int, dict[int, tuple[Seen, ...]]] = defaultdict(dict)
    for site, pond, on, kind, near in rows.values_list(
        "site_id", "pond_id", "seen_on", "kind", "taken_from"
    ):
        seen = Seen(on, ObservationKind(kind), here=near is None)
        found[site][pond] = (*found[site].get(pond, ()), seen)
    return found
