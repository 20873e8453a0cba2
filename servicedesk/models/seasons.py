"""What was seen of ponds from the bank, and the weather of their regions."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Contact, Pond, Region, Site
from servicedesk import kinds


def observation_kinds():
    return choices(kinds.ObservationKind)


class ObservationQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(withdrawn_at=None)

    def counting(self):
        """What plans rest on: an ice-out that a manager has yet to look at moves nothing."""
        return self.standing().exclude(kind=kinds.ObservationKind.ICE_OUT, waits=True)


class Observation(models.Model):
    """Ice, layers or mixing at a pond on a day: seen there, or taken from a pond nearby."""

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, help_text="It may arrive twice.")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    pond = models.ForeignKey(Pond, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20, choices=observation_kinds)
    seen_on = models.DateField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    by_contact = models.ForeignKey(
        Contact, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField()
    taken_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken"
    )
    waits = models.BooleanField(default=False, help_text="A manager has yet to look at it.")
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = ObservationQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["site", "seen_on"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(by__isnull=False) | Q(by_contact__isnull=False),
                name="observation_has_somebody_who_saw_or_took_it",
            ),
            models.UniqueConstraint(
                fields=["pond", "taken_from"],
                condition=Q(withdrawn_at=None),
                name="observation_is_taken_once_for_a_pond",
            ),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} {self.seen_on}"


class DayWeather(models.Model):
    """The air of one day in a region; what was measured goes before what was forecast."""

    region = models.ForeignKey(Region, on_delete=models.CASCADE, related_name="+")
    on = models.DateField()
    mean_c = models.FloatField()
    low_c = models.FloatField(null=True, blank=True)
    high_c = models.FloatField(null=True, blank=True)
    forecast = models.BooleanField(default=False)
    source = models.CharField(max_length=120, blank=True)
    entered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["region", "on"], name="one_weather_per_region_and_day"),
            models.CheckConstraint(
                condition=Q(mean_c__gte=-70, mean_c__lte=50), name="weather_is_of_this_earth"
            ),
        ]
