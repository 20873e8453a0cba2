"""A pond's year: ice, windows, what its systems did, and its profiles by depth."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby, pairwise
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from customers.models import Pond
from equipment.kinds import RUNNING, SystemState
from equipment.models import Position, ProfilePoint, StateChange, System
from equipment.physics import units
from servicedesk.actions.climates import climate_of, seen_at
from servicedesk.charts.years import Bar, BarRow, profile_chart, year_chart
from servicedesk.models import Observation
from servicedesk.planning.season_plan import (
    PondYear,
    pond_year,
    spring_window,
    winter_of,
    winter_window,
)
from servicedesk.planning.seasons import (
    Season,
    freezes,
    season_question,
    season_windows,
    winter_begins,
)

DAY = timedelta(days=1)
PROFILES = 6
STATE_CLASS = {
    SystemState.SHUT_WINTER: "shut",
    SystemState.SHUT_OTHER: "off",
    SystemState.FAILED: "off",
    SystemState.RAMPING: "ramp",
    SystemState.COMMISSIONING: "ramp",
}


@dataclass
class YearSheet:
    pond: Pond
    winter: int
    title: str
    chart: str
    days: list[tuple[str, date | None, str]]  # name, day, what it rests on
    windows: list[tuple[str, date, date, str]]
    questions: list[str]
    states: list[tuple[System, list[tuple[date, date, str]]]]
    sights: list[Observation]
    profiles: list[tuple[date, str, str]]
    has_winter: bool


def year_sheet(pond: Pond, *, now: datetime, winter: int | None, reader_units: str) -> YearSheet:
    """One winter of a pond and the warm season after it, in a constant number of queries."""
    site = pond.site
    zone = ZoneInfo(site.time_zone)
    today = now.astimezone(zone).date()
    climate = climate_of(site)
    winter = winter_of(today, site.lat) if winter is None else winter
    begins = winter_begins(winter, site.lat)
    ends = winter_begins(winter + 1, site.lat) - DAY
    seen = seen_at([site.pk]).get(site.pk, {}).get(pond.pk, ())
    plan = pond_year(climate, seen, winter)
    windows = _windows(plan, climate, begins, ends)
    states = _states(pond, begins, min(ends, today), now, zone)
    title = f"{begins.year}/{ends.year}" if ends.year != begins.year else f"{begins.year}"
    rows = [_ice_row(plan), *(_window_row(*one) for one in windows), *map(_state_row, states)]
    said = " ".join(bar.words + "." for row in rows for bar in row.bars)
    return YearSheet(
        pond=pond,
        winter=winter,
        title=title,
        chart=year_chart(
            rows, begins, ends, title=_("Year of %s") % pond, described=said, today=today
        ),
        days=_days(plan),
        windows=windows,
        questions=[q for s in (Season.WINTER, Season.SPRING) if (q := season_question(s, climate))],
        states=states,
        sights=list(
            Observation.objects.filter(pond=pond, seen_on__range=(begins, ends))
            .select_related("by", "by_contact", "taken_from__pond")
            .order_by("-seen_on", "-pk")
        ),
        profiles=_profiles(pond, begins, ends, zone, reader_units),
        has_winter=freezes(climate) or bool(seen),
    )


def _windows(plan, climate, begins, ends):
    found = []
    if freezes(climate) or plan.refrozen_on or (plan.ice_on and plan.ice_on.was_seen):
        found = [(_("Winter work"), winter_window(plan)), (_("Restart"), spring_window(plan))]
    years = range(begins.year, ends.year + 1)
    summers = season_windows(Season.SUMMER, climate, years)
    found += [(_("Midsummer look"), one) for one in summers if begins <= one.opens_on <= ends]
    return [(name, w.opens_on, w.closes_on, w.because) for name, w in found if w]


def _days(plan: PondYear):
    names = [
        (_("Ice comes"), plan.ice_on),
        (_("Ice leaves"), plan.ice_out),
        (_("Water layers"), plan.layering),
        (_("Water mixes in autumn"), plan.mixing),
    ]
    words = {
        "seen here": _("seen here"),
        "seen nearby": _("seen nearby"),
        "usual here": _("usual here, by the last winters"),
        "usual in the region": _("usual in the region"),
    }
    rows = [(name, day.on if day else None, words[day.basis] if day else "") for name, day in names]
    if plan.refrozen_on:
        rows[1] = (rows[1][0], None, _("ice was seen again on %s") % _said(plan.refrozen_on))
    return rows


def _said(on):
    return date_format(on, "j F Y")


def _between(first, last):
    return _("%(first)s to %(last)s") % {"first": _said(first), "last": _said(last)}


def _ice_row(plan):
    bars = []
    on, out = plan.ice_on, plan.ice_out
    if on and out and on.on <= out.on:
        seen = on.was_seen and out.was_seen
        words = _("Ice, %s") % _between(on.on, out.on)
        bars.append(Bar(on.on, out.on, "ice seen" if seen else "ice", words))
    if out and plan.layering and plan.mixing:
        words = _("Layered water, %s") % _between(plan.layering.on, plan.mixing.on)
        bars.append(Bar(plan.layering.on, plan.mixing.on, "layers", words))
    return BarRow(_("Water"), tuple(bars))


def _window_row(name, opens, closes, _because):
    words = _("%(name)s, %(days)s") % {"name": name, "days": _between(opens, closes)}
    return BarRow(name, (Bar(opens, closes, "window", words),))


def _states(pond, begins, until, now, zone):
    """What each system of the pond did, from day to day; one query for all their states."""
    lying = Position.objects.lying().filter(pond=pond).values("system")
    systems = {s.pk: s for s in System.objects.filter(pk__in=lying).order_by("name", "pk")}
    changes = StateChange.objects.standing().filter(system__in=systems, at__lte=now)
    by_system = {pk: [] for pk in systems}
    for row in changes.order_by("at", "state"):
        by_system[row.system_id].append((row.at.astimezone(zone).date(), row.state))
    found = []
    for pk, rows in by_system.items():
        edges = [*rows, (until + DAY, "")]
        periods = [
            (max(first, begins), min(second - DAY, until), state)
            for (first, state), (second, _next) in pairwise(edges)
            if second > begins and first <= until and second > first
        ]
        found.append((systems[pk], periods))
    return found


def _state_row(of):
    system, periods = of
    bars = []
    for first, last, state in periods:
        kind = STATE_CLASS.get(state, "runs" if state in RUNNING else "rest")
        words = f"{system}: {state.replace('_', ' ')}, {_between(first, last)}"
        bars.append(Bar(first, last, kind, words))
    return BarRow(system.name, tuple(bars))


def _profiles(pond, begins, ends, zone, reader_units):
    """Temperature and oxygen by depth of the last readings of the year, newest first."""
    since = datetime.combine(begins, time(), zone)
    until = datetime.combine(ends + DAY, time(), zone)
    points = ProfilePoint.objects.filter(
        set__pond=pond, set__taken_at__gte=since, set__taken_at__lt=until
    )
    rows = points.select_related("set").order_by("-set__taken_at", "set", "depth_m")[:400]
    found = []
    for _pk, some in groupby(rows, key=lambda point: point.set_id):
        of_one = list(some)
        if len(of_one) > 1 and len(found) < PROFILES:
            on = of_one[0].set.taken_at.astimezone(zone).date()
            found.append((on, *(_profile(of_one, what, on, reader_units) for what in NAMES)))
    return found


SIGNS = {"F": "°F", "C": "°C"}
NAMES = {"temperature": "temperature_c", "oxygen": "oxygen_mg_l"}


def _profile(points, what, on, reader_units):
    unit, depth_unit = (units.readers_unit(one, reader_units) for one in (what, "length"))
    rows = [
        (
            units.from_stored("length", point.depth_m, depth_unit),
            None
            if getattr(point, NAMES[what]) is None
            else units.from_stored(what, getattr(point, NAMES[what]), unit),
        )
        for point in points
    ]
    title = {"temperature": _("Temperature"), "oxygen": _("Oxygen")}[what]
    said = ", ".join(
        f"{depth:.3g} {depth_unit}: {'-' if value is None else f'{value:.3g} {unit}'}"
        for depth, value in rows
    )
    if all(value is None for _depth, value in rows):
        return ""
    return profile_chart(
        rows,
        title=title,
        unit=SIGNS.get(unit, unit),
        depth_unit=depth_unit,
        described=f"{_said(on)}: {said}",
    )
