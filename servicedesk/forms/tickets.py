"""What the office decides about one ticket."""

from django import forms
from django.utils.translation import gettext_lazy as _

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class Reasoned(forms.Form):
    """A decision bears a reason, which stands beside the name of whoever took it."""

    reason = forms.CharField(label=_("Reason"), max_length=250)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, auto_id=f"{type(self).__name__.lower()}-%s", **kwargs)


class PostponeForm(Reasoned):
    until_on = forms.DateField(label=_("Put off to"), widget=DAY)

    field_order = ["until_on", "reason"]


class WaiveForm(Reasoned):
    until_on = forms.DateField(
        label=_("Do without until"),
        widget=DAY,
        required=False,
        help_text=_("Empty: this time only; the interval then runs anew."),
    )

    field_order = ["until_on", "reason"]


class CancelForm(Reasoned):
    pass
