"""What a visit said wrongly: its parts and what is to be mended, and why it is put right."""

from django import forms
from django.utils.translation import gettext_lazy as _

from equipment.models import Part
from servicedesk.actions.visits.corrections import Corrected, DefectSaid
from servicedesk.forms.words import SIGNS
from servicedesk.kinds import DefectSign
from servicedesk.models import Defect, PartUsed

NUMBER = {"inputmode": "numeric", "autocomplete": "off"}


def number_field(label, least, **options):
    widget = forms.TextInput(attrs=NUMBER)
    return forms.IntegerField(label=label, min_value=least, max_value=200, widget=widget, **options)


class CorrectionForm(forms.Form):
    """One field a part, three a defect, and the reason for all."""

    def __init__(self, *args, visit, **options):
        super().__init__(*args, **options)
        parts = PartUsed.objects.standing().filter(visit=visit).select_related("part")
        self.parts = list(parts.order_by("pk"))
        defects = Defect.objects.standing().filter(visit=visit, mended_at=None)
        self.defects = list(defects.select_related("system", "site", "position").order_by("pk"))
        for used in self.parts:
            self.fields[f"part_{used.pk}"] = number_field(
                _("%(part)s, how many") % {"part": used.part}, 0, initial=used.quantity
            )
        self.fields["new_part"] = forms.ModelChoiceField(
            Part.objects.order_by("number"), label=_("Used as well"), required=False
        )
        self.fields["new_many"] = number_field(_("How many of it"), 1, required=False)
        for defect in self.defects:
            self._ask_about(defect)
        self.fields["because"] = forms.CharField(
            label=_("Why it is put right"),
            max_length=250,
            widget=forms.Textarea(attrs={"rows": 2, "autocapitalize": "sentences"}),
            help_text=_("What was said first stays on record, with this beside it."),
        )

    def _ask_about(self, defect):
        self.fields[f"sign_{defect.pk}"] = forms.ChoiceField(
            label=_("What was seen"),
            choices=[*SIGNS, ("", _("Nothing: it was a mistake"))],
            initial=defect.sign,
            required=False,
        )
        self.fields[f"text_{defect.pk}"] = forms.CharField(
            label=_("Where, and how bad"),
            initial=defect.text,
            required=False,
            max_length=4000,
            widget=forms.Textarea(attrs={"rows": 2}),
        )
        self.fields[f"urgent_{defect.pk}"] = forms.BooleanField(
            label=_("The office must act today"), initial=defect.urgent, required=False
        )

    def clean(self):
        data = super().clean()
        if data.get("new_many") and not data.get("new_part"):
            self.add_error("new_part", _("Choose which part it was."))
        return data

    @property
    def right(self) -> Corrected:
        data = self.cleaned_data
        part = data.get("new_part")
        return Corrected(
            parts={used: data[f"part_{used.pk}"] for used in self.parts},
            added=(part, data.get("new_many") or 1) if part else None,
            defects={defect: self._said(defect) for defect in self.defects},
        )

    def _said(self, defect):
        sign = self.cleaned_data[f"sign_{defect.pk}"]
        if not sign:
            return None
        text = self.cleaned_data[f"text_{defect.pk}"]
        return DefectSaid(DefectSign(sign), text, self.cleaned_data[f"urgent_{defect.pk}"])
