"""A way as people type it: in the reader's unit, kept in kilometres."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from equipment.physics import units

LEAST_KM = 0.1


class WayField(forms.CharField):
    """`unit` is set by the form, which knows its reader; the label says it."""

    unit = "km"

    def __init__(self, *, most_km, **kwargs):
        super().__init__(max_length=10, **kwargs)
        self.most_km = most_km
        self.widget.attrs["inputmode"] = "decimal"

    def clean(self, value):
        """Kilometres, or nothing where nothing was typed."""
        text = super().clean(value)
        if not text.strip():
            return None
        try:
            km = units.to_stored("distance", units.typed_number(text), self.unit) / 1000
        except ValueError as error:
            raise ValidationError(str(error)) from None
        if not LEAST_KM <= km <= self.most_km:
            low, high = (
                units.from_stored("distance", 1000 * one, self.unit)
                for one in (LEAST_KM, self.most_km)
            )
            raise ValidationError(
                _("Write a figure from %(low)s to %(high)s.")
                % {"low": f"{low:.2g}", "high": f"{high:.0f}"}
            )
        return km
