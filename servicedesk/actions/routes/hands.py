"""Changes of a week by hand: place, move, keep, take off. Each is judged at once."""

from collections.abc import Iterable
from datetime import date, datetime, time
from uuid import UUID, uuid4

from django.db import transaction

from customers.models import Firm, Site
from servicedesk.actions.routes.drafts import faults_of, held_back, orders_of, save_routes, timed
from servicedesk.actions.routes.parts import ready, refuse_unready
from servicedesk.actions.routes.plans import running_plan
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import WeekOfRecords, read_week, skills_of
from servicedesk.actions.routes.wishes import problem_as_it_stands, wish_keys
from servicedesk.models import Route, Stop, StopTicket, Technician, Ticket
from servicedesk.planning.calendar import said_day, week_name
from servicedesk.planning.routing.insertion import Day, Orders, best_order
from servicedesk.planning.routing.problem import WeekProblem

LAST = 999  # of a stop whose place in the day is still to be found


@transaction.atomic
def place_by_hand(
    ticket: Ticket,
    *,
    technicians: list[Technician],
    day: date,
    start: time | None,
    today: date,
) -> None:
    """Put a ticket on the day of one technician, or of several at one time.

    The other open one-person work of the site that the first of them is able to do goes along, so
    that nobody comes there twice: all of it where it fits, else what is due this week, else none.
    Refused, with reasons, if a rule would break; then nothing has changed.
    """
    week = open_week(day, today)
    _refuse_wrong_crew(ticket, technicians, start)
    refuse_unready([ticket], day, today)
    for technician in technicians:
        refuse_published(week, technician, day)
    along = ready(_along(week, ticket, technicians[0]), day, today)
    due = [one for one in along if (one.due_when_opened_on or week.sunday) <= week.sunday]
    for taken in (along, due):
        if taken:
            try:
                return _put(week, ticket, taken, technicians, day, start)
            except RouteRefused:
                continue  # the ticket that was asked for matters more than what goes along
    return _put(week, ticket, [], technicians, day, start)


@transaction.atomic
def _put(
    week: WeekOfRecords,
    ticket: Ticket,
    along: list[Ticket],
    technicians: list[Technician],
    day: date,
    start: time | None,
) -> None:
    left = take_tickets_off(week, ticket.site, [ticket, *along])
    minute = (start.hour * 60 + start.minute) if start else 0
    at = week.instant(week.number(day), minute)
    for number, technician in enumerate(technicians):
        mine = [ticket, *along] if number == 0 else [ticket]
        add_stop(technician, day, ticket.site, mine, at, locked=True)
    placed = {(str(technician.pk), week.number(day)) for technician in technicians}
    settle(week, placed, left - placed)


@transaction.atomic
def move_stop(stop: Stop, *, technician: Technician, day: date, today: date) -> None:
    """Move a draft stop to another day or technician, where it then stays."""
    week = open_week(stop.route.day, today)
    refuse_frozen(stop)
    if week_name(day) != week.name:
        raise RouteRefused(
            "A stop moves inside its week. To do it in another week, take it off here and plan "
            "that week."
        )
    if partners(stop):
        raise RouteRefused("This stop is for several people at one time. Move all of them.")
    if (technician.pk, day) == (stop.route.technician_id, stop.route.day):
        raise RouteRefused("The stop stands there already. Choose another day or technician.")
    refuse_published(week, technician, day)
    left = {(str(stop.route.technician_id), week.number(stop.route.day))}
    tickets = [st.ticket for st in stop.stop_tickets.select_related("ticket__site")]
    refuse_unready(tickets, day, today)
    due_items = list(stop.due_items.all())
    site, locked, at, name = stop.site, stop.locked, stop.arrive_at, stop.uuid
    stop.delete()
    moved = add_stop(technician, day, site, tickets, at, locked=locked, name=name)
    moved.due_items.add(*due_items)
    placed = {(str(technician.pk), week.number(day))}
    settle(week, placed, left - placed)


@transaction.atomic
def take_off(stop: Stop, *, today: date) -> None:
    """Take a draft stop off its day; its tickets wait for a place again."""
    week = open_week(stop.route.day, today)
    everybody = [stop, *partners(stop)]
    for one in everybody:
        refuse_frozen(one)
    left = set()
    for one in everybody:
        left.add((str(one.route.technician_id), week.number(one.route.day)))
        one.delete()
    settle(week, set(), left)


@transaction.atomic
def keep_stop(stop: Stop, *, keep: bool, today: date) -> None:
    """Say that a stop stays where it is when the week is planned again, or that it may move.

    It is said of all who meet there, or of none.
    """
    open_week(stop.route.day, today)
    everybody = [stop, *partners(stop)]
    for one in everybody:
        refuse_frozen(one)
    Stop.objects.filter(pk__in=[one.pk for one in everybody]).update(locked=keep, by_hand=keep)


def open_week(day: date, today: date) -> WeekOfRecords:
    Firm.objects.select_for_update().first()  # one change of a week at a time
    year, number, _ = day.isocalendar()
    monday = date.fromisocalendar(year, number, 1)
    if day < today:
        raise RouteRefused("That day is over. Choose a day that is still to come.")
    if running_plan(monday):
        raise RouteRefused("The week is being planned. Wait for it or stop it, then change it.")
    return read_week(monday, today=today)


