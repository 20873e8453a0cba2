"""Placing and moving stops by hand."""

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from servicedesk.models import Technician


class DayField(forms.TypedChoiceField):
    """One of the days of a week that are still to come."""

    def __init__(self, *, days, **kwargs):
        by_name = {day.isoformat(): day for day in days}
        choices = [(name, date_format(day, "l j F")) for name, day in by_name.items()]
        super().__init__(choices=choices, coerce=by_name.get, label=_("Day"), **kwargs)


class PlaceForm(forms.Form):
    """For work that needs several people a technician field each, and the time they meet."""

    def __init__(self, *args, people, days, **kwargs):
        super().__init__(*args, **kwargs)
        self.people = people
        able = Technician.objects.filter(active=True).select_related("user")
        self.fields["day"] = DayField(days=days)
        for number in range(1, people + 1):
            words = _("Technician")
            if people > 1:
                words = _("Technician %(number)d") % {"number": number}
            self.fields[f"technician_{number}"] = forms.ModelChoiceField(
                able.order_by("user__first_name"), label=words
            )
        self.fields["start"] = forms.TimeField(
            label=_("They begin there at"),
            required=people > 1,
            help_text=_("Both are there at this time; the drives are fitted round it."),
            widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        )
        if people == 1:
            del self.fields["start"]

    @property
    def technicians(self):
        return [self.cleaned_data[f"technician_{n}"] for n in range(1, self.people + 1)]


class MoveForm(forms.Form):
    technician = forms.ModelChoiceField(
        Technician.objects.filter(active=True).select_related("user").order_by("user__first_name"),
        label=_("Technician"),
    )

    def __init__(self, *args, days, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["day"] = DayField(days=days)


class DropForm(forms.Form):
    """Until when a stop is left alone, and why."""

    until = forms.DateField(
        label=_("Not before"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    reason = forms.CharField(label=_("Why"), max_length=200)
