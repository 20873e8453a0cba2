"""The questions of the first start."""

from django import forms
from django.contrib.auth import password_validation
from django.utils.translation import gettext_lazy as _

from customers.forms import FirmForm
from customers.kinds import Role
from customers.models import Firm, User
from servicedesk.kinds import Skill

WEEKDAYS = [
    (1, _("Monday")),
    (2, _("Tuesday")),
    (3, _("Wednesday")),
    (4, _("Thursday")),
    (5, _("Friday")),
    (6, _("Saturday")),
    (7, _("Sunday")),
]
LEVELS = [  # without the licence, which stands apart: alone it would bar all other work
    (Skill.TRAINED, _("trained person")),
    (Skill.TECHNICIAN, _("technician")),
    (Skill.REBUILD, _("technician who also rebuilds compressors")),
]
LABELS = {
    "username": _("Name to sign in with"),
    "first_name": _("First name"),
    "last_name": _("Last name"),
    "email": _("Email"),
    "phone": _("Phone"),
}


class PersonForm(forms.ModelForm):
    """A login with a password that follows the rules."""

    password = forms.CharField(
        label=_("Password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text=_("At least 12 characters, not a common password, not like the name."),
    )
    password_again = forms.CharField(
        label=_("The password again"),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
    )

    class Meta:
        model = User
        fields = ["first_name", "last_name", "username", "email"]
        labels = LABELS
        help_texts = {"username": _("Letters, digits and @ . + - _ only.")}

    def __init__(self, *arguments, **options):
        super().__init__(*arguments, **options)
        for name in ["first_name", "last_name"]:
            self.fields[name].required = True

    def clean_password_again(self):
        again = self.cleaned_data["password_again"]
        if again != self.cleaned_data.get("password"):
            raise forms.ValidationError(_("The two passwords differ. Type both again."))
        return again

    def _post_clean(self):
        super()._post_clean()  # the rules compare the password with the person's names
        if "password" in self.cleaned_data:
            try:
                password_validation.validate_password(self.cleaned_data["password"], self.instance)
            except forms.ValidationError as error:
                self.add_error("password", error)


class FirmStartForm(FirmForm):
    """What routes and mails cannot do without; the rest stands under Settings."""

    class Meta(FirmForm.Meta):
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
        ]
        help_texts = {
            "reply_to": _("A mailbox that somebody reads: owners answer to it."),
            "postal_address": _("Of the shop; it stands at the foot of mails."),
            "shop_lat": _("Every route begins and ends there, such as 44.5120."),
            "shop_lon": _("West of Greenwich is negative, such as -94.2410."),
            "emergency_phone": FirmForm.Meta.model._meta.get_field("emergency_phone").help_text,
        }

    def __init__(self, *arguments, **options):
        super().__init__(*arguments, **options)
        for name in ["shop_lat", "shop_lon"]:
            self.fields[name].required = True


class ColleagueForm(PersonForm):
    """A technician with the days that he works, or a person of the office."""

    role = forms.ChoiceField(
        label=_("Works as"),
        choices=[(Role.TECHNICIAN, _("technician")), (Role.OFFICE, _("office"))],
    )
    skill = forms.ChoiceField(
        label=_("May do the work of a"),
        choices=LEVELS,
        initial=Skill.TECHNICIAN,
        help_text=_("Each includes those before it."),
    )
    boat = forms.BooleanField(label=_("Qualified for work from a boat"), required=False)
    licensed_electrician = forms.BooleanField(label=_("Licensed electrician"), required=False)
    weekdays = forms.TypedMultipleChoiceField(
        label=_("Days of work"),
        choices=WEEKDAYS,
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        initial=[1, 2, 3, 4, 5],
        required=False,
    )
    starts = forms.TimeField(
        label=_("Starts"), initial="07:30", widget=forms.TimeInput(attrs={"type": "time"})
    )
    ends = forms.TimeField(
        label=_("Ends"), initial="16:00", widget=forms.TimeInput(attrs={"type": "time"})
    )
    lunch_min = forms.IntegerField(
        label=_("Lunch, minutes"), initial=30, min_value=0, max_value=120
    )

    class Meta(PersonForm.Meta):
        fields = ["role", "first_name", "last_name", "username", "email", "phone"]

    def clean(self):
        said = super().clean()
        starts, ends = said.get("starts"), said.get("ends")
        if starts and ends and starts >= ends:
            self.add_error("ends", _("The day ends before it starts. Correct the times."))
        if said.get("role") == Role.TECHNICIAN and not said.get("weekdays"):
            self.add_error("weekdays", _("Tick the days on which this technician works."))
        return said
