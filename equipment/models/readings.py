"""What was measured at one moment, on a system or on a pond."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Pond
from equipment import kinds
from equipment.models.components import Component
from equipment.models.systems import Configuration, Position, System


def quantities():
    return choices(kinds.Quantity)


def signs():
    return choices(kinds.Sign)


def moments():
    return choices(kinds.Moment)


class Gauge(models.Model):
    """The instrument behind a series of readings; a new gauge starts a new series."""

    system = models.ForeignKey(
        System, on_delete=models.PROTECT, null=True, blank=True, related_name="gauges"
    )
    component = models.ForeignKey(Component, on_delete=models.PROTECT, null=True, blank=True)
    quantity = models.CharField(max_length=20, choices=quantities)
    label = models.CharField(max_length=80)
    full_scale = models.FloatField(null=True, blank=True, help_text="In the unit of the quantity.")
    error_percent = models.FloatField(null=True, blank=True, help_text="Of full scale.")
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True)

    def __str__(self):
        return self.label


class ReadingSet(models.Model):
    """Readings taken at one moment, as found or as left, on a system or on a pond."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    system = models.ForeignKey(
        System, on_delete=models.PROTECT, null=True, blank=True, related_name="reading_sets"
    )
    pond = models.ForeignKey(
        Pond, on_delete=models.PROTECT, null=True, blank=True, related_name="reading_sets"
    )
    moment = models.CharField(max_length=10, choices=moments, default=kinds.Moment.AS_FOUND)
    taken_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    configuration = models.ForeignKey(
        Configuration, on_delete=models.PROTECT, null=True, blank=True
    )
    note = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["system", "taken_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(system=None, pond__isnull=False) | Q(pond=None, system__isnull=False),
                name="readings_of_a_system_or_a_pond",
            )
        ]


class ReadingQuerySet(models.QuerySet):
    def standing(self):
        """Those that no later row corrects."""
        return self.filter(corrected_by=None)


class Reading(models.Model):
    """One quantity: the value in SI, and beside it what was typed, as evidence."""

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="readings")
    quantity = models.CharField(max_length=20, choices=quantities)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True)
    value = models.FloatField(null=True, blank=True, help_text="In the unit of the quantity.")
    typed_value = models.CharField(max_length=40, blank=True)
    typed_unit = models.CharField(max_length=20, blank=True)
    skipped_because = models.CharField(max_length=160, blank=True)
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, null=True, blank=True)
    doubtful = models.BooleanField(default=False)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    objects = ReadingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(value__isnull=False) | ~Q(skipped_because=""),
                name="reading_has_a_value_or_a_reason",
            ),
            models.UniqueConstraint(
                fields=["set", "quantity", "position"],
                condition=Q(corrects=None, position__isnull=False),
                name="one_reading_per_quantity_and_position",
            ),
            models.UniqueConstraint(
                fields=["set", "quantity"],
                condition=Q(corrects=None, position=None),
                name="one_reading_per_quantity",
            ),
        ]


class SignSeen(models.Model):
    """What the person who read the gauges saw, heard or smelt, or looked for and did not find."""

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="signs")
    sign = models.CharField(max_length=40, choices=signs)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True)
    present = models.BooleanField(default=True, help_text="Off: looked for, and not there.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["set", "sign", "position"],
                condition=Q(position__isnull=False),
                name="sign_is_seen_once_at_a_position",
            ),
            models.UniqueConstraint(
                fields=["set", "sign"],
                condition=Q(position=None),
                name="sign_is_seen_once_in_a_set",
            ),
        ]


class ProfilePoint(models.Model):
    """Temperature and oxygen at one depth of a pond."""

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="profile")
    depth_m = models.FloatField()
    temperature_c = models.FloatField(null=True, blank=True)
    oxygen_mg_l = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["set", "depth_m"], name="one_point_per_depth")
        ]


class Baseline(models.Model):
    """The reading to expect in a configuration, confirmed by a person."""

    configuration = models.ForeignKey(
        Configuration, on_delete=models.PROTECT, related_name="baselines"
    )
    quantity = models.CharField(max_length=20, choices=quantities)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True)
    value = models.FloatField()
    level_m = models.FloatField(
        null=True, blank=True, help_text="Water against its mark when it was taken."
    )
    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, null=True, blank=True)
    from_set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )


class CauseConfirmed(models.Model):
    """The cause that was found in the end; the firm's own counts shift what is expected next."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, help_text="Made at the tap.")
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="causes_confirmed")
    found_at = models.DateTimeField()
    cause = models.CharField(max_length=40, help_text="A word of the cause matrix.")
    rank_then = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Where it stood in the list shown at that time."
    )
    note = models.CharField(max_length=250, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    entered_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["system", "found_at"])]


class Assessment(models.Model):
    """What the readings said of a system at a moment, and why."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="assessments")
    at = models.DateTimeField()
    because = models.TextField()
    basis = models.JSONField(default=dict)
