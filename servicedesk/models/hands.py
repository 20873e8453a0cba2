"""Changes of a week by hand, each with the days before and after it, so that it can be undone."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from servicedesk import kinds
from servicedesk.models.due import Decision
from servicedesk.models.tickets import Ticket


def hand_kinds():
    return choices(kinds.HandKind)


class HandChange(models.Model):
    """One change by hand. Taking it back is a change too, and says which one it takes back."""

    kind = models.CharField(max_length=20, choices=hand_kinds)
    monday_on = models.DateField()
    says = models.CharField(max_length=250)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    before = models.JSONField(help_text="The days that changed, as they were.")
    after = models.JSONField(help_text="The same days, as they were then.")
    decisions = models.ManyToManyField(Decision, blank=True, related_name="hand_changes")
    opened = models.ManyToManyField(
        Ticket, blank=True, related_name="+", help_text="Tickets that it opened."
    )
    undoes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone"
    )

    class Meta:
        indexes = [models.Index(fields=["monday_on", "at"])]
        constraints = [
            models.CheckConstraint(condition=~Q(says=""), name="hand_change_says_what_it_did")
        ]

    def __str__(self):
        return self.says