def _refuse_wrong_crew(ticket: Ticket, technicians: list[Technician], start: time | None) -> None:
    if ticket.closed_at:
        raise RouteRefused("This ticket is closed already. Load the page again.")
    needed = max(ticket.task.crew, 2) if ticket.task.needs_boat else max(ticket.task.crew, 1)
    if len({technician.pk for technician in technicians}) != needed:
        people = "two people" if needed == 2 else f"{needed} people"
        raise RouteRefused(
            f"{ticket.task} needs {people if needed > 1 else 'one person'}: choose exactly so many "
            "different technicians."
        )
    if needed > 1 and start is None:
        raise RouteRefused("Say at what time they meet there.")


def refuse_frozen(stop: Stop) -> None:
    if stop.route.published_at:
        raise RouteRefused(
            f"The day of {stop.route.technician} on {said_day(stop.route.day)} is published and "
            "frozen. To change it, open that day again."
        )


def refuse_published(week: WeekOfRecords, technician: Technician, day: date) -> None:
    if (technician.pk, day) in week.published:
        raise RouteRefused(
            f"The day of {technician} on {said_day(day)} is published and frozen. Choose another "
            "day, or open that one again."
        )
    if week.paid_day(technician.pk, day) is None:
        raise RouteRefused(f"{technician} has no shift on {said_day(day)}. Choose another day.")


def _along(week: WeekOfRecords, ticket: Ticket, technician: Technician) -> list[Ticket]:
    """Other one-person work at the site that he is able to do, and on no published day."""
    frozen = StopTicket.objects.filter(
        stop__route__published_at__isnull=False, stop__route__day__gte=week.first_on
    )
    if frozen.filter(ticket=ticket).exists():
        raise RouteRefused("This ticket is on a published day already, which is frozen.")
    others = Ticket.objects.open().filter(site=ticket.site, task__crew=1, task__needs_boat=False)
    able = others.filter(task__skill__in=skills_of(technician))
    return list(
        able.exclude(pk=ticket.pk)
        .exclude(pk__in=frozen.values("ticket"))
        .select_related("task")
        .order_by("pk")
    )


def take_tickets_off(week: WeekOfRecords, site: Site, tickets: Iterable[Ticket]) -> set[Day]:
    """Remove tickets from the site's draft stops of the week; the days that lose something."""
    drafts = [route.pk for route in week.drafts]
    rows = StopTicket.objects.filter(stop__route__in=drafts, ticket__in=tickets)
    days = {
        (str(technician), week.number(day))
        for technician, day in rows.values_list("stop__route__technician", "stop__route__day")
    }
    rows.delete()
    Stop.objects.filter(route__in=drafts, site=site, stop_tickets=None).delete()
    return days


def add_stop(
    technician: Technician,
    day: date,
    site: Site,
    tickets: list[Ticket],
    at: datetime,
    *,
    locked: bool,
    name: UUID | None = None,
) -> Stop:
    """A stop of a site on a day, or what that site has there already, with more tickets.

    name: by which calendars and phones know the stop that comes here.
    """
    route, _ = Route.objects.get_or_create(technician=technician, day=day)
    marks = {"number": LAST, "arrive_at": at, "leave_at": at, "by_hand": True, "locked": locked}
    stop, _ = Stop.objects.update_or_create(
        route=route,
        site=site,
        defaults=marks,
        create_defaults=marks | {"uuid": name or uuid4()},
    )
    for ticket in tickets:
        StopTicket.objects.get_or_create(stop=stop, ticket=ticket)
    return stop


def partners(stop: Stop) -> list[Stop]:
    """The same visit on the days of the others, for work that needs several people."""
    return list(
        Stop.objects.filter(
            site=stop.site, route__day=stop.route.day, tickets__in=stop.tickets.all()
        )
        .exclude(pk=stop.pk)
        .select_related("route")
        .distinct()
    )


def settle(before: WeekOfRecords, placed: set[Day], left: set[Day]) -> None:
    """Work out the times of all touched days anew; judge those that got something.

    A day that only lost a stop is not judged: taking something off is how a fault is mended.
    """
    week = read_week(before.monday, today=before.first_on)
    problem, stops = problem_as_it_stands(week)
    orders = orders_of(week, problem, stops)
    keys = wish_keys(stops)
    new = {keys[stop.pk] for some in stops.values() for stop in some if stop.number == LAST}
    for day in placed:
        orders[day] = _ordered(problem, orders, day, new)
    routes = {(route.technician, route.day): route for route in timed(problem, orders)}
    judged = placed | _days_of_partners(orders, placed)
    if faults := faults_of(problem, [route for day, route in routes.items() if day in judged]):
        raise RouteRefused(
            *faults, *held_back(week, [routes[day] for day in placed & routes.keys()])
        )
    touched = placed | left
    kept = [route for day, route in routes.items() if day in touched]
    save_routes(week, problem, kept, days=touched)


def _days_of_partners(orders: Orders, days: set[Day]) -> set[Day]:
    """Days of those who meet somebody there: a pair is judged as a pair."""
    return {
        (lock.technician, lock.day)
        for day in days
        for visit in orders[day]
        for lock in visit.wish.held
    }


def _ordered(problem: WeekProblem, orders: Orders, day: Day, new: set[str]):
    """The stops of a day, the new ones where they cost the least; last if they fit nowhere."""
    visits = [visit for visit in orders[day] if visit.wish.key not in new]
    for visit in (visit for visit in orders[day] if visit.wish.key in new):
        shift = problem.shift_by_day[day]
        visits = best_order(problem, shift, visits, visit) or [*visits, visit]
    return visits
