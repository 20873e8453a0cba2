"""The season page: what is left, whether it fits, and each region's windows, weather and sights."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from customers.models import Pond, Region
from equipment.physics import units
from servicedesk.actions.capacity import SeasonNow, season_now
from servicedesk.actions.weather import regions_now, weather_of
from servicedesk.charts.capacity import capacity_chart
from servicedesk.kinds import ObservationKind, OfficeTaskKind
from servicedesk.models import DayWeather, Observation, OfficeTask
from servicedesk.planning.season_plan import winter_of
from servicedesk.planning.seasons import Climate, Season, winter_begins
from servicedesk.planning.weather import ColdSoFar, cold_so_far

SOON = timedelta(days=14)
SHOWN = 20
RECENT = timedelta(days=60)


@dataclass
class RegionRow:
    """One region: its windows, its ponds by how they stand, and its weather."""

    region: Region | None
    opens_on: date | None = None
    closes_on: date | None = None
    not_open: int = 0
    open: int = 0
    soon: int = 0
    late: int = 0
    done: int = 0
    undecided: int = 0
    cold: ColdSoFar | None = None
    hint: str = ""
    last: DayWeather | None = None
    has_winter: bool = True

    @property
    def left(self) -> int:
        return self.not_open + self.open + self.soon + self.late


@dataclass
class SeasonSheet:
    found: SeasonNow
    rows: list[RegionRow]
    headline: str
    basis: str
    chart: str
    missing: list[Pond]
    missing_count: int
    sights: list[Observation]
    tasks: list[OfficeTask] = field(default_factory=list)

    @property
    def is_winter(self) -> bool:
        return self.found.season == Season.WINTER


def season_sheet(*, now: datetime, season: str, reader_units: str) -> SeasonSheet:
    """The page's content, in a constant number of queries."""
    found = season_now(now=now, season=season)
    missed = sorted({*found.closed_ponds, *found.capacity.missed_ponds})
    ponds = Pond.objects.filter(pk__in=missed[:SHOWN]).select_related("site").order_by("name", "pk")
    sights = Observation.objects.standing().filter(taken_from=None, seen_on__gte=found.on - RECENT)
    sights = sights.select_related("pond", "site__region", "by", "by_contact")
    tasks = OfficeTask.objects.filter(kind=OfficeTaskKind.SEASON, handled_at=None)
    return SeasonSheet(
        found=found,
        rows=_rows(found, reader_units),
        headline=headline(found),
        basis=basis(found),
        chart=_chart(found),
        missing=list(ponds),
        missing_count=len(missed),
        sights=list(sights.order_by("-waits", "-seen_on", "-pk")[:SHOWN]),
        tasks=list(tasks.select_related("site").order_by("-urgent", "-opened_at")[:SHOWN]),
    )


def headline(found: SeasonNow) -> str:
    """What its window left behind, and whether the rest fits."""
    closed = len(found.closed_ponds)
    behind = ngettext(
        "%d pond was not done when its window closed.",
        "%d ponds were not done when their windows closed.",
        closed,
    )
    said = [behind % closed] if closed else []
    if found.capacity.jobs or not closed:
        said.append(_pace(found))
    return " ".join(said)


def _pace(found):
    count = len(found.capacity.missed_ponds)
    winter = found.season == Season.WINTER
    if not found.capacity.jobs:
        return _("No season work is left.")
    if not count:
        return (
            _("At this pace every pond is ready before ice comes.")
            if winter
            else _("At this pace every pond is restarted before its water layers.")
        )
    if winter:
        return ngettext(
            "At this pace %(count)d pond will miss ice-on.",
            "At this pace %(count)d ponds will miss ice-on.",
            count,
        ) % {"count": count}
    return ngettext(
        "At this pace %(count)d pond will still wait when its water layers.",
        "At this pace %(count)d ponds will still wait when their water layers.",
        count,
    ) % {"count": count}


def basis(found: SeasonNow) -> str:
    """What the sentence rests on."""
    sums = found.capacity
    if not sums.jobs:
        return ""
    figures = {
        "jobs": sums.jobs,
        "needed": f"{sums.needed_h:.0f}",
        "days": sums.person_days,
        "hours": f"{sums.available_h:.0f}",
        "share": f"{100 * found.share:.0f}",
        "last": _day(sums.last_close),
    }
    words = _(
        "Jobs left: %(jobs)s, with %(needed)s hours of people's work at ponds. Until the last "
        "window closes on %(last)s crews have %(days)s person-days, and in them %(hours)s hours "
        "for this work: "
    )
    more = (
        _("%(share)s %% of their time at ponds, as in the last four weeks.")
        if found.paced
        else _("the %(share)s %% of their time at ponds that other work leaves.")
    )
    return (words + more) % figures + " " + _("Half of a full day is reckoned as driving.")


