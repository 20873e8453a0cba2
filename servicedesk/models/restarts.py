"""Starting a system again after a stop: what was read, who approved what, and the ramp."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Contact
from equipment.models import ReadingSet, System
from servicedesk.planning.restart import ramps
from servicedesk.planning.restart.states import OPEN, RestartState


def restart_states():
    return choices(RestartState)


def step_ends():
    return choices(ramps.StepEnd)


class RestartQuerySet(models.QuerySet):
    def open(self):
        return self.filter(state__in=OPEN)

    def under_way(self):
        return self.filter(state=RestartState.UNDER_WAY)

    def visible_to(self, user):
        return self if user.is_active else self.none()


class Restart(models.Model):
    """One way back into running, from the readings before it to its end."""

    State = RestartState

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="restarts")
    state = models.CharField(max_length=12, choices=restart_states, default=RestartState.PROPOSED)
    inputs = models.JSONField(default=dict, help_text="What was read and told, as plain data.")
    proposed = models.JSONField(default=dict, help_text="What the table said then, with reasons.")
    readings = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, null=True, blank=True)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    made_at = models.DateTimeField()
    path = models.CharField(max_length=4, blank=True, help_text="The row of the table followed.")
    minutes = models.JSONField(default=list, help_text="Of running on each day, in order.")
    override_reason = models.CharField(max_length=250, blank=True)
    adviser = models.CharField(max_length=200, blank=True, help_text="Fish adviser, and his word.")
    ice_word = models.CharField(
        max_length=200, blank=True, help_text="Who saw the signs stand, from the bank."
    )
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    first_on = models.DateField(null=True, blank=True, help_text="The day of the first step.")
    starts = models.TimeField(default="08:00", help_text="Local time of each day's start.")
    watcher = models.CharField(max_length=120, blank=True)
    weekend_watcher = models.CharField(max_length=120, blank=True)
    told_at = models.DateTimeField(null=True, blank=True)
    told_how = models.CharField(max_length=200, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=250, blank=True)

    objects = RestartQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["system"], condition=Q(state__in=OPEN), name="one_open_restart_per_system"
            ),
            models.CheckConstraint(
                condition=Q(state__in=[RestartState.PROPOSED, RestartState.CLOSED])
                | Q(approved_by__isnull=False),
                name="restart_is_approved_by_a_name",
            ),
            models.CheckConstraint(
                condition=~Q(state=RestartState.UNDER_WAY)
                | Q(started_at__isnull=False, first_on__isnull=False, told_at__isnull=False),
                name="owner_is_told_before_a_ramp_starts",
            ),
        ]

    def __str__(self):
        return f"restart of {self.system} ({self.pk})"


class RampStep(models.Model):
    """A day of a ramp: who watches, and what became of it. Which step it is, the dates say."""

    restart = models.ForeignKey(Restart, on_delete=models.CASCADE, related_name="steps")
    on = models.DateField()
    watcher = models.CharField(max_length=120, blank=True)
    end = models.CharField(max_length=10, choices=step_ends, blank=True)
    planned_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True, help_text="It ran so long.")
    before_mg_l = models.FloatField(null=True, blank=True)
    after_mg_l = models.FloatField(null=True, blank=True)
    seen = models.JSONField(default=list, blank=True)
    note = models.CharField(max_length=250, blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["restart", "on"], name="one_step_a_day_and_restart"),
            models.CheckConstraint(
                condition=Q(end="") | Q(recorded_at__isnull=False),
                name="recorded_step_says_when",
            ),
        ]


class RampHold(models.Model):
    """A ramp that was stopped, until somebody resumes it."""

    restart = models.ForeignKey(Restart, on_delete=models.CASCADE, related_name="holds")
    from_at = models.DateTimeField()
    because = models.TextField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True)
    resumed_at = models.DateTimeField(null=True, blank=True)
    resumed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["restart"], condition=Q(resumed_at=None), name="one_open_hold_a_restart"
            ),
        ]
