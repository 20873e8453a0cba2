"""A recall of a model or a range of serial numbers, and what became of each unit."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Site
from equipment.models import Component, ComponentType, Position, System
from servicedesk import kinds
from servicedesk.models.tickets import Ticket


def recall_stands():
    return choices(kinds.RecallStood)


def recall_outcomes():
    return choices(kinds.RecallOutcome)


class RecallCampaign(models.Model):
    """One recall, from the day the firm opens it until every unit is dealt with."""

    name = models.CharField(max_length=120)
    notice = models.CharField(max_length=250, help_text="Who recalls: letter, number, date.")
    what_to_do = models.TextField(help_text="What is done to a unit, in words for owners too.")
    stop_at_once = models.BooleanField(default=False)
    free_of_charge = models.BooleanField(default=True)
    types = models.ManyToManyField(ComponentType, related_name="+")
    serial_from = models.CharField(max_length=60, blank=True)
    serial_to = models.CharField(max_length=60, blank=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="closed_recall_says_by_whom",
            )
        ]

    def __str__(self):
        return self.name

    @property
    def occasion(self):
        return f"recall:{self.pk}"


class RecallUnit(models.Model):
    """A unit on the list of a recall: where it stood when listed, and what became of it."""

    campaign = models.ForeignKey(RecallCampaign, on_delete=models.PROTECT, related_name="units")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="+")
    stood = models.CharField(max_length=20, choices=recall_stands)
    must_look = models.BooleanField(default=False, help_text="Its serial number is not readable.")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, blank=True)
    system = models.ForeignKey(System, on_delete=models.PROTECT, null=True, blank=True)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True)
    ticket = models.ForeignKey(
        Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    listed_at = models.DateTimeField()
    outcome = models.CharField(max_length=20, choices=recall_outcomes, blank=True)
    note = models.CharField(max_length=250, blank=True)
    handled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    handled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["campaign", "component"], name="unit_stands_once_on_a_recall"
            ),
            models.CheckConstraint(
                condition=Q(handled_at=None, outcome="")
                | (Q(handled_at__isnull=False) & ~Q(outcome="")),
                name="handled_unit_says_its_outcome",
            ),
        ]
