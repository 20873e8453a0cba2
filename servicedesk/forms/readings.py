"""What is entered beside the readings of a system: its gauges."""

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from equipment.actions.gauges import READ_BY_GAUGE
from equipment.physics import units
from servicedesk.forms.words import NAMES


class GaugeForm(forms.Form):
    """Which gauge hangs there, from a day on; `reader_units` decide in which unit it is asked."""

    quantity = forms.ChoiceField(
        label=_("It shows"), choices=lambda: [(word.value, NAMES[word]) for word in READ_BY_GAUGE]
    )
    label = forms.CharField(
        label=_("What it is"),
        max_length=80,
        help_text=_("As it is told apart: maker, size, where it sits."),
    )
    full_scale = forms.CharField(
        label=_("End of its scale"),
        required=False,
        max_length=20,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text=_("The last figure on the dial. Without it the error is not known."),
    )
    unit = forms.ChoiceField(label=_("In"), required=False)
    error_percent = forms.CharField(
        label=_("Its error, percent of the scale"),
        required=False,
        max_length=8,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text=_(
            "Printed on the dial as its class. Most are 1 to 3; common practice, no source."
        ),
    )
    from_on = forms.DateField(
        label=_("Since"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args, reader_units, **kwargs):
        super().__init__(*args, **kwargs)
        names = dict.fromkeys(unit for word in READ_BY_GAUGE for unit in units.offered(word))
        self.fields["unit"].choices = [(name, units.unit_name(name)) for name in names]
        self.fields["unit"].initial = units.readers_unit("pressure", reader_units)

    def clean_full_scale(self):
        return _number(self.cleaned_data["full_scale"])

    def clean_error_percent(self):
        return _number(self.cleaned_data["error_percent"].replace("%", ""))

    def clean(self):
        found = super().clean()
        if found.get("full_scale") is not None and "quantity" in found:
            try:
                found["full_scale"] = units.to_stored(
                    found["quantity"], found["full_scale"], found.get("unit", "")
                )
            except ValueError as error:
                self.add_error("unit", str(error))
        return found

    def facts(self):
        """What was typed, as `record_gauge` takes it."""
        return {key: value for key, value in self.cleaned_data.items() if key != "unit"}


def _number(text):
    if not text.strip():
        return None
    try:
        return units.typed_number(text)
    except ValueError as error:
        raise ValidationError(str(error)) from None
