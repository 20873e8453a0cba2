"""Everything that one cabinet feeds: systems, their positions, states and configurations."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import OuterRef, Q, Subquery

from customers.kinds import choices
from customers.models import Pond, Site
from equipment import kinds


def system_states():
    return choices(kinds.SystemState)


def certainties():
    return choices(kinds.Certainty)


def position_kinds():
    return choices(kinds.PositionKind)


def position_uses():
    return choices(kinds.PositionUse)


def check_valve_places():
    return choices(kinds.CheckValvePlace)


def winter_modes():
    return choices(kinds.WinterMode)


class SystemQuerySet(models.QuerySet):
    def visible_to(self, user):
        return self if user.is_active else self.none()

    def with_state(self, at):
        """Adds `state_now` and `state_since`: what the history says of this instant."""
        newest = (
            StateChange.objects.standing()
            .filter(system=OuterRef("pk"), at__lte=at)
            .order_by("-at", "-state")  # not by entry: order of entry decides nothing
        )
        return self.annotate(
            state_now=Subquery(newest.values("state")[:1]),
            state_since=Subquery(newest.values("at")[:1]),
        )


class System(models.Model):
    """One cabinet on shore and all that it feeds; it may feed two ponds."""

    key = models.CharField(max_length=40, unique=True, help_text="The firm's own number.")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="systems")
    name = models.CharField(max_length=80, help_text="As on the cabinet's label.")
    installed_on = models.DateField()
    commissioned_on = models.DateField(null=True, blank=True)
    records_from_on = models.DateField(
        null=True,
        blank=True,
        help_text="Since then all work is on record; empty: since the beginning.",
    )
    registered_on = models.DateField(
        null=True, blank=True, help_text="The day on which a register of the firm's brought it in."
    )
    warranty_from = models.DateField(null=True, blank=True)
    warranty_months = models.PositiveSmallIntegerField(null=True, blank=True)
    winter_mode = models.CharField(
        max_length=20, choices=winter_modes, default=kinds.WinterMode.UNDECIDED
    )
    supply_note = models.CharField(max_length=200, blank=True)
    cabinet_note = models.CharField(max_length=200, blank=True)

    objects = SystemQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(commissioned_on=None)
                | Q(commissioned_on__gte=models.F("installed_on")),
                name="system_is_commissioned_after_it_is_installed",
            )
        ]

    def __str__(self):
        return self.name


class Schedule(models.Model):
    """Hours a day that the timer lets a system run, from a day on."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="schedules")
    from_on = models.DateField()
    hours_per_day = models.FloatField(default=24)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["system", "from_on"], name="one_schedule_per_day"),
            models.CheckConstraint(
                condition=Q(hours_per_day__gte=0, hours_per_day__lte=24),
                name="schedule_fits_in_a_day",
            ),
        ]


class PositionQuerySet(models.QuerySet):
    def lying(self):
        """Those that lie in a pond now; a plate that was taken out lies there no more."""
        return self.filter(pond__isnull=False).exclude(use=kinds.PositionUse.REMOVED)


class Position(models.Model):
    """A place in a system where a component sits: `compressor 1`, `filter 1`, `D3`."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="positions")
    pond = models.ForeignKey(
        Pond, on_delete=models.PROTECT, null=True, blank=True, related_name="positions"
    )
    kind = models.CharField(max_length=20, choices=position_kinds)
    label = models.CharField(max_length=40)
    serves = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="served_by",
        help_text="The compressor position that a filter or meter belongs to.",
    )
    use = models.CharField(max_length=20, choices=position_uses, default=kinds.PositionUse.IN_USE)
    lat = models.FloatField(null=True, blank=True)
    lon = models.FloatField(null=True, blank=True)
    bearing_note = models.CharField(max_length=160, blank=True)
    from_on = models.DateField(
        null=True, blank=True, help_text="The day it was new; empty: since the installation."
    )

    objects = PositionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["system", "label"], name="one_position_per_label_and_system"
            ),
            models.CheckConstraint(
                condition=~Q(kind=kinds.PositionKind.FILTER) | Q(serves__isnull=False),
                name="filter_position_names_its_compressor",
            ),
        ]

    def __str__(self):
        return self.label

    @property
    def lies(self):
        """Whether it is one of those `lying` in a pond now."""
        return self.pond_id is not None and self.use != kinds.PositionUse.REMOVED


class StateChangeQuerySet(models.QuerySet):
    def standing(self):
        """Those that no later row corrects, and that do not merely strike out another."""
        return self.filter(corrected_by=None, withdrawn=False)


class StateChange(models.Model):
    """From this instant the system is in this state; a correction is a new row."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="state_changes")
    at = models.DateTimeField()
    state = models.CharField(max_length=30, choices=system_states)
    certainty = models.CharField(
        max_length=10, choices=certainties, default=kinds.Certainty.OBSERVED
    )
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Who answers for starting a system that was found off.",
    )
    reason = models.CharField(max_length=250, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    withdrawn = models.BooleanField(
        default=False, help_text="This correction only strikes out the row that it names."
    )
    entered_at = models.DateTimeField()

    objects = StateChangeQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["system", "at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(withdrawn=False) | Q(corrects__isnull=False),
                name="only_a_correction_can_strike_out",
            )
        ]


class Configuration(models.Model):
    """Which plates lie at which depth with which valves open, from a day on."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="configurations")
    from_on = models.DateField()
    name = models.CharField(max_length=60, help_text="Such as summer or winter shallow.")
    because = models.CharField(
        max_length=200, blank=True, help_text="What was changed: plates moved, pond rebuilt."
    )
    settles_from_on = models.DateField(
        null=True,
        blank=True,
        help_text="From this day it settles at full run; readings 7 to 30 days later may become "
        "its baseline. Empty: nothing new has to settle.",
    )
    entered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["system", "from_on"], name="one_configuration_per_day")
        ]

    def __str__(self):
        return self.name


class ConfigurationLine(models.Model):
    configuration = models.ForeignKey(Configuration, on_delete=models.CASCADE, related_name="lines")
    position = models.ForeignKey(Position, on_delete=models.PROTECT)
    depth_m = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.2), MaxValueValidator(60)]
    )
    valve_open_percent = models.FloatField(
        default=100, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    in_use = models.BooleanField(default=True)
    line_length_m = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.3), MaxValueValidator(2000)]
    )
    bore_m = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.003), MaxValueValidator(0.08)],
        help_text="Inner diameter of its airline.",
    )
    membranes = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(24)]
    )
    check_valve_at = models.CharField(max_length=20, choices=check_valve_places, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["configuration", "position"], name="one_line_per_position"
            )
        ]
