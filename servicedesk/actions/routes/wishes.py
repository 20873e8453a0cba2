"""Open work becomes the problem of a week: once to be planned, once as the rows stand."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from django.db.models import Q

from customers.models import Pond, Site
from servicedesk.actions.roads import known_table
from servicedesk.actions.routes.daylight import in_daylight
from servicedesk.actions.routes.hours import (
    HeatOfWeek,
    Hours,
    closed_areas,
    horizon_days,
    promised_later,
    waiting_until,
)
from servicedesk.actions.routes.parts import Supply, read_supply, room_taken, supplied
from servicedesk.actions.routes.week import (
    Places,
    WeekOfRecords,
    due_job,
    lunch_of,
    shifts_of,
    site_place,
    stops_of,
    ticket_job,
)
from servicedesk.actions.tickets import WELL_AWAY
from servicedesk.kinds import Clock, Who
from servicedesk.models import DueItem, Rhythm, Stop, StopTicket, Ticket
from servicedesk.planning.routing.problem import (
    NEVER_TOO_LATE,
    Lock,
    StopWish,
    WeekProblem,
)

DAYS_IN = {"d": 1.0, "h": 1 / 24, "month": 30.4}


@dataclass
class AtSite:
    """What is wanted at one site: tickets, work due soon, and where somebody placed it.

    Work of a site that somebody split has a part for each of its days.
    """

    site: Site
    key: str = ""
    tickets: dict[int, Ticket] = field(default_factory=dict)
    due_items: dict[int, DueItem] = field(default_factory=dict)
    locks: list[Lock] = field(default_factory=list)
    pins: list[Lock] = field(default_factory=list)  # everybody, where the planner lets them meet

    @property
    def keys(self) -> set[tuple[str, int, str]]:
        return {(t.place_key, t.task_id, t.occasion) for t in self.tickets.values()}

    def placed_on(self, week: WeekOfRecords) -> date:
        """The day on which it stands by hand; else the last one on which it may."""
        return week.day(min((lock.day for lock in self.locks), default=6))


def problem_to_plan(week: WeekOfRecords) -> WeekProblem:
    """All open work that may get a place; what was placed by hand keeps it, what is published too.

    About fifteen queries, whatever the size.
    """
    stops = stops_of(week.drafts)
    supply = read_supply(week.first_on)
    wanted = _placed_by_hand(week, stops)
    _take_off_awaited(week, wanted, supply)
    parts = {pk: there for there in wanted.values() for pk in there.tickets}
    taken = _tickets_elsewhere(week)
    waits, heat = waiting_until(week), HeatOfWeek(week)
    for ticket in Ticket.objects.open().select_related("task", "site__region"):
        if ticket.pk in taken or promised_later(ticket, week) or is_for_the_office(ticket):
            continue
        if heat.keeps(ticket):
            continue
        if _not_before(ticket, waits, week) > week.sunday:
            continue
        key = f"site:{ticket.site_id}"
        there = parts.get(ticket.pk) or wanted.get(key) or AtSite(ticket.site, key)
        if not supply.is_there(ticket, there.placed_on(week)):
            continue
        wanted[there.key] = there
        if len(there.locks) < 2 or not _needs_two(ticket):  # a pair does what it was placed for
            there.tickets.setdefault(ticket.pk, ticket)
    _pull_forward(week, wanted)
    return _problem(week, wanted.values(), waits, supply)


def problem_as_it_stands(week: WeekOfRecords) -> tuple[WeekProblem, dict[int, list[Stop]]]:
    """Only what stands on draft routes, and the stops by route: to judge and to re-time them."""
    stops = stops_of(week.drafts)
    by_route = {route.pk: route for route in week.drafts}
    wanted: dict[str, AtSite] = {}
    keys = wish_keys(stops)
    for stop in _fullest_first(stops):
        if not (tickets := open_tickets(stop)):
            continue
        there = wanted.setdefault(keys[stop.pk], AtSite(stop.site, keys[stop.pk]))
        there.tickets |= tickets
        there.due_items |= {item.pk: item for item in stop.due_items.all()}
        there.pins.append(_lock(week, by_route[stop.route_id], stop))
        if stop.by_hand:
            there.locks.append(there.pins[-1])
    for there in wanted.values():
        if len(there.locks) == len(there.pins) or len(there.pins) < 2:
            there.pins = []  # all of them by hand, or nobody to meet
        there.locks = _in_order(there.locks)
    supply = read_supply(week.first_on)
    problem = _problem(week, wanted.values(), waiting_until(week), supply)
    return replace(problem, roads=known_table(problem.places)), stops


def open_tickets(stop: Stop) -> dict[int, Ticket]:
    """What of a draft stop is still to be done."""
    found = (st.ticket for st in stop.stop_tickets.all())
    return {ticket.pk: ticket for ticket in found if ticket.closed_at is None}


def wish_keys(stops: dict[int, list[Stop]]) -> dict[int, str]:
    """How the planner calls the wish of each stop.

    Stops of a site that share a ticket are one visit by several people; those that share none are
    parts of its work that go to different days, and each part is a wish of its own.
    """
    parts: dict[int, list[set[int]]] = defaultdict(list)
    keys = {}
    for stop in _fullest_first(stops):
        mine, there = set(open_tickets(stop)), parts[stop.site_id]
        number = next((n for n, part in enumerate(there) if part & mine), len(there))
        if number == len(there):
            there.append(mine)
        keys[stop.pk] = f"site:{stop.site_id}" + (f":{number}" if number else "")
    return keys


def _placed_by_hand(week: WeekOfRecords, stops: dict[int, list[Stop]]) -> dict[str, AtSite]:
    wanted: dict[str, AtSite] = {}
    held = {
        pk: [stop for stop in some if stop.by_hand or stop.locked] for pk, some in stops.items()
    }
    keys = wish_keys(held)
    by_route = {route.pk: route for route in week.drafts}
    for stop in _fullest_first(held):
        if tickets := open_tickets(stop):
            there = wanted.setdefault(keys[stop.pk], AtSite(stop.site, keys[stop.pk]))
            there.tickets |= tickets
            there.due_items |= {item.pk: item for item in stop.due_items.all()}
            there.locks.append(_lock(week, by_route[stop.route_id], stop))
    for there in wanted.values():
        there.locks = _in_order(there.locks)
    return wanted


def _take_off_awaited(week: WeekOfRecords, wanted: dict[str, AtSite], supply: Supply) -> None:
    """What was placed by hand waits all the same, once its parts come later than that day."""
    for key, there in list(wanted.items()):
        day = there.placed_on(week)
        there.tickets = {pk: t for pk, t in there.tickets.items() if supply.is_there(t, day)}
        if not there.tickets:
            del wanted[key]


def _fullest_first(stops: dict[int, list[Stop]]) -> list[Stop]:
    """Of a pair the first one does what needs no second person, too."""
    found = (stop for some in stops.values() for stop in some)
    return sorted(found, key=lambda stop: (-len(open_tickets(stop)), stop.pk))


def _lock(week: WeekOfRecords, route, stop: Stop) -> Lock:
    number = week.number(route.day)
    return Lock(str(route.technician_id), number, week.minute(stop.arrive_at, number))


def _in_order(locks: list[Lock]) -> list[Lock]:
    """A pair keeps its minute, so that both come at once; a single stop keeps only its day."""
    if len(locks) > 1:
        return locks
    return [Lock(lock.technician, lock.day) for lock in locks]


def _needs_two(ticket: Ticket) -> bool:
    return ticket.task.crew > 1 or ticket.task.needs_boat


def is_for_the_office(ticket: Ticket) -> bool:
    """Work that nobody drives to, such as renewing papers; by hand it may be put on a day."""
    return not ticket.task.crew and not ticket.task.needs_boat


def _tickets_elsewhere(week: WeekOfRecords) -> set[int]:
    """Those that have a place already: on a published day, or in another week."""
    placed = StopTicket.objects.filter(
        stop__route__day__gte=week.first_on, ticket__closed_at=None
    ).exclude(stop__route__in=[route.pk for route in week.drafts])
    return set(placed.values_list("ticket_id", flat=True))


def _not_before(ticket: Ticket, waits: dict, week: WeekOfRecords) -> date:
    key = (ticket.place_key, ticket.task_id, ticket.occasion)
    return max(waits.get(key, week.monday), week.first_on)


def _pull_forward(week: WeekOfRecords, wanted: dict[str, AtSite]) -> None:
    """Work due soon at a site where a ticket is open; never at one placed by hand.

    What needs several people comes along only where several meet anyway. A ticket whose window
    opens later than WELL_AWAY would be closed again as not needed.
    """
    free = [there for there in wanted.values() if not there.locks]
    several = [there for there in free if any(map(_needs_two, there.tickets.values()))]
    most = week.firm.pull_forward_days
    soon = DueItem.objects.filter(
        Q(task__crew=1, task__needs_boat=False)
        | Q(task__crew__gte=1, site__in=[there.site.pk for there in several]),
        site__in=[there.site.pk for there in free],
        paused=False,
        opens_on__lte=week.first_on + WELL_AWAY,
        due_on__range=(week.monday, week.sunday + timedelta(days=most)),
        task__active=True,
    ).select_related("task")
    intervals = interval_days()
    for item in soon.order_by("due_on", "pk"):
        there = wanted[f"site:{item.site_id}"]
        if (item.place_key, item.task_id, item.occasion) in there.keys:
            continue
        early = horizon_days(intervals.get(item.task_id), most)
        in_season = item.task.season and item.opens_on <= week.sunday
        if item.due_on <= week.sunday + timedelta(days=early) or in_season:
            there.due_items[item.pk] = item


def interval_days() -> dict[int, float]:
    """The shortest interval of each task that our own people do."""
    intervals: dict[int, float] = {}
    rhythms = Rhythm.objects.filter(who=Who.TECHNICIAN, every__isnull=False)
    for rhythm in rhythms.exclude(clock__in=[Clock.SEASON, Clock.EVENT]):
        days = rhythm.every * DAYS_IN.get(rhythm.unit, 1.0)
        intervals[rhythm.task_id] = min(days, intervals.get(rhythm.task_id, days))
    return intervals


def _problem(
    week: WeekOfRecords, wanted: Iterable[AtSite], waits: dict, supply: Supply
) -> WeekProblem:
    wanted = sorted(wanted, key=lambda there: (there.site.pk, there.key))
    places = Places([], {})
    shifts = shifts_of(week, places)
    hours = Hours(week, [there.site for there in wanted])
    due = _due_days(wanted)
    wishes = [_wish(week, there, places, hours, due, waits) for there in wanted]
    infested = infested_sites(there.site.pk for there in wanted)
    room = room_taken(
        [ticket for there in wanted for ticket in there.tickets.values()],
        [item for there in wanted for item in there.due_items.values()],
        week.first_on,
    )
    wishes = [
        replace(
            w,
            infested=there.site.pk in infested,
            jobs=supplied(w, supply, room, week.monday),
        )
        for w, there in zip(wishes, wanted, strict=True)
    ]
    return WeekProblem(
        tuple(places.rows),
        tuple(shifts),
        tuple(wishes),
        lunch_of(week),
        week.firm.day_full_percent,
        tuple((str(pk), str(person)) for pk, person in week.technicians.items()),
        week.firm.road_factor,
        week.firm.speed_km_h,
        areas=closed_areas(week),
    )


def infested_sites(pks: Iterable[int]) -> set[int]:
    """Sites with invasive species in a pond: they come after the clean ones of a day."""
    found = Pond.objects.filter(site__in=list(pks)).exclude(invasive="")
    return set(found.exclude(invasive__iexact="none").values_list("site_id", flat=True))


def _due_days(wanted: list[AtSite]) -> dict[tuple[str, int, str], DueItem]:
    keys = defaultdict(set)
    for there in wanted:
        for place_key, task_id, occasion in there.keys:
            keys[place_key].add((task_id, occasion))
    sites = [there.site.pk for there in wanted]
    found = DueItem.objects.filter(site__in=sites).only(
        "place_key", "task_id", "occasion", "due_on", "closes_on"
    )
    return {(item.place_key, item.task_id, item.occasion): item for item in found}


def _wish(
    week: WeekOfRecords, there: AtSite, places: Places, hours: Hours, due: dict, waits: dict
) -> StopWish:
    tickets = sorted(there.tickets.values(), key=lambda ticket: ticket.pk)
    jobs = [ticket_job(ticket, _due_on(ticket, due), week.monday) for ticket in tickets]
    jobs += [due_job(item, week.monday) for item in there.due_items.values()]
    earliest = max((_not_before(ticket, waits, week) for ticket in tickets), default=week.first_on)
    return StopWish(
        there.key,
        site_place(there.site, places),
        tuple(jobs),
        in_daylight(week, there.site, hours.windows(there.site, tickets, earliest), jobs),
        week.firm.setup_min,
        min((_good_until(ticket, due, week) for ticket in tickets), default=NEVER_TOO_LATE),
        tuple(there.locks),
        there.site.name,
        pins=tuple(there.pins),
    )


def _due_on(ticket: Ticket, due: dict) -> date | None:
    item = due.get((ticket.place_key, ticket.task_id, ticket.occasion))
    return (item and item.due_on) or ticket.due_when_opened_on


def _good_until(ticket: Ticket, due: dict, week: WeekOfRecords) -> int:
    """The last day inside the tolerance; work that is beyond it already has none to keep to."""
    item = due.get((ticket.place_key, ticket.task_id, ticket.occasion))
    if item and item.closes_on:
        last = item.closes_on
    elif ticket.due_when_opened_on:
        last = ticket.due_when_opened_on + timedelta(days=ticket.task.late_days)
    else:
        return NEVER_TOO_LATE
    number = week.number(last)
    return number if 0 <= number < NEVER_TOO_LATE else NEVER_TOO_LATE
