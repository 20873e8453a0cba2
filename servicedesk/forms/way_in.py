"""How to get in at a site, and a time agreed with its owner."""

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.models import OwnerHours, Site
from servicedesk.forms.start import WEEKDAYS
from servicedesk.forms.stock import day_field


def time_field(label, **options):
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, widget=widget, **options)


class WayInForm(forms.ModelForm):
    class Meta:
        model = Site
        fields = [
            "way_in",
            "vehicle_note",
            "notice_h",
            "owner_present",
            "power_from",
            "power_phone",
        ]
        widgets = {"way_in": forms.Textarea(attrs={"rows": 3})}
        labels = {
            "way_in": _("Way in"),
            "vehicle_note": _("For the van"),
            "notice_h": _("Hours of notice the owner asks for"),
            "owner_present": _("The owner must be home"),
            "power_from": _("The power comes from"),
            "power_phone": _("Phone of whose power it is"),
        }
        help_texts = {
            "way_in": _("How to get in. No codes here."),
            "owner_present": _(
                "Then we come at the hours below. Without any, a time is agreed first."
            ),
            "notice_h": "",
            "power_from": _("Only where it runs over somebody else's meter: a neighbour, a club."),
        }


class OwnerHoursForm(forms.Form):
    """From when until when on each day of the week; empty where the owner is not there."""

    def __init__(self, *args, site, **options):
        rows = OwnerHours.objects.filter(site=site).order_by("weekday", "comes")
        start = {}
        for row in rows:
            start |= {f"comes_{row.weekday}": row.comes, f"leaves_{row.weekday}": row.leaves}
        super().__init__(*args, initial=start, **options)
        for number, name in WEEKDAYS:
            self.fields[f"comes_{number}"] = time_field(
                _("%(day)s from") % {"day": name}, required=False
            )
            self.fields[f"leaves_{number}"] = time_field(
                _("%(day)s until") % {"day": name}, required=False
            )

    def days(self):
        """(name of the day, field of the beginning, field of the end)."""
        return [(name, self[f"comes_{n}"], self[f"leaves_{n}"]) for n, name in WEEKDAYS]

    def clean(self):
        data = super().clean()
        for number, _name in WEEKDAYS:
            comes, leaves = data.get(f"comes_{number}"), data.get(f"leaves_{number}")
            if bool(comes) != bool(leaves):
                self.add_error(f"leaves_{number}", _("Enter both times, or neither."))
            elif comes and leaves <= comes:
                self.add_error(f"leaves_{number}", _("The time ends before it begins."))
        return data

    @property
    def hours(self):
        data = self.cleaned_data
        return [
            (number, data[f"comes_{number}"], data[f"leaves_{number}"])
            for number, _name in WEEKDAYS
            if data[f"comes_{number}"]
        ]


class AgreedForm(forms.Form):
    day = day_field(_("Day"))
    comes = time_field(_("We come from"))
    leaves = time_field(_("and begin by"))