def _day(on):
    return date_format(on, "j F Y") if on else ""


def _chart(found):
    points = found.capacity.points
    if len(points) < 2:
        return ""
    title = _("Hours of work at ponds, added up")
    said = _("%(needed)s hours are wanted and %(hours)s are there by %(last)s.") % {
        "needed": f"{points[-1].needed_h:.0f}",
        "hours": f"{points[-1].available_h:.0f}",
        "last": _day(points[-1].on),
    }
    names = {"needed": _("windows close"), "available": _("crews have")}
    return capacity_chart(points, title=title, described=f"{said} {basis(found)}", **names)


def _rows(found, reader_units):
    """Regions in the order of their names; sites without one come last."""
    left = defaultdict(list)
    for row in found.left:
        left[row.region].append(row)
    known = {here.region.pk: here for here in regions_now()}
    ids = {*left, *found.done_ponds, *found.undecided, *known}
    rows = []
    weather = _weather(found, known)
    for pk in sorted(
        ids, key=lambda pk: (pk is None, str(known[pk].region) if pk in known else "")
    ):
        here = known.get(pk)
        row = RegionRow(here.region if here else None, undecided=found.undecided.get(pk, 0))
        _count(row, left[pk], found.done_ponds.get(pk, set()), found.on)
        if here:
            row.has_winter = here.region.has_winter
            _add_weather(row, weather.get(pk, {}), here.climate, found.on, reader_units)
        rows.append(row)
    return rows


def _count(row, left, done, today):
    """Each pond once, by the worst that stands there; a pond all of whose work is done is done."""
    worst = {}
    for item in left:
        state = _state(item, today)
        for pond in item.ponds or (f"site {item.site}",):
            worst[pond] = max(worst.get(pond, 0), state)
    names = ("not_open", "open", "soon", "late")
    for state in worst.values():
        setattr(row, names[state], getattr(row, names[state]) + 1)
    row.done = len(done - set(worst))
    row.opens_on = min((item.opens_on for item in left), default=None)
    row.closes_on = max((item.closes_on for item in left), default=None)


def _state(item, today):
    if item.closes_on < today:
        return 3
    if today < item.opens_on:
        return 0
    return 2 if item.closes_on - today <= SOON else 1


def _weather(found, known):
    latitude = next((here.latitude for here in known.values()), 45.0)
    begins = winter_begins(winter_of(found.on, latitude), latitude)
    ice = Observation.objects.counting().filter(kind=ObservationKind.ICE_ON, seen_on__gte=begins)
    first_ice = {}
    for region, on in ice.order_by("-seen_on").values_list("site__region_id", "seen_on"):
        first_ice[region] = on
    days = weather_of(list(known), begins)
    return {pk: (rows, first_ice.get(pk)) for pk, rows in days.items()}


def _add_weather(row, weather, climate: Climate, today, reader_units):
    if not weather:
        return
    days, first_ice = weather
    past = [on for on in days if on <= today]
    row.last = days[max(past)] if past else None
    if climate.has_winter:
        means = {on: days[on].mean_c for on in past}
        row.cold = cold_so_far(means, climate, today, first_ice)
        row.hint = _hint(row.cold, reader_units) if row.cold and row.cold.freezing_c else ""


def _hint(cold, reader_units):
    """The cold so far as a hint with its spread, in the reader's units."""
    metric = reader_units == "metric"
    unit = "cm" if metric else "in"
    least, most = (
        units.from_stored("length", value / 100, unit) for value in (cold.least_cm, cold.most_cm)
    )
    scale = 1.0 if metric else 1.8
    figures = {
        "since": _day(cold.since),
        "cold": f"{scale * cold.freezing_c:.0f} {'°C' if metric else '°F'}",
        "net": f"{scale * cold.net_c:.0f}",
        "least": f"{least:.0f}",
        "most": f"{most:.0f}",
        "unit": unit,
        "missing": cold.missing,
    }
    words = _(
        "Freezing degree-days since %(since)s: %(cold)s days, %(net)s with thaw taken off. Still "
        "water far from bubbles may have grown %(least)s to %(most)s %(unit)s of ice."
    )
    if cold.missing:
        words += " " + _("Days without weather: %(missing)s.")
    return words % figures
