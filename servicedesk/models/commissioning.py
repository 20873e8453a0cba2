"""Handing over a system: what has no home in the system's own records, and who answers for it."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Contact, Site
from equipment.models import ReadingSet, System
from servicedesk import kinds


def points():
    return choices(kinds.Point)


class CommissioningQuerySet(models.QuerySet):
    def open(self):
        return self.filter(in_service_at=None)


class Commissioning(models.Model):
    """One handing over: of a new system, or of one that was moved to another pond.

    Depths, serial numbers, gauges and readings stand in their own records, never here.
    """

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="commissionings")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    because = models.CharField(max_length=200, blank=True)
    moved_from = models.ForeignKey(
        Site,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Where it stood before, if it was moved to another site.",
    )
    electrician = models.CharField(max_length=120, blank=True)
    licence = models.CharField(max_length=80, blank=True, help_text="Licence or permit number.")
    not_required_by = models.CharField(
        max_length=160, blank=True, help_text="The authority that asks for no electrician here."
    )
    gfci_tested_on = models.DateField(null=True, blank=True)
    cabinet_above_water_m = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-1), MaxValueValidator(30)],
        help_text="Over the highest water known.",
    )
    locate_ticket = models.CharField(max_length=60, blank=True)
    located_on = models.DateField(null=True, blank=True)
    burial_m = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(3)]
    )
    lines_note = models.TextField(blank=True, help_text="Where the lines run, splices, low points.")
    first_set = models.ForeignKey(
        ReadingSet, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    may_operate = models.ManyToManyField(Contact, blank=True, related_name="+")
    in_service_at = models.DateTimeField(null=True, blank=True)
    in_service_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )

    objects = CommissioningQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["system"],
                condition=Q(in_service_at=None),
                name="one_open_commissioning_per_system",
            ),
            models.CheckConstraint(
                condition=Q(in_service_at=None, in_service_by=None)
                | Q(in_service_at__isnull=False, in_service_by__isnull=False),
                name="in_service_has_a_name_and_an_instant",
            ),
        ]


class Acknowledged(models.Model):
    """A point for which a person answers by name; later ticks change nothing."""

    commissioning = models.ForeignKey(
        Commissioning, on_delete=models.CASCADE, related_name="acknowledged"
    )
    point = models.CharField(max_length=30, choices=points)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True, help_text="Such as to whom, and how.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["commissioning", "point"], name="point_is_answered_for_once"
            )
        ]


class DoubtConfirmed(models.Model):
    """An odd value that a person looked at again and left as it is."""

    commissioning = models.ForeignKey(
        Commissioning, on_delete=models.CASCADE, related_name="doubts_confirmed"
    )
    step = models.CharField(max_length=20)
    says = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
