"""A number with its unit: typed as people measure, kept in the one unit that is stored."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from equipment.physics import units

BORE = "bore"
BORES = {"in": 0.0254, "mm": 0.001}  # inner diameters are small: neither feet nor metres


class UnitInput(forms.MultiWidget):
    """A number and beside it the choice of its unit; the label belongs to the number."""

    template_name = "forms/measure.html"

    def __init__(self, choices):
        number = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__([number, forms.Select(choices=choices)])

    def id_for_label(self, id_):
        return f"{id_}_0" if id_ else id_

    def decompress(self, value):
        return value or ["", ""]

    def name_unit(self, label):
        self.widgets[1].attrs["aria-label"] = format_lazy("{}: {}", label, _("unit"))


class MeasureInput(UnitInput):
    def __init__(self, what):
        self.what, self.system = what, "us"
        super().__init__([(unit, units.unit_name(unit)) for unit in names(what)])

    def decompress(self, value):
        unit = readers_unit(self.what, self.system)
        if value is None or value == "":
            return ["", unit]
        shown = _from_stored(self.what, value, unit)
        return [plain(round(shown, 2) if unit == "ft" else shown), unit]  # nobody measures 12.001


class MeasureField(forms.MultiValueField):
    """`low` and `high` are hard limits in the stored unit; outside them it is refused."""

    def __init__(self, what, *, low=None, high=None, **options):
        self.what, self.low, self.high, self.known = what, low, high, None
        parts = [
            forms.CharField(required=False, max_length=20),
            forms.ChoiceField(choices=[(unit, unit) for unit in names(what)]),
        ]
        options.setdefault("required", False)
        super().__init__(parts, require_all_fields=False, widget=MeasureInput(what), **options)
        self.widget.name_unit(self.label)

    def read_in(self, system, known):
        """In whose units it is asked, and what was stored before."""
        self.widget.system, self.known = system, known

    def compress(self, typed):
        if not typed or not typed[0]:
            return None
        text, unit = typed
        if self.known is not None and typed == self.widget.decompress(self.known):
            return self.known  # as it was: rounding on the page changes nothing
        try:
            value = _to_stored(self.what, units.typed_number(text), unit)
        except ValueError as error:
            raise ValidationError(str(error)) from None
        self._refuse_outside(value, unit)
        return value

    def _refuse_outside(self, value, unit):
        slack = 1e-9 * max(abs(value), 1)
        low = self.low is not None and value < self.low - slack
        high = self.high is not None and value > self.high + slack
        if low or high:
            low, high = (_from_stored(self.what, edge, unit) for edge in (self.low, self.high))
            raise ValidationError(
                _("It must lie between %(low)s and %(high)s %(unit)s. Look again, and at the unit.")
                % {"low": plain(low), "high": plain(high), "unit": units.unit_name(unit)}
            )


class NumberField(forms.CharField):
    """A bare number, with a point or a comma before the decimals."""

    def __init__(self, *, low, high, **options):
        self.low, self.high = low, high
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(max_length=20, required=False, widget=widget, **options)

    def prepare_value(self, value):
        return plain(value) if isinstance(value, float) else value

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        try:
            number = units.typed_number(text)
        except ValueError as error:
            raise ValidationError(str(error)) from None
        if not self.low <= number <= self.high:
            raise ValidationError(
                _("It must lie between %(low)s and %(high)s. Look again.")
                % {"low": plain(self.low), "high": plain(self.high)}
            )
        return number


def names(what):
    return list(BORES) if what == BORE else units.offered(what)


def readers_unit(what, system):
    if what == BORE:
        return {"us": "in"}.get(system, "mm")
    return units.readers_unit(what, system)


def plain(number):
    """Up to three decimals, without noughts at the end."""
    text = f"{number:.3f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _to_stored(what, value, unit):
    return value * BORES[unit] if what == BORE else units.to_stored(what, value, unit)


def _from_stored(what, value, unit):
    return value / BORES[unit] if what == BORE else units.from_stored(what, value, unit)
