"""Road factor and speed of each region, by hand; what is left empty is learned."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from customers.kinds import Units
from equipment.physics import units

KM_IN_MILE = 1.609344  # international mile, exact
FACTOR, SPEED = (1.0, 3.0), (5.0, 130.0)  # the planner takes no others


def speed_unit(reader_units):
    return "mi/h" if reader_units == Units.US else "km/h"


def shown_speed(speed_km_h, reader_units):
    """A speed in the unit of whoever reads, without the unit."""
    per = KM_IN_MILE if reader_units == Units.US else 1.0
    return "" if speed_km_h is None else f"{speed_km_h / per:.1f}".removesuffix(".0")


def shown_factor(factor):
    return "" if factor is None else f"{factor:.2f}"


class RoadFiguresForm(forms.Form):
    """Two figures of each region; decimal comma or point."""

    def __init__(self, *args, regions, reader_units, **kwargs):
        super().__init__(*args, **kwargs)
        self.regions = regions
        self.per = KM_IN_MILE if reader_units == Units.US else 1.0
        unit = speed_unit(reader_units)
        for region in regions:
            speed = shown_speed(region.speed_km_h, reader_units)
            self._add(f"factor-{region.pk}", region, _("road factor"), region.road_factor)
            self._add(f"speed-{region.pk}", region, _("speed, %s") % unit, speed)

    def _add(self, name, region, what, start):
        label = f"{region}: {what}"
        self.fields[name] = forms.CharField(
            label=label,
            required=False,
            max_length=10,
            initial=start,
            widget=forms.TextInput(
                attrs={"inputmode": "decimal", "autocomplete": "off", "aria-label": label}
            ),
        )

    def clean(self):
        found = super().clean()
        for name in list(found):
            low, high = FACTOR if name.startswith("factor") else SPEED
            per = 1.0 if name.startswith("factor") else self.per
            try:
                found[name] = self._number(found[name], low, high, per)
            except ValidationError as error:
                self.add_error(name, error)
        return found

    def _number(self, text, low, high, per):
        if not text.strip():
            return None
        try:
            value = units.typed_number(text) * per
        except ValueError as error:
            raise ValidationError(str(error)) from None
        if not low <= value <= high:
            raise ValidationError(
                _("Write a figure from %(low)s to %(high)s, or leave it empty.")
                % {"low": f"{low / per:.3g}", "high": f"{high / per:.3g}"}
            )
        return value

    def figures(self):
        data = self.cleaned_data
        return {
            region.pk: (data[f"factor-{region.pk}"], data[f"speed-{region.pk}"])
            for region in self.regions
        }

    def rows(self):
        return [
            (region, self[f"factor-{region.pk}"], self[f"speed-{region.pk}"])
            for region in self.regions
        ]
