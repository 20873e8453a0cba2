"""What people of the firm say about themselves, and what a manager says about the firm."""

import zoneinfo

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from customers.models import Firm, User


def zones():
    """Zones that people live in; the short old names are left out."""
    return sorted(zone for zone in zoneinfo.available_timezones() if "/" in zone)


def zone_choices(empty):
    return [("", empty), *((zone, zone.replace("_", " ")) for zone in zones())]


class AccountForm(forms.ModelForm):
    """How the program speaks to one person."""

    language = forms.ChoiceField(label=_("Language"), choices=settings.LANGUAGES)
    time_zone = forms.ChoiceField(
        label=_("Time zone"),
        choices=lambda: zone_choices(_("That of the firm")),
        required=False,
    )

    class Meta:
        model = User
        fields = ["first_name", "last_name", "email", "phone", "units", "language", "time_zone"]
        labels = {
            "first_name": _("First name"),
            "last_name": _("Last name"),
            "email": _("Email"),
            "phone": _("Phone"),
            "units": _("Units"),
        }


class FirmForm(forms.ModelForm):
    """The firm's settings that a manager may change."""

    language = forms.ChoiceField(label=_("Language"), choices=settings.LANGUAGES)
    time_zone = forms.ChoiceField(
        label=_("Time zone"), choices=lambda: zone_choices(_("Choose one"))
    )

    class Meta:
        model = Firm
        fields = [
            "name",
            "phone",
            "emergency_phone",
            "reply_to",
            "postal_address",
            "language",
            "time_zone",
            "units",
            "shop_name",
            "shop_lat",
            "shop_lon",
            "road_factor",
            "speed_km_h",
            "setup_min",
            "day_full_percent",
            "pull_forward_days",
            "silent_after_intervals",
            "check_in_late_min",
            "quiet_from",
            "quiet_until",
            "mail_on_sunday",
            "ask_owners",
            "ramp_stop_mg_l",
            "ramp_fall_mg_l",
            "ramp_stop_cold_mg_l",
            "ramp_fall_cold_mg_l",
        ]
        labels = {
            "name": _("Name of the firm"),
            "reply_to": _("Address for replies"),
            "shop_name": _("Name of the shop"),
            "shop_lat": _("Latitude of the shop, degrees"),
            "shop_lon": _("Longitude of the shop, degrees"),
            "road_factor": _("Road factor"),
            "speed_km_h": _("Speed on the road, km/h"),
            "setup_min": _("Arrival and departure at a stop, minutes"),
            "day_full_percent": _("A day is full at, percent"),
            "pull_forward_days": _("Work done early when a visit is planned anyway, days"),
            "silent_after_intervals": _("A running system is silent after, in shortest intervals"),
            "check_in_late_min": _("Alarm when somebody alone is late by, minutes"),
            "quiet_from": _("No mail from"),
            "quiet_until": _("No mail until"),
            "mail_on_sunday": _("Mail may go out on Sundays"),
            "ask_owners": _("Ask owners by mail for what they look after themselves"),
            "ramp_stop_mg_l": _("Stop a slow start below, mg/L of oxygen"),
            "ramp_fall_mg_l": _("Stop it when oxygen falls in a run by, mg/L"),
            "ramp_stop_cold_mg_l": _("Cold-water fish: stop below, mg/L"),
            "ramp_fall_cold_mg_l": _("Cold-water fish: stop at a fall by, mg/L"),
        }
        widgets = {
            "quiet_from": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "quiet_until": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "postal_address": forms.Textarea(attrs={"rows": 3}),
        }

    def clean_road_factor(self):
        factor = self.cleaned_data["road_factor"]
        if not 1 <= factor <= 3:
            raise forms.ValidationError(
                _("A road is never shorter than the straight line: write a figure from 1 to 3.")
            )
        return factor

    def clean_speed_km_h(self):
        speed = self.cleaned_data["speed_km_h"]
        if not 5 <= speed <= 130:
            raise forms.ValidationError(_("Write a mean speed from 5 to 130 km/h."))
        return speed

    def clean_day_full_percent(self):
        percent = self.cleaned_data["day_full_percent"]
        if not 30 <= percent <= 100:
            raise forms.ValidationError(_("Write a share from 30 to 100 percent."))
        return percent

    def clean_silent_after_intervals(self):
        factor = self.cleaned_data["silent_after_intervals"]
        if not 1 <= factor <= 10:
            raise forms.ValidationError(_("Write a figure from 1 to 10; our judgement is 1.5."))
        return factor

    def clean(self):
        lat, lon = self.cleaned_data.get("shop_lat"), self.cleaned_data.get("shop_lon")
        if (lat is None) != (lon is None):
            raise forms.ValidationError(_("Give both latitude and longitude of the shop, or none."))
        if lat is not None and not (-90 <= lat <= 90 and -180 <= lon <= 180):
            raise forms.ValidationError(
                _("The shop must lie on the earth: latitude -90 to 90, longitude -180 to 180.")
            )
        return self.cleaned_data
