"""A figure of the firm's own over a default of the trade."""

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.models import Site
from equipment.kinds import PositionKind
from equipment.models import ComponentType, System
from servicedesk.actions.figures import Figure
from servicedesk.kinds import Who
from servicedesk.planning.likely import is_far_from
from servicedesk.templatetags.house import rhythm_words

EVERYWHERE, MODEL, SITE, SYSTEM = "everywhere", "model", "site", "system"


class FigureForm(forms.Form):
    figure = forms.ChoiceField(label=_("Which figure"))
    value = forms.FloatField(
        label=_("New value"), help_text=_("In the unit of the figure; for in use: 1 yes, 0 no.")
    )
    scope = forms.ChoiceField(
        label=_("Holds for"),
        choices=[
            (EVERYWHERE, _("The whole firm")),
            (MODEL, _("One model of compressor")),
            (SITE, _("One site")),
            (SYSTEM, _("One system")),
        ],
    )
    model = forms.ModelChoiceField(
        label=_("Model"),
        queryset=ComponentType.objects.filter(kind=PositionKind.COMPRESSOR).order_by(
            "maker", "model"
        ),
        required=False,
        empty_label=_("None chosen"),
    )
    number = forms.CharField(label=_("Number of the site or system"), required=False)
    from_on = forms.DateField(
        label=_("From"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    reason = forms.CharField(label=_("Reason"), max_length=250)

    def __init__(self, *args, task, **kwargs):
        super().__init__(*args, **kwargs)
        self.task = task
        self.rhythms = {
            str(rhythm.pk): rhythm
            for rhythm in task.rhythms.filter(who=Who.TECHNICIAN).exclude(every=None)
        }
        self.fields["figure"].choices = [
            *((pk, _("Every %s") % rhythm_words(rhythm)) for pk, rhythm in self.rhythms.items()),
            ("early_days", _("Days early, now %s") % task.early_days),
            ("late_days", _("Days late, now %s") % task.late_days),
            ("active", _("In use")),
        ]
        if (rhythm := self.rhythms.get(self.data.get("figure"))) and self._is_doubtful(rhythm):
            self.fields["sure"] = forms.BooleanField(
                label=_("I mean %s") % self.data["value"],
                required="keep" in self.data,  # what it would move is shown all the same
                help_text=_(
                    "The figure of the trade is %s: this is less than a fifth of it, or more than "
                    "five times it."
                )
                % rhythm_words(rhythm),
                error_messages={"required": _("Tick this if that is what you mean.")},
            )

    def _is_doubtful(self, rhythm):
        try:
            return is_far_from(self.fields["value"].clean(self.data.get("value")), rhythm.every)
        except forms.ValidationError:
            return False

    def clean(self):
        typed = super().clean()
        scope, number = typed.get("scope"), typed.get("number", "").strip()
        self.where = {}
        if scope == MODEL:
            if not typed.get("model"):
                self.add_error("model", _("Choose the model."))
            else:
                self.where = {"component_type_id": typed["model"].pk}
        elif scope in {SITE, SYSTEM}:
            kind = Site if scope == SITE else System
            found = kind.objects.filter(key=number).first()
            if found is None:
                self.add_error(
                    "number", _("There is none with this number. Look it up in the list.")
                )
            else:
                self.where = {f"{scope}_id": found.pk}
        return typed

    def asked(self):
        """The figure, as the action takes it."""
        rhythm = self.rhythms.get(self.cleaned_data["figure"])
        return Figure(
            task=self.task,
            rhythm=rhythm,
            field="every" if rhythm else self.cleaned_data["figure"],
            value=self.cleaned_data["value"],
            from_on=self.cleaned_data["from_on"],
            where=self.where,
        )
