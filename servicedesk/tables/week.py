"""The week as the manager reads it: a lane a day, its figures, and where it stands."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Exists, F, OuterRef, Prefetch, Subquery
from django.db.models.functions import Coalesce
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from customers.models import SiteSecret
from equipment.models import Position
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.charts.lanes import Axis, Span, axis_for, hours_of
from servicedesk.kinds import AnswerKind
from servicedesk.models import DueItem, OwnerAnswer, Stop, StopTicket
from servicedesk.tables.day_lane import out_of, picture, who_meets


@dataclass
class DayRow:
    """One technician's day."""

    technician: object
    day: date
    route: object = None
    stops: list = field(default_factory=list)
    shift: Span | None = None
    lunch: Span | None = None
    away: str = ""
    part_away: str = ""
    paid_min: int = 0
    full_percent: int = 80
    picture: str = ""

    @property
    def work_min(self):
        return self.route.work_min if self.route else 0

    @property
    def drive_min(self):
        return self.route.drive_min if self.route else 0

    @property
    def drive_km(self):
        return self.route.drive_km if self.route else 0

    @property
    def slack_min(self):
        return max(0, self.paid_min - self.work_min - self.drive_min)

    @property
    def is_full(self):
        busy = self.work_min + self.drive_min
        return bool(self.paid_min) and busy * 100 >= self.paid_min * self.full_percent

    over_min: int = 0


@dataclass
class Person:
    technician: object
    days: list[DayRow]

    @property
    def stop_count(self):
        return sum(len(day.stops) for day in self.days)

    @property
    def km(self):
        return sum(day.drive_km for day in self.days)

    @property
    def busy_min(self):
        return sum(day.work_min + day.drive_min for day in self.days)

    @property
    def paid_min(self):
        return sum(day.paid_min for day in self.days)


@dataclass
class WeekSheet:
    axis: Axis
    hours: str
    persons: list[Person]

    @property
    def days(self):
        return [day for person in self.persons for day in person.days]

    @property
    def stops(self):
        return [stop for day in self.days for stop in day.stops]

    @property
    def drafts(self):
        return [day for day in self.days if day.route and not day.route.published_at]

    @property
    def published(self):
        return [day for day in self.days if day.route and day.route.published_at]

    @property
    def km(self):
        return sum(person.km for person in self.persons)

    @property
    def busy_min(self):
        return sum(person.busy_min for person in self.persons)


def stops_shown(routes):
    """Stops by route with their tickets and due days. Three queries."""
    due = DueItem.objects.filter(
        place_key=OuterRef("ticket__place_key"),
        task=OuterRef("ticket__task"),
        occasion=OuterRef("ticket__occasion"),
    )
    water = Position.objects.lying().filter(system=OuterRef("ticket__system"))
    tickets = (
        StopTicket.objects.select_related(
            "ticket__task", "ticket__pond", "ticket__system", "ticket__position"
        )
        .annotate(
            due_on=Coalesce(Subquery(due.values("due_on")[:1]), F("ticket__due_when_opened_on")),
            opens_on=Subquery(due.values("opens_on")[:1]),
            closes_on=Subquery(due.values("closes_on")[:1]),
            pond_name=Coalesce(
                F("ticket__pond__name"),
                Subquery(water.order_by("pk").values("pond__name")[:1]),
            ),
        )
        .order_by("pk")
    )
    codes = SiteSecret.objects.filter(site=OuterRef("site")).exclude(
        until_on__lt=OuterRef("route__day")
    )
    stops = defaultdict(list)
    found = (
        Stop.objects.filter(route__in=[route.pk for route in routes])
        .select_related("site")
        .annotate(has_code=Exists(codes))
        .prefetch_related(
            Prefetch("stop_tickets", tickets),
            Prefetch("due_items", DueItem.objects.select_related("task", "system")),
        )
        .order_by("number")
    )
    for stop in found:
        stops[stop.route_id].append(stop)
    return stops


def pond_names(stop):
    """Names of the ponds where something is done, each once."""
    return [*dict.fromkeys(row.pond_name for row in stop.stop_tickets.all() if row.pond_name)]


def sheet_of(week: WeekOfRecords) -> WeekSheet:
    """All technicians and days of a week. Three queries beside those of `read_week`."""
    stops = stops_shown(week.routes)
    routes = {(route.technician_id, route.day): route for route in week.routes}
    people = dict(week.technicians)
    for route in week.routes:
        people.setdefault(route.technician_id, route.technician)
    persons = [
        Person(technician, _days(week, technician, routes, stops)) for technician in people.values()
    ]
    persons = [person for person in persons if person.days]
    spans = [
        span for person in persons for row in person.days for span in (row.shift, out_of(week, row))
    ]
    axis = axis_for(span for span in spans if span)
    meets = who_meets(row for person in persons for row in person.days)
    for person in persons:
        for row in person.days:
            row.picture = picture(week, axis, row, meets)
    return WeekSheet(axis, hours_of(axis), persons)


