"""Two settings of the firm, compared over a simulated year; nothing else hangs on these rows."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from servicedesk import kinds
from servicedesk.models.routes import plan_states


class WhatIf(models.Model):
    """A comparison that somebody asked for."""

    name = models.CharField(max_length=120)
    weeks = models.PositiveSmallIntegerField(default=52)
    iterations = models.PositiveIntegerField(help_text="Of the search, for each simulated week.")
    seed = models.PositiveIntegerField(default=1)
    per_km = models.FloatField(help_text="What a kilometre costs.")
    per_hour = models.FloatField(help_text="What a paid hour costs.")
    state = models.CharField(max_length=20, choices=plan_states, default=kinds.PlanState.QUEUED)
    says = models.CharField(max_length=250, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True)
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(weeks__gte=1), name="what_if_has_a_week"),
        ]

    def __str__(self):
        return self.name


class WhatIfSide(models.Model):
    """One of the two settings, simulated by one child process under a lease."""

    what_if = models.ForeignKey(WhatIf, on_delete=models.CASCADE, related_name="sides")
    side = models.CharField(max_length=1)  # a or b
    changes = models.JSONField(default=dict, help_text="Empty: the firm as it is.")
    words = models.JSONField(default=list, help_text="The changes in words, as they were asked.")
    state = models.CharField(max_length=20, choices=plan_states, default=kinds.PlanState.QUEUED)
    read_percent = models.PositiveSmallIntegerField(default=0)
    done_weeks = models.PositiveSmallIntegerField(default=0)
    result = models.JSONField(null=True, blank=True, help_text="The months so far.")
    lease_by = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    says = models.CharField(max_length=250, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["what_if", "side"], name="one_row_per_side"),
            models.CheckConstraint(condition=Q(side__in=["a", "b"]), name="side_is_a_or_b"),
        ]
