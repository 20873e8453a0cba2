"""What went wrong with a planned day, as somebody says it on the telephone."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from customers.models import Site
from equipment.physics import units
from servicedesk.actions.routes.repairs import what
from servicedesk.forms.ways import WayField
from servicedesk.forms.week import DayField
from servicedesk.models import Stop, Technician, Ticket
from servicedesk.planning.routing.barriers import Area

ROUND_IT = {"km": 2, "mi": 1}  # what is proposed round a closed road


def people():
    return (
        Technician.objects.filter(active=True).select_related("user").order_by("user__first_name")
    )


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self):
        super().__init__(format="%Y-%m-%d")


class Telling(forms.Form):
    """One way in which a day goes wrong. `days` are those of the week that are still to come."""

    prefix_name = ""

    def __init__(self, *args, days, zone="UTC", unit="km", **kwargs):
        super().__init__(*args, prefix=self.prefix_name, **kwargs)
        self.days = days
        self.zone = zone
        self.unit = unit

    def _instant(self, day, at):
        return datetime.combine(day, at, tzinfo=ZoneInfo(self.zone))


class AwayForm(Telling):
    prefix_name = "away"
    technician = forms.ModelChoiceField(people(), label=_("Who is away"))
    at = forms.TimeField(
        label=_("From what time"),
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("Stops that end earlier count as done. Leave empty for the whole day."),
    )
    until = forms.DateField(
        label=_("To and including"),
        required=False,
        widget=DateInput,
        help_text=_("Leave empty for one day."),
    )
    back = forms.TimeField(
        label=_("Back at"),
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("On the last day. Stops from then on stay. Leave empty for the whole day."),
    )
    reason = forms.CharField(label=_("Reason"), required=False, max_length=100)

    field_order = ("technician", "day", "at", "until", "back", "reason")

    def __init__(self, *args, days, **kwargs):
        super().__init__(*args, days=days, **kwargs)
        self.fields["day"] = DayField(days=days)
        self.order_fields(self.field_order)

    def what(self):
        data = self.cleaned_data
        until = data["until"] or data["day"]
        begun = self._instant(data["day"], data["at"]) if data["at"] else None
        back = self._instant(until, data["back"]) if data["back"] else None
        return what.away(data["technician"], data["day"], until, data["reason"], begun, back)


class LateForm(Telling):
    prefix_name = "late"
    technician = forms.ModelChoiceField(people(), label=_("Who runs late"))
    minutes = forms.IntegerField(label=_("Minutes late"), min_value=5, max_value=600)

    def what(self):
        data = self.cleaned_data
        return what.running_late(data["technician"], self.days[0], data["minutes"])


class FailedForm(Telling):
    prefix_name = "failed"
    stop = forms.ModelChoiceField(Stop.objects.none(), label=_("Which stop"), to_field_name="uuid")
    reason = forms.CharField(
        label=_("Why"), required=False, max_length=100, help_text=_("Gate locked, pond frozen …")
    )

    def __init__(self, *args, days, **kwargs):
        super().__init__(*args, days=days, **kwargs)
        stops = Stop.objects.filter(route__day__in=days).exclude(tickets=None)
        stops = stops.select_related("site", "route__technician__user").distinct()
        self.fields["stop"].queryset = stops.order_by("route__day", "route__technician", "number")
        self.fields["stop"].label_from_instance = _stop_words

    def what(self):
        return what.stop_failed(self.cleaned_data["stop"], self.cleaned_data["reason"])


def _stop_words(stop):
    return f"{date_format(stop.route.day, 'D j')}, {stop.route.technician}: {stop.site}"


def _ticket_words(ticket):
    """A site may have the same task open for several systems."""
    of = [str(place) for place in (ticket.system, ticket.site) if place]
    return f"{ticket.task}, {', '.join(of)}"


class RoadForm(Telling):
    prefix_name = "road"
    site = forms.ModelChoiceField(
        Site.objects.none(),
        label=_("Near which site"),
        help_text=_("The middle of the area that nobody drives through."),
    )
    radius = WayField(label="", most_km=100)
    until = forms.DateField(label=_("Closed to and including"), widget=DateInput)
    reason = forms.CharField(
        label=_("What it is"), required=False, max_length=120, help_text=_("Bridge, flood, snow …")
    )

    def __init__(self, *args, days, **kwargs):
        super().__init__(*args, days=days, **kwargs)
        stops = Stop.objects.filter(route__day__in=days)
        self.fields["site"].queryset = Site.objects.filter(stops__in=stops).distinct()
        radius = self.fields["radius"]
        radius.unit, radius.initial = self.unit, ROUND_IT.get(self.unit)
        radius.label = _t("Closed so far round it, %(unit)s") % {"unit": self.unit}

    def what(self):
        data = self.cleaned_data
        site = data["site"]
        area = Area(site.lat, site.lon, data["radius"])
        typed = units.from_stored("distance", 1000 * data["radius"], self.unit)
        within = f"{typed:.3g} {self.unit}"
        place, reason = str(site), data["reason"]
        return what.road_closed(area, self.days[0], data["until"], place, reason, within)


class EmergencyForm(Telling):
    prefix_name = "emergency"
    ticket = forms.ModelChoiceField(
        Ticket.objects.none(),
        label=_("Which ticket"),
        help_text=_("Milder work of that day makes room. Open the ticket first if there is none."),
    )

    def __init__(self, *args, days, waiting=(), **kwargs):
        super().__init__(*args, days=days, **kwargs)
        self.fields["ticket"].queryset = Ticket.objects.open().select_related("task", "site")
        rows = [(ticket.pk, _ticket_words(ticket)) for ticket in waiting]
        self.fields["ticket"].widget.choices = [("", "---------"), *rows]
        self.fields["day"] = DayField(days=days)

    def what(self):
        return what.emergency(self.cleaned_data["ticket"], self.cleaned_data["day"])


FORMS = {
    "away": (AwayForm, _("Somebody is away")),
    "failed": (FailedForm, _("A stop cannot be done")),
    "late": (LateForm, _("Somebody runs late")),
    "road": (RoadForm, _("A road is closed")),
    "emergency": (EmergencyForm, _("Work that cannot wait")),
}
