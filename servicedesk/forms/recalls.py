"""A recall to open, and what became of a unit."""

from django import forms
from django.utils.translation import gettext_lazy as _

from equipment.models import ComponentType
from servicedesk.models.recalls import recall_outcomes


class RecallForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120, help_text=_("Owners read it."))
    notice = forms.CharField(
        label=_("Who recalls"), max_length=250, help_text=_("Letter, number and day of the notice.")
    )
    what_to_do = forms.CharField(
        label=_("What is done to a unit"),
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Owners read it: what is done, without guesses about causes."),
    )
    types = forms.ModelMultipleChoiceField(
        label=_("Models"),
        queryset=ComponentType.objects.order_by("kind", "maker", "model"),
        widget=forms.CheckboxSelectMultiple,
    )
    serial_from = forms.CharField(
        label=_("First serial number"),
        max_length=60,
        required=False,
        help_text=_("Both ends are in the range; empty for no limit."),
    )
    serial_to = forms.CharField(label=_("Last serial number"), max_length=60, required=False)
    stop_at_once = forms.BooleanField(label=_("It has to stop at once"), required=False)
    free_of_charge = forms.BooleanField(
        label=_("Free of charge for the owner"), required=False, initial=True
    )


class OutcomeForm(forms.Form):
    outcome = forms.ChoiceField(
        label=_("What became of it"),
        choices=lambda: [("", _("Choose one")), *recall_outcomes()],
    )
    note = forms.CharField(label=_("Note"), max_length=250, required=False)


class SerialForm(forms.Form):
    serial = forms.CharField(label=_("Serial number"), max_length=60)
