"""Who works when, how a week was planned, and the routes that came of it."""

import uuid
from calendar import day_abbr

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from customers.kinds import choices
from customers.models import Region, Site
from servicedesk import kinds
from servicedesk.models.due import DueItem
from servicedesk.models.tasks import skills
from servicedesk.models.tickets import Ticket
from servicedesk.planning.routing.barriers import barrier_of


def plan_states():
    return choices(kinds.PlanState)


def road_states():
    return choices(kinds.RoadState)


def hold_kinds():
    return choices(kinds.HoldKind)


class Technician(models.Model):
    """A person who goes to ponds; one to one with a user."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    skill = models.CharField(max_length=20, choices=skills, default=kinds.Skill.TECHNICIAN)
    licensed_electrician = models.BooleanField(default=False)
    boat = models.BooleanField(default=False, help_text="Qualified for work from a boat.")
    start_lat = models.FloatField(null=True, blank=True, help_text="Empty: the shop.")
    start_lon = models.FloatField(null=True, blank=True)
    active = models.BooleanField(default=True)
    van_units = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Room in the van, in filter elements. Empty: enough."
    )
    calendar_number = models.PositiveIntegerField(
        default=1, help_text="Of the link to his calendar; a new number ends the old link."
    )

    def __str__(self):
        return str(self.user)


class Shift(models.Model):
    """A paid day that comes back each week, from a day to a day."""

    technician = models.ForeignKey(Technician, on_delete=models.CASCADE, related_name="shifts")
    weekday = models.PositiveSmallIntegerField(help_text="1 Monday to 7 Sunday")
    starts = models.TimeField()
    ends = models.TimeField()
    lunch_min = models.PositiveSmallIntegerField(default=30)
    overtime_min = models.PositiveSmallIntegerField(default=0)
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__gte=1, weekday__lte=7), name="shift_is_on_a_weekday"
            ),
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="shift_has_hours"),
        ]

    def __str__(self):
        return f"{day_abbr[self.weekday - 1]} {self.starts:%H:%M} to {self.ends:%H:%M}"


class Absence(models.Model):
    technician = models.ForeignKey(Technician, on_delete=models.CASCADE, related_name="absences")
    from_on = models.DateField()
    to_on = models.DateField(help_text="The last day away.")
    from_at = models.TimeField(
        null=True, blank=True, help_text="Of the first day; empty: away from its beginning."
    )
    to_at = models.TimeField(
        null=True, blank=True, help_text="Of the last day; empty: away until its end."
    )
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(to_on__gt=F("from_on"))
                | Q(to_on=F("from_on"))
                & (Q(from_at=None) | Q(to_at=None) | Q(to_at__gt=F("from_at"))),
                name="absence_ends_after_it_begins",
            )
        ]

    def __str__(self):
        return f"{self.from_on} to {self.to_on}"


class Hold(models.Model):
    """Days on which some work may not be done: heat, a treatment, a closed road, a wedding."""

    kind = models.CharField(max_length=20, choices=hold_kinds)
    region = models.ForeignKey(Region, on_delete=models.PROTECT, null=True, blank=True)
    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="holds"
    )
    area = models.JSONField(default=dict, blank=True, help_text="GeoJSON: no way through.")
    from_on = models.DateField()
    to_on = models.DateField(help_text="The last day.")
    way_round_km = models.FloatField(
        null=True, blank=True, help_text="By road, more than before; empty: along its corners."
    )
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True)
    lifted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(to_on__gte=F("from_on")), name="hold_ends_after_it_begins"
            )
        ]

    def clean(self):
        """A shape that nobody can drive round would stop every plan."""
        if not self.area:
            return
        try:
            barrier_of(self.area)
        except ValueError as error:
            raise ValidationError({"area": str(error)}) from None


class PlanRun(models.Model):
    """One planning of a week: the frozen problem, and the best plan that came of it."""

    week = models.CharField(max_length=8, db_index=True)  # "2026-W48", by ISO year
    monday_on = models.DateField()
    state = models.CharField(max_length=20, choices=plan_states, default=kinds.PlanState.QUEUED)
    problem = models.JSONField()
    iterations = models.PositiveIntegerField()
    cap_s = models.PositiveIntegerField(null=True, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True)
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    says = models.CharField(max_length=250, blank=True)
    publish_when_done = models.BooleanField(default=False)
    roads = models.CharField(max_length=10, choices=road_states, default=kinds.RoadState.KNOWN)
    roads_say = models.CharField(max_length=160, blank=True)


class WeekDetours(models.Model):
    """What coming to each site would have added to a published week; the planner learns from it."""

    monday_on = models.DateField(unique=True)
    hm = models.JSONField(default=dict, help_text="Hundreds of metres, by number of the site.")


class Solve(models.Model):
    """One seed of a plan run, solved by one child process under a lease."""

    plan_run = models.ForeignKey(PlanRun, on_delete=models.CASCADE, related_name="solves")
    seed = models.PositiveIntegerField()
    state = models.CharField(max_length=20, choices=plan_states, default=kinds.PlanState.QUEUED)
    done_iterations = models.PositiveIntegerField(default=0)
    best_cost = models.FloatField(null=True, blank=True)
    capped = models.BooleanField(default=False)
    result = models.JSONField(null=True, blank=True)
    lease_by = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    says = models.CharField(max_length=250, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["plan_run", "seed"], name="one_solve_per_seed")
        ]


class Route(models.Model):
    """A technician's stops of one day; frozen from the moment it is published."""

    technician = models.ForeignKey(Technician, on_delete=models.PROTECT, related_name="routes")
    day = models.DateField()
    plan_run = models.ForeignKey(PlanRun, on_delete=models.SET_NULL, null=True, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    drive_min = models.PositiveIntegerField(default=0)
    drive_km = models.FloatField(default=0)
    work_min = models.PositiveIntegerField(default=0)
    news = models.JSONField(
        default=dict, blank=True, help_text="What changed since its technician last looked."
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["technician", "day"], name="one_route_per_technician_and_day"
            )
        ]


