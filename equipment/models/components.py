"""Things with a serial number, the models they are of, and where they have been fitted."""

from django.db import models
from django.db.models import F, Q

from customers.kinds import choices
from equipment import kinds
from equipment.models.systems import Position, position_kinds


def compressor_kinds():
    return choices(kinds.CompressorKind)


def component_states():
    return choices(kinds.ComponentState)


def replacement_warranties():
    return choices(kinds.ReplacementWarranty)


def part_roles():
    return choices(kinds.PartRole)


class Part(models.Model):
    """Something taken from stock and used up: a filter element, a membrane."""

    number = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    van_units = models.PositiveSmallIntegerField(
        default=1, help_text="Room that one takes in a van; a filter element takes 1."
    )

    def __str__(self):
        return f"{self.number} {self.name}"


class ComponentType(models.Model):
    """A model of compressor, plate, meter or gauge, with what its nameplate says."""

    kind = models.CharField(max_length=20, choices=position_kinds)
    maker = models.CharField(max_length=80)
    model = models.CharField(max_length=80)
    compressor_kind = models.CharField(max_length=20, choices=compressor_kinds, blank=True)
    power_w = models.FloatField(null=True, blank=True)
    free_air_l_min = models.FloatField(null=True, blank=True)
    pressure_max_pa = models.FloatField(null=True, blank=True)
    current_a = models.FloatField(null=True, blank=True)
    nameplate = models.JSONField(default=dict, blank=True)
    warranty_months = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="The maker's warranty on a new unit."
    )
    replacement_warranty = models.CharField(
        max_length=10,
        choices=replacement_warranties,
        default=kinds.ReplacementWarranty.UNKNOWN,
        help_text="What the maker grants on a unit given in place of one under warranty.",
    )
    parts = models.ManyToManyField(Part, through="PartFor", blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "maker", "model"], name="one_type_per_maker_and_model"
            ),
            models.CheckConstraint(
                condition=~Q(kind=kinds.PositionKind.COMPRESSOR) | ~Q(compressor_kind=""),
                name="compressor_type_says_its_kind",
            ),
        ]

    def __str__(self):
        return f"{self.maker} {self.model}"


class PartFor(models.Model):
    """Which part plays a role in a model, and how many of it."""

    component_type = models.ForeignKey(ComponentType, on_delete=models.CASCADE)
    role = models.CharField(max_length=20, choices=part_roles)
    part = models.ForeignKey(Part, on_delete=models.PROTECT)
    quantity = models.PositiveSmallIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["component_type", "role"], name="one_part_per_role_and_type"
            )
        ]


class Component(models.Model):
    """A serial unit; wear hours, recalls and warranty belong to it and travel with it."""

    type = models.ForeignKey(ComponentType, on_delete=models.PROTECT, related_name="components")
    serial = models.CharField(
        max_length=60, blank=True, db_index=True, help_text="Empty: cannot be read."
    )
    date_code = models.CharField(max_length=40, blank=True)
    state = models.CharField(
        max_length=20, choices=component_states, default=kinds.ComponentState.IN_SERVICE
    )
    bought_on = models.DateField(null=True, blank=True)
    warranty_from = models.DateField(null=True, blank=True)
    warranty_months = models.PositiveSmallIntegerField(null=True, blank=True)
    hours_before = models.FloatField(
        default=0, help_text="Hours since new when it came into this register."
    )

    def __str__(self):
        return f"{self.type} {self.serial or 'serial not readable'}"


class FittingQuerySet(models.QuerySet):
    def on_day(self, day):
        return self.filter(from_on__lte=day).filter(Q(to_on=None) | Q(to_on__gt=day))


class Fitting(models.Model):
    """A component sits at a position from a day to a day."""

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="fittings")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="fittings")
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True, help_text="The first day without it.")
    meter_start_h = models.FloatField(
        null=True, blank=True, help_text="What an hour meter showed when it was fitted."
    )
    meter_end_h = models.FloatField(null=True, blank=True)
    entered_at = models.DateTimeField()

    objects = FittingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["position"], condition=Q(to_on=None), name="one_component_per_position"
            ),
            models.UniqueConstraint(
                fields=["component"], condition=Q(to_on=None), name="one_position_per_component"
            ),
            models.CheckConstraint(
                condition=Q(to_on=None) | Q(to_on__gte=F("from_on")),
                name="fitting_ends_after_it_begins",
            ),
        ]
