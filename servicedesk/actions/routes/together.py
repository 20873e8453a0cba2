"""Moving people who meet: all of them go to the new day, at one minute that suits them all."""

from datetime import date

from django.db import transaction

from servicedesk.actions.routes import hands
from servicedesk.actions.routes.drafts import orders_of, pks
from servicedesk.actions.routes.parts import refuse_unready
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.actions.routes.wishes import problem_as_it_stands, wish_keys
from servicedesk.models import DueItem, Stop, Technician, Ticket
from servicedesk.planning.calendar import said_day, week_name
from servicedesk.planning.routing.meetings import Meeting, meeting_of, take_off
from servicedesk.planning.routing.problem import jobs_at


@transaction.atomic
def move_together(stop: Stop, *, technician: Technician, day: date, today: date) -> None:
    """Move a draft stop and the stops of those who meet there to another day.

    The one that is asked about goes to `technician`, the others stay with their people. They keep
    their hour where all of them are free then, else they meet at the one that costs least.
    Refused, with the reason, if there is none; then nothing has changed.
    """
    week = hands.open_week(stop.route.day, today)
    rest = hands.partners(stop)
    for one in [stop, *rest]:
        hands.refuse_frozen(one)
    if week_name(day) != week.name:
        raise RouteRefused(
            "A stop moves inside its week. To do it in another week, take it off here and plan "
            "that week."
        )
    people = {str(technician.pk): technician}
    people |= {str(one.route.technician_id): one.route.technician for one in rest}
    if len(people) <= len(rest):
        raise RouteRefused(
            f"{technician} meets the others there already. Choose somebody else, or only another "
            "day."
        )
    for person in people.values():
        hands.refuse_published(week, person, day)
    tickets = Ticket.objects.filter(stops__in=[stop, *rest]).select_related("site").distinct()
    refuse_unready(list(tickets), day, today)
    meeting = _meeting(week, stop, people, day)
    _put(week, [stop, *rest], people, meeting, day)


def _meeting(week: WeekOfRecords, stop: Stop, people: dict[str, Technician], day: date) -> Meeting:
    problem, stops = problem_as_it_stands(week)
    wish = problem.wish_by_key[wish_keys(stops)[stop.pk]]
    orders = orders_of(week, problem, stops)
    take_off(orders, wish)
    number = week.number(day)
    before = week.minute(stop.arrive_at, week.number(stop.route.day))
    for minute in (before, None):
        if found := meeting_of(problem, orders, wish, list(people), number, minute):
            return found
    names = " and ".join(str(person) for person in people.values())
    raise RouteRefused(
        f"{names} have no common time for this on {said_day(day)}: their days, the hours of the "
        "site, the daylight or a skill do not allow it. Choose another day, or take it off and "
        "place it again."
    )


def _put(
    week: WeekOfRecords,
    stops: list[Stop],
    people: dict[str, Technician],
    meeting: Meeting,
    day: date,
) -> None:
    left = {(str(one.route.technician_id), week.number(one.route.day)) for one in stops}
    names = {str(one.route.technician_id): one.uuid for one in stops}
    moved = next((name for person, name in names.items() if person not in people), None)
    site, locked = stops[0].site, any(one.locked for one in stops)
    for one in stops:
        one.delete()
    placed = set()
    for pin in meeting.wish.pins:
        keys = [job.key for job in jobs_at(meeting.wish, pin)]
        made = hands.add_stop(
            people[pin.technician],
            day,
            site,
            list(Ticket.objects.filter(pk__in=pks(keys, "ticket"))),
            week.instant(pin.day, pin.start_min),
            locked=locked,
            name=names.get(pin.technician, moved),
        )
        made.due_items.add(*DueItem.objects.filter(pk__in=pks(keys, "due")))
        placed.add((pin.technician, pin.day))
    hands.settle(week, placed, left - placed)