class Stop(models.Model):
    """One site on a route, however many tickets are done there."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    route = models.ForeignKey(Route, on_delete=models.CASCADE, related_name="stops")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="stops")
    number = models.PositiveSmallIntegerField()
    arrive_at = models.DateTimeField()
    leave_at = models.DateTimeField()
    drive_min = models.PositiveIntegerField(default=0, help_text="From the stop before.")
    drive_km = models.FloatField(default=0)
    locked = models.BooleanField(default=False)
    by_hand = models.BooleanField(default=False)
    because = models.TextField(blank=True)
    tickets = models.ManyToManyField(Ticket, through="StopTicket", related_name="stops")
    due_items = models.ManyToManyField(
        DueItem,
        blank=True,
        related_name="stops",
        help_text="Work due soon, done along; it gets its ticket when the route is published.",
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["route", "site"], name="one_stop_per_site_and_route"),
            models.CheckConstraint(
                condition=Q(leave_at__gte=F("arrive_at")), name="stop_ends_after_it_begins"
            ),
        ]


class StopTicket(models.Model):
    stop = models.ForeignKey(Stop, on_delete=models.CASCADE, related_name="stop_tickets")
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="stop_tickets")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["stop", "ticket"], name="one_ticket_once_per_stop")
        ]


class LeftOut(models.Model):
    """A ticket that found no place in the week, and why."""

    plan_run = models.ForeignKey(PlanRun, on_delete=models.CASCADE, related_name="left_out")
    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="left_out")
    because = models.CharField(max_length=250)
    day = models.DateField(null=True, blank=True, help_text="The best day for it after all.")
    technician = models.ForeignKey(Technician, on_delete=models.SET_NULL, null=True, blank=True)
    detour_hm = models.PositiveIntegerField(
        null=True, blank=True, help_text="Hundreds of metres that going on that day would add."
    )
    people = models.JSONField(
        default=list, blank=True, help_text="Numbers of the technicians who would meet."
    )
    meet_at = models.TimeField(null=True, blank=True, help_text="When they would meet.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["plan_run", "ticket"], name="one_reason_per_ticket_left_out"
            )
        ]
