"""How to get in at a site, and a time agreed with its owner."""

import re
from collections import defaultdict

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.models import OwnerHours, Site
from servicedesk.forms.start import WEEKDAYS
from servicedesk.forms.stock import day_field

LEAST_SPANS, MOST_SPANS = 2, 6  # of a day


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
    """From when until when on each day of the week; empty where the owner is not there.

    A day has two spans or more, such as before and after work: one more than are filled.
    """

    def __init__(self, *args, site, **options):
        kept = defaultdict(list)
        for row in OwnerHours.objects.filter(site=site).order_by("weekday", "comes"):
            kept[row.weekday].append((row.comes, row.leaves))
        start = {
            f"{word}_{weekday}{_ending(span)}": at
            for weekday, spans in kept.items()
            for span, times in enumerate(spans, start=1)
            for word, at in zip(("comes", "leaves"), times, strict=True)
        }
        super().__init__(*args, initial=start, **options)
        most = max((len(spans) for spans in kept.values()), default=0)
        self.spans = range(1, min(max(LEAST_SPANS, most + 1, self._sent()), MOST_SPANS) + 1)
        for number, name in WEEKDAYS:
            for span in self.spans:
                words = {"day": name, "number": span}
                first = span == 1
                self.fields[f"comes_{number}{_ending(span)}"] = time_field(
                    (_("%(day)s from") if first else _("%(day)s, time %(number)d, from")) % words,
                    required=False,
                )
                self.fields[f"leaves_{number}{_ending(span)}"] = time_field(
                    (_("%(day)s until") if first else _("%(day)s, time %(number)d, until")) % words,
                    required=False,
                )

    def _sent(self):
        """How many spans a day has in what was sent."""
        names = (re.fullmatch(r"comes_[1-7]_(\d)", name) for name in self.data)
        return max((int(found[1]) for found in names if found), default=0)

    def days(self):
        """(name of the day, pairs of fields of beginning and end)."""
        return [(name, [self._pair(n, span) for span in self.spans]) for n, name in WEEKDAYS]

    def _pair(self, number, span):
        return self[f"comes_{number}{_ending(span)}"], self[f"leaves_{number}{_ending(span)}"]

    def clean(self):
        data = super().clean()
        for number, _name in WEEKDAYS:
            told = []
            for span in self.spans:
                at = f"leaves_{number}{_ending(span)}"
                comes, leaves = data.get(f"comes_{number}{_ending(span)}"), data.get(at)
                if at in self.errors or f"comes_{number}{_ending(span)}" in self.errors:
                    continue
                if bool(comes) != bool(leaves):
                    self.add_error(at, _("Enter both times, or neither."))
                elif comes and leaves <= comes:
                    self.add_error(at, _("The time ends before it begins."))
                elif comes:
                    if any(comes < end and begin < leaves for begin, end in told):
                        self.add_error(at, _("This time overlaps another one of the day."))
                    told.append((comes, leaves))
        return data

    @property
    def hours(self):
        data = self.cleaned_data
        return [
            (number, data[f"comes_{number}{_ending(n)}"], data[f"leaves_{number}{_ending(n)}"])
            for number, _name in WEEKDAYS
            for n in self.spans
            if data[f"comes_{number}{_ending(n)}"]
        ]


def _ending(span):
    return "" if span == 1 else f"_{span}"


class AgreedForm(forms.Form):
    day = day_field(_("Day"))
    comes = time_field(_("We come from"))
    leaves = time_field(_("and begin by"))
