"""Placing and moving stops by hand."""

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from servicedesk.models import Technician

LONG_DAYS = 366


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

    def __init__(self, *args, ends, today, **kwargs):
        """ends: last day inside the tolerance, if one is known. What is dropped beyond it, or for
        more than a year, is asked about once: a wrong year is typed quickly."""
        kept = {"until": ends if ends and ends > today else None}
        super().__init__(*args, initial=kept, **kwargs)
        until = self._typed()
        if until is None:
            return
        if ends and until > ends:
            self._ask(until, _("The tolerance ends on %s."), ends)
        elif (until - today).days > LONG_DAYS:
            self._ask(until, _("That is more than a year after today, %s."), today)

    def _typed(self):
        name = self.add_prefix("until")
        try:
            return self.fields["until"].clean(self.data.get(name)) if self.is_bound else None
        except forms.ValidationError:
            return None

    def _ask(self, until, words, day):
        self.fields["sure"] = forms.BooleanField(
            label=_("Leave it alone until %s all the same") % date_format(until, "j F Y"),
            help_text=words % date_format(day, "j F Y"),
            error_messages={"required": _("Tick this if that is what you mean.")},
        )


class SplitForm(MoveForm):
    """Which part of a stop's work goes to whom, and when."""

    field_order = ["tickets", "technician", "day"]

    def __init__(self, *args, work, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["tickets"] = TicksField(rows=work, label=_("Work that goes"))
        self.order_fields(self.field_order)


class AddForm(forms.Form):
    """Work of a site that is to be done along."""

    def __init__(self, *args, near, soon, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["tickets"] = TicksField(rows=near, label=_("Open tickets"), required=False)
        words = _("Falls due soon")
        self.fields["due_items"] = TicksField(rows=soon, label=words, required=False)
        for name, rows in (("tickets", near), ("due_items", soon)):
            if not rows:
                del self.fields[name]

    def clean(self):
        return {"tickets": [], "due_items": []} | super().clean()


class TicksField(forms.TypedMultipleChoiceField):
    """Rows of work with a tick each; gives the rows that are ticked."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, *, rows, **kwargs):
        by_pk = {str(row.pk): row for row in rows}
        choices = [(pk, self.words(row)) for pk, row in by_pk.items()]
        super().__init__(choices=choices, coerce=by_pk.get, empty_value=[], **kwargs)

    @staticmethod
    def words(row):
        due_on = getattr(row, "due_on", None) or getattr(row, "due_when_opened_on", None)
        said = [str(row.task)]
        if row.system_id:
            said.append(str(row.system))
        said.append(_("%(minutes)d min") % {"minutes": row.task.minutes})
        if due_on:
            said.append(_("due %(day)s") % {"day": date_format(due_on, "j F")})
        return ", ".join(str(word) for word in said)
