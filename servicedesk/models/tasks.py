"""What is to be done, on which clock, and the firm's own figures over the defaults."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Site
from equipment.models import ComponentType, System
from equipment.models.systems import position_kinds
from servicedesk import kinds


def place_kinds():
    return choices(kinds.PlaceKind)


def clocks():
    return choices(kinds.Clock)


def anchors():
    return choices(kinds.Anchor)


def joins():
    return choices(kinds.Join)


def harms():
    return choices(kinds.Harm)


def skills():
    return choices(kinds.Skill)


def marks():
    return choices(kinds.Mark)


def whos():
    return choices(kinds.Who)


class Task(models.Model):
    """A job that comes back, or that something calls for, at one kind of place."""

    slug = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=120)
    owner_name = models.CharField(max_length=120, help_text="Plain words, for a mail.")
    place_kind = models.CharField(max_length=20, choices=place_kinds)
    position_kind = models.CharField(max_length=20, choices=position_kinds, blank=True)
    compressor_kinds = models.JSONField(
        default=list, blank=True, help_text="Empty: every kind of compressor."
    )
    harm = models.CharField(max_length=20, choices=harms)
    skill = models.CharField(max_length=20, choices=skills)
    crew = models.PositiveSmallIntegerField(default=1)
    needs_boat = models.BooleanField(default=False)
    by_owner = models.BooleanField(default=False, help_text="The owner may do it.")
    minutes = models.PositiveSmallIntegerField(help_text="On site, after arrival.")
    early_days = models.PositiveSmallIntegerField(default=0)
    late_days = models.PositiveSmallIntegerField(default=0)
    anchor = models.CharField(max_length=10, choices=anchors, default=kinds.Anchor.FLOAT)
    join = models.CharField(max_length=10, choices=joins, default=kinds.Join.FIRST)
    kit = models.JSONField(default=list, blank=True)
    part_roles = models.JSONField(default=list, blank=True)
    readings = models.JSONField(default=list, blank=True)
    cautions = models.JSONField(default=list, blank=True, help_text="Keys of standing cautions.")
    done_when = models.CharField(max_length=300, blank=True)
    season = models.CharField(max_length=30, blank=True, help_text="Name of its season window.")
    mark = models.CharField(max_length=20, choices=marks)
    mark_note = models.CharField(max_length=300, blank=True)
    active = models.BooleanField(default=True)

    def __str__(self):
        return self.name


class Rhythm(models.Model):
    """One clock of a task: every so many hours, days or months, or at an event."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="rhythms")
    number = models.PositiveSmallIntegerField(default=1)
    clock = models.CharField(max_length=10, choices=clocks)
    every = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=10, blank=True)  # h, d, month, or empty
    who = models.CharField(max_length=20, choices=whos, default=kinds.Who.TECHNICIAN)
    condition = models.JSONField(default=dict, blank=True)
    mark = models.CharField(max_length=20, choices=marks)
    mark_note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["task", "number"], name="one_rhythm_per_number"),
            models.CheckConstraint(
                condition=Q(every=None) | Q(every__gt=0), name="rhythm_is_longer_than_nothing"
            ),
        ]


class Override(models.Model):
    """The firm's own figure for a task, from a day on: everywhere, for a model, site or system."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="overrides")
    rhythm = models.ForeignKey(Rhythm, on_delete=models.CASCADE, null=True, blank=True)
    component_type = models.ForeignKey(
        ComponentType, on_delete=models.CASCADE, null=True, blank=True
    )
    site = models.ForeignKey(Site, on_delete=models.CASCADE, null=True, blank=True)
    system = models.ForeignKey(System, on_delete=models.CASCADE, null=True, blank=True)
    field = models.CharField(max_length=20)  # every, early_days, late_days, minutes, active
    value = models.FloatField()
    from_on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    reason = models.CharField(max_length=250)
    entered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(
                    Q(component_type=None, site=None)
                    | Q(component_type=None, system=None)
                    | Q(site=None, system=None)
                ),
                name="override_has_one_scope",
            )
        ]


class Caution(models.Model):
    """A standing caution, shown where the person acts. The firm may add, never take away words."""

    slug = models.SlugField(max_length=40, unique=True)
    text = models.TextField()
    mark = models.CharField(max_length=20, choices=marks, default=kinds.Mark.SOURCED)
    source = models.CharField(max_length=300, blank=True)

    def __str__(self):
        return self.text
