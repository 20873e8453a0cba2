"""A week as the planner wants it: people, hours and open work, read from the records once."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from django.db.models import Q

from customers.models import Firm, Site
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.kinds import Harm, Skill
from servicedesk.models import Absence, DueItem, Route, Stop, Technician, Ticket
from servicedesk.models import Shift as PaidDay
from servicedesk.planning.calendar import week_name
from servicedesk.planning.routing.problem import (
    WHOLE_DAY,
    Job,
    Lunch,
    Place,
    Shift,
    skills_held,
)
from servicedesk.planning.routing.sorting import FAR_OFF_DAYS


@dataclass(frozen=True)
class WeekOfRecords:
    """What the records say of a week; minutes count from midnight in the firm's zone."""

    monday: date
    first_on: date  # the first day that may still be planned
    firm: Firm
    technicians: dict[int, Technician]
    paid_days: list[PaidDay]
    absences: list[Absence]
    routes: list[Route]

    @property
    def name(self) -> str:
        return week_name(self.monday)

    @property
    def sunday(self) -> date:
        return self.monday + timedelta(days=6)

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.firm.time_zone)

    def day(self, number: int) -> date:
        return self.monday + timedelta(days=number)

    def number(self, day: date) -> int:
        return (day - self.monday).days

    def instant(self, number: int, minute: int) -> datetime:
        """The instant of a minute of a day, as clocks in the firm's zone show it."""
        local = datetime.combine(self.day(number), time()) + timedelta(minutes=minute)
        return local.replace(tzinfo=self.zone).astimezone(UTC)

    def minute(self, at: datetime, number: int) -> int:
        """Minutes from midnight of a day to what the clock shows at an instant."""
        local = at.astimezone(self.zone).replace(tzinfo=None)
        return int((local - datetime.combine(self.day(number), time())).total_seconds() // 60)

    @cached_property
    def published(self) -> set[tuple[int, date]]:
        return {(r.technician_id, r.day) for r in self.routes if r.published_at}

    @cached_property
    def drafts(self) -> list[Route]:
        """Routes that may still be changed."""
        return [r for r in self.routes if not r.published_at and r.day >= self.first_on]

    def is_away(self, technician_id: int, day: date) -> bool:
        """Whether nothing is left of a technician's paid day."""
        paid = self._shift_of(technician_id, day)
        return paid is not None and self.worked_min(technician_id, day, paid) is None

    def paid_day(self, technician_id: int, day: date) -> PaidDay | None:
        """The shift of a technician on a day, unless he is away for all of it."""
        paid = self._shift_of(technician_id, day)
        return paid if paid and self.worked_min(technician_id, day, paid) else None

    def worked_min(self, technician_id: int, day: date, paid: PaidDay) -> tuple[int, int] | None:
        """Between which minutes of a paid day he is there: its longest part without absence."""
        parts = [(_minutes(paid.starts), _minutes(paid.ends))]
        for absence in self.absences_on(technician_id, day):
            begins, ends = _hours_away(absence, day)
            cut = [(a, min(b, begins)) for a, b in parts] + [(max(a, ends), b) for a, b in parts]
            parts = [(a, b) for a, b in cut if a < b]
        return max(parts, key=lambda part: part[1] - part[0], default=None)

    def absences_on(self, technician_id: int, day: date) -> list[Absence]:
        return [
            a
            for a in self.absences
            if a.technician_id == technician_id and a.from_on <= day <= a.to_on
        ]

    def _shift_of(self, technician_id: int, day: date) -> PaidDay | None:
        return next(
            (
                paid
                for paid in self.paid_days
                if (paid.technician_id, paid.weekday) == (technician_id, day.isoweekday())
                and paid.from_on <= day
                and (paid.to_on is None or day <= paid.to_on)
            ),
            None,
        )


def _hours_away(absence: Absence, day: date) -> tuple[int, int]:
    """Minutes of a day between which somebody is away."""
    begins, ends = 0, WHOLE_DAY
    if day == absence.from_on and absence.from_at:
        begins = _minutes(absence.from_at)
    if day == absence.to_on and absence.to_at:
        ends = _minutes(absence.to_at)
    return begins, ends


def read_week(monday: date, *, today: date, firm: Firm | None = None) -> WeekOfRecords:
    """People, hours and routes of a week. Five queries, whatever the size."""
    firm = firm or Firm.objects.first()
    if firm is None:
        raise RouteRefused("The firm is not set up yet. Enter it at the first login.")
    sunday = monday + timedelta(days=6)
    technicians = Technician.objects.filter(active=True).select_related("user")
    return WeekOfRecords(
        monday,
        today,
        firm,
        {technician.pk: technician for technician in technicians.order_by("user__first_name")},
        list(
            PaidDay.objects.filter(from_on__lte=sunday)
            .filter(Q(to_on=None) | Q(to_on__gte=monday))
            .order_by("-from_on")
        ),
        list(Absence.objects.filter(from_on__lte=sunday, to_on__gte=monday)),
        list(
            Route.objects.filter(day__range=(monday, sunday))
            .select_related("technician__user")
            .order_by("day", "technician__user__first_name", "pk")
        ),
    )


@dataclass
class Places:
    """The points of a problem, each once; the solver knows them by number."""

    rows: list[Place]
    known: dict[Place, int]

    def number(
        self,
        latitude: float,
        longitude: float,
        road_factor: float | None = None,
        speed_km_h: float | None = None,
    ) -> int:
        place = Place(latitude, longitude, road_factor, speed_km_h)
        if place not in self.known:
            self.known[place] = len(self.rows)
            self.rows.append(place)
        return self.known[place]


def shifts_of(week: WeekOfRecords, places: Places) -> list[Shift]:
    """Every technician's days of the week that are neither past nor published."""
    return [
        _shift(week, technician, day, paid, places)
        for day in (week.day(number) for number in range(7))
        if day >= week.first_on
        for technician in week.technicians.values()
        if (technician.pk, day) not in week.published
        if (paid := week.paid_day(technician.pk, day))
    ]


def skills_of(technician: Technician) -> frozenset[Skill]:
    named = {Skill(technician.skill)}
    if technician.licensed_electrician:
        named.add(Skill.ELECTRICIAN)
    return skills_held(frozenset(named))


def _shift(week: WeekOfRecords, technician: Technician, day: date, paid: PaidDay, places: Places):
    from_min, until_min = week.worked_min(technician.pk, day, paid)
    is_whole = until_min == _minutes(paid.ends)
    return Shift(
        str(technician.pk),
        week.number(day),
        from_min,
        until_min,
        home_of(week.firm, technician, places),
        skills_of(technician),
        paid.overtime_min if is_whole else 0,  # who has to leave does not stay longer
        technician.boat,
        technician.van_units,
    )


def home_of(firm: Firm, technician: Technician, places: Places) -> int:
    """Where a technician's day begins and ends: his own start, else the shop."""
    spot = (technician.start_lat, technician.start_lon)
    if None in spot:
        spot = (firm.shop_lat, firm.shop_lon)
    if None in spot:
        raise RouteRefused(
            "Nobody knows yet where the days begin. Enter the shop's latitude and longitude in the "
            "settings, then plan again."
        )
    return places.number(*spot)


def lunch_of(week: WeekOfRecords) -> Lunch:
    """One break for all: the longest of this week's shifts."""
    return Lunch(minutes=max((paid.lunch_min for paid in week.paid_days), default=0))


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def ticket_job(ticket: Ticket, due_on: date | None, monday: date) -> Job:
    task = ticket.task
    return Job(
        f"ticket:{ticket.pk}",
        task.minutes,
        Harm(task.harm),
        Skill(task.skill),
        (monday - due_on).days if due_on else 0,
        max(task.crew, 1),  # work of the office, once it is put on a day by hand, is done by one
        task.needs_boat,
        name=task.name,
    )


def due_job(item: DueItem, monday: date) -> Job:
    """Work that is not due yet; it is only ever done along with a ticket."""
    task = item.task
    return Job(
        f"due:{item.pk}",
        task.minutes,
        Harm(task.harm),
        Skill(task.skill),
        (monday - item.due_on).days if item.due_on else -FAR_OFF_DAYS,
        task.crew,
        task.needs_boat,
        pulled_forward=True,
        name=task.name,
    )


def stops_of(routes: Iterable[Route]) -> dict[int, list[Stop]]:
    """Stops by route, in order, with their tickets and their work due soon. Three queries."""
    stops = defaultdict(list)
    found = (
        Stop.objects.filter(route__in=[route.pk for route in routes])
        .select_related("site__region")
        .prefetch_related("stop_tickets__ticket__task", "due_items__task")
        .order_by("number", "pk")
    )
    for stop in found:
        stops[stop.route_id].append(stop)
    return stops


def site_place(site: Site, places: Places) -> int:
    if site.region is None:
        return places.number(site.lat, site.lon)
    region = site.region
    return places.number(site.lat, site.lon, region.factor_used, region.speed_used_km_h)
