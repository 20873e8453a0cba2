"""A day went wrong: what to do is worked out and shown; nothing changes until it is accepted."""

from dataclasses import replace
from datetime import date, datetime, timedelta

from django.db import transaction

from customers.models import Firm, User
from servicedesk.actions.routes.plans import running_plan
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs import what as whats
from servicedesk.actions.routes.repairs.days import days_after
from servicedesk.actions.routes.repairs.difference import difference
from servicedesk.actions.routes.repairs.rows import DayRow, day_rows, fingerprint
from servicedesk.actions.routes.repairs.standing import (
    Standing,
    read_standing,
    routes_to_repair,
)
from servicedesk.actions.routes.repairs.what import Happening
from servicedesk.actions.routes.week import read_week
from servicedesk.kinds import RepairKind
from servicedesk.models import Repair, Stop
from servicedesk.planning.routing.problem import StopWish
from servicedesk.planning.routing.repair import Repaired, repaired


class _TakeBack(Exception):
    """Ends the look into a week as it would be."""


@transaction.atomic
def propose(what: Happening, *, by: User | None, today: date, now: datetime) -> Repair:
    """Work out how the rest of the week goes on, and keep it as a proposal."""
    Firm.objects.select_for_update().first()
    monday = what.day - timedelta(days=what.day.weekday())
    refuse_impossible(what, monday, today)
    before = standing_days(monday, today)
    if not before:
        raise RouteRefused("No day of this week is planned. Plan the week instead.")
    after, shown = look_ahead(what, monday, before, by=by, today=today, now=now)
    return Repair.objects.create(
        kind=what.kind,
        monday_on=monday,
        day=what.day,
        facts=what.facts,
        says=what.says,
        proposed_at=now,
        proposed_by=by,
        stands=fingerprint(before),
        proposal={"after": after} | shown,
    )


def standing_days(monday: date, today: date) -> list[DayRow]:
    """The days that a repair may change, as they are now."""
    return day_rows(routes_to_repair(read_week(monday, today=today))[0])


def refuse_impossible(what: Happening, monday: date, today: date) -> None:
    if what.day < today:
        raise RouteRefused("That day is over. What was not done on it is planned anew by itself.")
    if what.kind == RepairKind.RUNNING_LATE and what.day != today:
        raise RouteRefused("Only of today can anybody say that he runs late.")
    if running_plan(monday):
        raise RouteRefused("The week is being planned. Wait for it or stop it, then try again.")


def look_ahead(
    what: Happening,
    monday: date,
    before: list[DayRow],
    *,
    by: User | None,
    today: date,
    now: datetime,
) -> tuple[list[DayRow], dict]:
    """The changed days and what is said of them, with the facts written down for a moment."""
    found: list = []
    try:
        with transaction.atomic():
            whats.written_down(what, by)
            whats.add_emergency(what, read_week(monday, today=today), now)
            found = _worked_out(what, monday, before, today, now)
            raise _TakeBack
    except _TakeBack:
        return found[0], found[1]


def _worked_out(what: Happening, monday: date, before: list[DayRow], today: date, now: datetime):
    routes, _ = routes_to_repair(read_week(monday, today=today))
    stops = (
        Stop.objects.filter(route__in=[route.pk for route in routes])
        .select_related("route", "site")
        .prefetch_related("stop_tickets")
    )
    free = whats.free_stops(what, list(stops))
    late = whats.minutes_late(what)
    standing = read_standing(monday, today=today, now=now, free=free, late=late)
    result = _repair(what, standing, free)
    after = days_after(standing, result, before, late)
    shown = difference(what, standing, result, before, after, today)
    _say_why(what, after, {move["uuid"] for move in shown["moves"]})
    return after, shown


def _say_why(what: Happening, after: list[DayRow], moved: set[str]) -> None:
    """A stop that came here by this says so, before what brought it into the week."""
    for row in (row for day in after for row in day["stops"] if row["uuid"] in moved):
        row["because"] = f"Moved here: {what.says} {row['because']}".strip()


def _repair(what: Happening, standing: Standing, free: frozenset[int]) -> Repaired:
    out = {}
    for route in standing.week.routes:
        day = standing.day_of(route)
        on_it = {visit.wish.key for visit in standing.orders.get(day, [])}
        for stop in standing.stops[route.pk]:
            key = standing.keys[stop.pk]
            if stop.pk in free and key in on_it:
                out[key] = day[1]
    unpromised = standing.unpromised(out)
    if what.kind == RepairKind.STOP_FAILED:
        _not_that_day(standing, out, unpromised)
    if what.kind == RepairKind.EMERGENCY:
        out = dict.fromkeys(out, standing.week.number(what.day))
    return repaired(
        standing.problem,
        standing.orders,
        out=out,
        unpromised=unpromised or None,
        strained=whats.strained_days(what, standing),
        at_once=what.kind == RepairKind.EMERGENCY,
    )


def _not_that_day(standing: Standing, out: dict[str, int], unpromised: dict) -> None:
    """Where a stop failed nobody goes a second time on the same day."""

    def later(wish: StopWish) -> StopWish:
        windows = tuple(w for w in wish.windows if w.day != out.get(wish.key))
        return replace(wish, windows=windows)

    wishes = tuple(later(wish) for wish in standing.problem.wishes)
    standing.problem = replace(standing.problem, wishes=wishes)
    for key, wish in unpromised.items():
        unpromised[key] = later(wish)
