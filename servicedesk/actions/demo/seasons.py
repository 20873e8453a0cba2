"""Weather, sightings and profiles of the demo firm: all invented, as its regions are."""

from datetime import date, datetime, timedelta
from random import Random

from customers.models import Pond, Region
from equipment.kinds import Moment
from equipment.models import ProfilePoint, ReadingSet
from servicedesk.actions.climates import climate_of
from servicedesk.actions.demo.measures import outside_c
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.systems import at
from servicedesk.actions.due import refresh_sites
from servicedesk.actions.sightings import record_sighting
from servicedesk.kinds import ObservationKind
from servicedesk.models import DayWeather, OfficeTask
from servicedesk.planning.season_plan import pond_year, winter_of

SOURCE = "invented for the demo"
DAYS, AHEAD = 400, 7
LATELY = timedelta(days=30)
SEEN = {  # at ponds that run through winter, so that no restart hangs on it: days from the usual
    "Mill Pond": {"ice_on": 2, "ice_out": -3, "layering": 4},
    "Quillbrook Upper": {"ice_on": -1, "ice_out": 1},
}
KINDS = {
    "ice_on": ObservationKind.ICE_ON,
    "ice_out": ObservationKind.ICE_OUT,
    "layering": ObservationKind.LAYERED,
}
PROFILES = {  # month and day: temperature at the surface and the bottom, oxygen at both
    (5, 2): (14.5, 12.8, 9.8, 8.1),
    (7, 14): (26.2, 15.1, 8.6, 0.9),
    (10, 9): (12.1, 11.9, 9.6, 9.1),
}


def tell_seasons(crew: Crew, *, today: date, now: datetime) -> None:
    """A year of weather in each region, what was seen at two ponds, and the profiles of one."""
    _make_weather(today, now)
    ponds = Pond.objects.filter(name__in=SEEN).select_related("site__region")
    for pond in ponds.order_by("pk"):
        _tell_sightings(pond, crew, today)
        if pond.name == "Mill Pond":
            _measure_profiles(pond, crew, today)
    # Each sighting left due days as of its own day; the demo begins today.
    refresh_sites({pond.site_id for pond in ponds}, now=now)
    old = OfficeTask.objects.filter(
        key__startswith="neighbours:", opened_at__lt=at(today, 0) - LATELY
    )
    old.update(handled_at=now, handled_by=crew.manager, handled_note="Of a day long past.")


def _make_weather(today, now):
    rows = []
    for region in Region.objects.order_by("pk"):
        draw = Random(f"weather of {region.name}")
        drift = 0.0
        for back in range(DAYS, -AHEAD - 1, -1):
            on = today - timedelta(days=back)
            drift = 0.75 * drift + draw.gauss(0, 2.6)
            mean = round(outside_c(on) + drift, 1)
            spread = draw.uniform(3, 7)
            rows.append(
                DayWeather(
                    region=region,
                    on=on,
                    mean_c=mean,
                    low_c=round(mean - spread, 1),
                    high_c=round(mean + spread, 1),
                    forecast=on > today,
                    source=SOURCE,
                    entered_at=now,
                )
            )
    DayWeather.objects.bulk_create(rows, batch_size=500)


def _tell_sightings(pond, crew, today):
    climate = climate_of(pond.site)
    winter = winter_of(today, pond.site.lat)
    for year in (winter - 1, winter):
        plan = pond_year(climate, (), year)
        for name, later in SEEN[pond.name].items():
            usual = getattr(plan, name)
            on = usual and usual.on + timedelta(days=later)
            if on and today - timedelta(days=395) < on < today:
                record_sighting(pond, KINDS[name], on, by=crew.manager, now=at(on, 16))


def _measure_profiles(pond, crew, today):
    depth = pond.depth_max_m or 3.0
    for (month, day), (top_c, low_c, top_mg, low_mg) in PROFILES.items():
        on = date(
            today.year if (month, day) < (today.month, today.day) else today.year - 1, month, day
        )
        kept = ReadingSet.objects.create(
            pond=pond,
            moment=Moment.AS_FOUND,
            taken_at=at(on, 9),
            entered_at=at(on, 9),
            taken_by=crew.manager,
        )
        steps = [0, 0.2, 0.4, 0.6, 0.8, 0.95]
        ProfilePoint.objects.bulk_create(
            ProfilePoint(
                set=kept,
                depth_m=round(depth * share, 2),
                temperature_c=round(_between(top_c, low_c, share), 1),
                oxygen_mg_l=round(_between(top_mg, low_mg, share), 1),
            )
            for share in steps
        )


def _between(top, bottom, share):
    """Warm and rich down to a third of the depth, then falling quickly."""
    fallen = min(1.0, max(0.0, (share - 0.3) / 0.35))
    return top + (bottom - top) * (0.1 * share + 0.9 * fallen)
