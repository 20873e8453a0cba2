"""The weather of regions: loaded from a file, fetched from a service, watched for alerts."""

import logging
from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Avg, Count, Min

from customers.models import Region, Site, Trail, User
from equipment.models import System
from servicedesk.actions.climates import climate_of
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import DayWeather, OfficeTask
from servicedesk.planning.calendar import site_date
from servicedesk.planning.seasons import Climate
from servicedesk.planning.weather import Alert, AlertKind, alerts, windows_around
from servicedesk.registers.weather import DayRow, Fault, read_weather
from servicedesk.roads import NoAnswer
from servicedesk.weather import days_at

LOG = logging.getLogger("servicedesk.weather")
SERVICE = "service"
ASK_S = 10.0
MOST_REGIONS = 40  # asked in one round
PATIENCE = 2
LOOKED_AT = timedelta(days=30)
QUIET = timedelta(days=21)  # an alert that may come back is told again after so long
OFTEN = {AlertKind.THAW, AlertKind.HEAT}
UPSERT = {
    "update_conflicts": True,
    "unique_fields": ["region", "on"],
    "update_fields": ["mean_c", "low_c", "high_c", "forecast", "source", "entered_at"],
}


class WeatherRefused(Exception):
    """Nothing was written; `faults` name the lines and what to do."""

    def __init__(self, faults: list[Fault]):
        super().__init__(f"{len(faults)} lines cannot be read; nothing was written.")
        self.faults = faults


@dataclass(frozen=True)
class RegionNow:
    """A served region with its usual days, the middle of its sites, and the day there."""

    region: Region
    climate: Climate
    latitude: float
    longitude: float
    zone: str


@transaction.atomic
def load_weather(
    text: str, *, source: str, now: datetime, by: User | None = None, region: Region | None = None
) -> int:
    """Keep the days of a file: all of it, or nothing; how many days were written.

    A day that stands there already is replaced: a file goes before the service. Raises
    WeatherRefused, or NotWeather where there is no table in it.
    """
    regions = {found.name: found for found in Region.objects.all()}
    rows, faults = read_weather(text, regions, region.name if region else "")
    if faults:
        raise WeatherRefused(faults)
    _keep([(regions[row.region], row) for row in rows], source, now, today=now.date())
    Trail.objects.create(
        at=now, by=by, did="loaded weather", about="weather", after={"days": len(rows)}
    )
    return len(rows)


def fetch_weather(*, clock: Callable[[], datetime]) -> int:
    """Ask the service for each served region; without an address, or an answer, nothing changes."""
    if not settings.WEATHER_URL:
        return 0
    written, failed = 0, 0
    for here in regions_now()[:MOST_REGIONS]:
        if failed == PATIENCE:  # it is away: other jobs have their turn, and this one comes again
            break
        now = clock()
        try:
            found = days_at(settings.WEATHER_URL, here.latitude, here.longitude, within_s=ASK_S)
        except NoAnswer as error:
            LOG.warning("The weather service %s; %s keeps what it has.", error, here.region)
            failed += 1
            continue
        today = site_date(now, here.zone)
        written += _keep_service(here.region, found, now, today)
    return written


def _keep_service(region, found, now, today):
    """Days of a file stay as they are."""
    theirs = DayWeather.objects.filter(region=region, on__in=[day.on for day in found])
    kept = set(theirs.exclude(source=SERVICE).values_list("on", flat=True))
    rows = [
        (region, DayRow(region.name, day.on, (day.low_c + day.high_c) / 2, day.low_c, day.high_c))
        for day in found
        if day.on not in kept
    ]
    _keep(rows, SERVICE, now, today=today)
    return len(rows)


def _keep(rows, source, now, *, today):
    DayWeather.objects.bulk_create(
        [
            DayWeather(
                region=region,
                on=row.on,
                mean_c=row.mean_c,
                low_c=row.low_c,
                high_c=row.high_c,
                forecast=row.on > today,
                source=source[:120],
                entered_at=now,
            )
            for region, row in rows
        ],
        batch_size=500,
        **UPSERT,
    )


def regions_now() -> list[RegionNow]:
    """Regions with systems, in the order of their names, in three queries."""
    served = Site.objects.filter(pk__in=System.objects.values("site"), region__isnull=False)
    middles = {
        row["region"]: row
        for row in served.values("region")
        .order_by()
        .annotate(lat=Avg("lat"), lon=Avg("lon"), sites=Count("pk"), first=Min("pk"))
    }
    firsts = Site.objects.filter(pk__in=[row["first"] for row in middles.values()])
    found = []
    for site in firsts.select_related("region").order_by("region__name"):
        row = middles[site.region_id]
        plain = Site(lat=row["lat"], region=site.region)  # the region's days, not one site's own
        climate = climate_of(plain)
        found.append(RegionNow(site.region, climate, row["lat"], row["lon"], site.time_zone))
    return found


def weather_of(region_ids: Collection[int], from_on: date) -> dict[int, dict[date, DayWeather]]:
    """The days of some regions from one on, by region and day; one query."""
    rows = DayWeather.objects.filter(region_id__in=region_ids, on__gte=from_on).order_by("on")
    found: dict[int, dict[date, DayWeather]] = defaultdict(dict)
    for row in rows:
        found[row.region_id][row.on] = row
    return found


def watch_weather(*, now: datetime) -> int:
    """Tell the office of frost, thaw, warmth and heat that its windows have to know, once each."""
    regions = regions_now()
    since = now.date() - LOOKED_AT
    weather = weather_of([here.region.pk for here in regions], since)
    recent = OfficeTask.objects.filter(key__startswith="weather:", opened_at__gte=now - QUIET)
    told = set(recent.values_list("key", flat=True))
    opened = 0
    for here in regions:
        today = site_date(now, here.zone)
        days = {on: row.mean_c for on, row in weather.get(here.region.pk, {}).items()}
        for alert in alerts(days, today, windows_around(here.climate, today)):
            opened += _tell(here, alert, told, now)
    return opened


def _tell(here: RegionNow, alert: Alert, told: set[str], now: datetime) -> bool:
    about = f"weather:{here.region.pk}:{alert.kind}:"
    if alert.kind in OFTEN and any(key.startswith(about) for key in told):
        return False
    text = f"{here.region}: {alert.says}"
    fields = {"kind": OfficeTaskKind.SEASON, "text": text, "due_on": alert.due_on}
    key = about + alert.occasion.isoformat()
    _, new = OfficeTask.objects.get_or_create(key=key, defaults=fields | {"opened_at": now})
    return new
