"""A state learnt in the office: what a system did from a moment on, however late it is heard of."""

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.kinds import Role
from customers.models import User
from equipment.kinds import Certainty
from servicedesk.templatetags.house import STATES

MOMENT = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")


class StateForm(forms.Form):
    """Times are those of the site; the view sets its zone."""

    state = forms.ChoiceField(
        label=_("From then on it was"),
        choices=lambda: [("", _("Choose one")), *((k.value, w) for k, (_s, w) in STATES.items())],
    )
    at = forms.DateTimeField(label=_("Since"), widget=MOMENT, help_text=_("Time at the site."))
    certainty = forms.ChoiceField(
        label=_("How do we know?"),
        choices=[
            (Certainty.OBSERVED.value, _("Somebody saw it")),
            (Certainty.ASSUMED.value, _("We assume it")),
        ],
        widget=forms.RadioSelect,
        initial=Certainty.OBSERVED,
    )
    reason = forms.CharField(label=_("Reason, and who said so"), max_length=250, required=False)
    started_by_others = forms.BooleanField(
        label=_("Somebody else had started it; we only write it down"), required=False
    )
    approved_by = forms.ModelChoiceField(
        label=_("If we started it after a stop: who approved the start"),
        queryset=User.objects.filter(role=Role.MANAGER, is_active=True).order_by("last_name"),
        required=False,
        empty_label=_("Nobody"),
    )
    caution_read = forms.BooleanField(
        label=_("I have read the caution on starting after a stop"), required=False
    )

    def facts(self):
        """What was typed, as `record_state` takes it."""
        typed = dict(self.cleaned_data)
        return typed | {"started_by_us": not typed.pop("started_by_others")}


class RedateForm(forms.Form):
    """Times are those of the site; the view sets its zone."""

    at = forms.DateTimeField(label=_("Since"), widget=MOMENT, help_text=_("Time at the site."))
    reason = forms.CharField(label=_("How we know, and who said so"), max_length=250)


class StrikeForm(forms.Form):
    reason = forms.CharField(label=_("Why it is struck out"), max_length=250)
