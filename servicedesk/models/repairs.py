"""What went wrong with planned days, the way out that was proposed, and whether it was taken."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from servicedesk import kinds
from servicedesk.models.routes import Absence, Hold


def repair_kinds():
    return choices(kinds.RepairKind)


class Repair(models.Model):
    """A proposal to change days that stand. Nothing has changed until it is accepted."""

    kind = models.CharField(max_length=20, choices=repair_kinds)
    monday_on = models.DateField()
    day = models.DateField(help_text="The first day that it is about.")
    facts = models.JSONField(help_text="What was said to have happened.")
    says = models.CharField(max_length=250)
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    stands = models.CharField(max_length=64, help_text="Tells whether the days are still the same.")
    proposal = models.JSONField(help_text="The days as they would be, and what changes.")
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    before = models.JSONField(default=dict, blank=True, help_text="The days as they were.")
    absence = models.ForeignKey(Absence, on_delete=models.SET_NULL, null=True, blank=True)
    hold = models.ForeignKey(Hold, on_delete=models.SET_NULL, null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        indexes = [models.Index(fields=["monday_on", "proposed_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(undone_at=None) | Q(accepted_at__isnull=False),
                name="only_an_accepted_repair_is_undone",
            )
        ]

    def __str__(self):
        return self.says
