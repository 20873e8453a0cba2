"""What somebody saw of a pond from the bank, and the weather of a region."""

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from customers.models import Region
from servicedesk.forms.repair import DateInput
from servicedesk.kinds import ObservationKind
from servicedesk.registers.weather import BYTES_MAX

KINDS = [
    (ObservationKind.ICE_OUT, gettext_lazy("The ice has left: open water from bank to bank")),
    (ObservationKind.ICE_ON, gettext_lazy("Ice: the pond has frozen over, or has frozen again")),
    (ObservationKind.LAYERED, gettext_lazy("The water has layered: a profile shows it")),
    (ObservationKind.MIXED, gettext_lazy("The water has mixed from top to bottom")),
]


class SightingForm(forms.Form):
    kind = forms.ChoiceField(
        label=gettext_lazy("What you see from the bank"), choices=KINDS, widget=forms.RadioSelect
    )
    seen_on = forms.DateField(label=gettext_lazy("Day"), widget=DateInput)
    note = forms.CharField(
        label=gettext_lazy("Note"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("Ice in the north bay only, open round the boil, …"),
    )

    def clean_kind(self):
        return ObservationKind(self.cleaned_data["kind"])


class WeatherForm(forms.Form):
    region = forms.ModelChoiceField(
        Region.objects.order_by("name"),
        label=gettext_lazy("Region"),
        required=False,
        help_text=gettext_lazy("Not needed where a column names it."),
    )
    file = forms.FileField(
        label=gettext_lazy("File"),
        required=False,
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,text/plain"}),
    )
    text = forms.CharField(
        label=gettext_lazy("or the lines themselves"),
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false"}),
        help_text=gettext_lazy("With a first row such as date,min_c,max_c."),
    )

    def clean(self):
        found = super().clean()
        file = found.get("file")
        if file:
            if file.size > BYTES_MAX:
                self.add_error("file", _("The file is larger than 4 MB. Load it in parts."))
                return found
            try:
                found["text"] = file.read().decode("utf-8-sig")
            except UnicodeDecodeError:
                self.add_error("file", _("This is no CSV text in UTF-8. Save it as CSV UTF-8."))
        elif not found.get("text", "").strip():
            self.add_error("file", _("Choose a file, or paste its lines below."))
        return found

    @property
    def source(self):
        file = self.cleaned_data.get("file")
        return f"file {file.name}" if file else "typed"

    def shown_again(self):
        """The form with the lines of the file in it, so that they can be mended in place."""
        data = {"text": self.cleaned_data["text"], "region": self.data.get("region", "")}
        return WeatherForm(initial=data)