def _days(week, technician, routes, stops):
    rows = (day_row(week, technician, week.day(number), routes, stops) for number in range(7))
    return [row for row in rows if row.shift or row.route or row.away]


def day_row(week, technician, day, routes, stops) -> DayRow:
    """A day with its shift, its stops and its figures; empty where nobody works."""
    paid = next(
        (
            one
            for one in week.paid_days
            if (one.technician_id, one.weekday) == (technician.pk, day.isoweekday())
            and one.from_on <= day
            and (one.to_on is None or day <= one.to_on)
        ),
        None,
    )
    row = DayRow(technician, day, full_percent=week.firm.day_full_percent)
    row.route = routes.get((technician.pk, day))
    row.stops = stops.get(row.route.pk, []) if row.route else []
    if paid and week.is_away(technician.pk, day):
        row.away = next(
            (a.reason for a in week.absences if a.technician_id == technician.pk), ""
        ) or _("away")
    elif paid:
        row.shift = Span(*week.worked_min(technician.pk, day, paid))
        row.part_away = _part_away(week, technician, day)
        row.paid_min = max(0, row.shift.until_min - row.shift.from_min - paid.lunch_min)
        row.lunch = _lunch(week, row, paid.lunch_min)
    out = out_of(week, row)
    if out and row.shift:
        row.over_min = max(0, out.until_min - row.shift.until_min)
    return row


def _part_away(week, technician, day):
    """From when or until when somebody is away on a day that he works in part."""
    for absence in week.absences_on(technician.pk, day):
        why = f" ({absence.reason})" if absence.reason else ""
        if absence.from_on == day and absence.from_at:
            return _("away from %(at)s") % {"at": f"{absence.from_at:%H:%M}"} + why
        return _("away until %(at)s") % {"at": f"{absence.to_at:%H:%M}"} + why
    return ""


def _minutes(at):
    return at.hour * 60 + at.minute


def _lunch(week, row, minutes):
    """The break, read back from the gap that was left for it."""
    noon, number = 12 * 60, week.number(row.day)
    if not row.route or not minutes:
        return None
    left = week.minute(row.route.starts_at, number)
    for stop in row.stops:
        starts = week.minute(stop.arrive_at, number)
        begins = left if left >= noon else max(noon, left + stop.drive_min)
        if starts >= noon and starts - left >= stop.drive_min + minutes:
            return Span(begins, begins + minutes)
        left = week.minute(stop.leave_at, number)
    if row.stops and left > noon:
        return Span(left, left + minutes)
    return None


def days_to_come(day, today):
    """The days of the week of `day` that are not over, for a form."""
    monday = day - timedelta(days=day.weekday())
    days = [monday + timedelta(days=number) for number in range(7)]
    return [one for one in days if one >= today]


def answers_to(sheet):
    """What owners said about the tickets of the week. One query."""
    tickets = {row.ticket_id: stop for stop in sheet.stops for row in stop.stop_tickets.all()}
    found = (
        OwnerAnswer.objects.filter(ticket__in=tickets, undone_at=None)
        .select_related("contact")
        .order_by("recorded_at")
    )
    confirmed = {}
    others = []
    for answer in found:
        stop = tickets[answer.ticket_id]
        if answer.kind == AnswerKind.CONFIRM:
            confirmed[stop.pk] = stop
        else:
            others.append({"answer": answer, "stop": stop})
    return {"confirmed": len(confirmed), "others": others, "stops": len(sheet.stops)}


def tries_of(run) -> list[str]:
    """How the last plan was looked for, a sentence for each search; nothing before it is there."""
    if run is None or not run.says:
        return []
    found = list(run.solves.defer("result").order_by("seed"))
    costs = [solve.best_cost for solve in found if solve.best_cost is not None]
    words = []
    for number, solve in enumerate(found, start=1):
        said = _("Try %(number)d: %(done)s of %(of)s rounds of the search, draw %(seed)d.") % {
            "number": number,
            "done": number_format(solve.done_iterations, 0, use_l10n=True, force_grouping=True),
            "of": number_format(run.iterations, 0, use_l10n=True, force_grouping=True),
            "seed": solve.seed,
        }
        if len(costs) > 1 and solve.best_cost == min(costs):
            said = f"{said} {_('The better plan.')}"
        words.append(said)
    return words
