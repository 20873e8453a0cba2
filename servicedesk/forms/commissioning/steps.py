"""What is asked at the site, of people, of the pond, at the cabinet, and of papers."""

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.kinds import ContactRoleKind, HazardKind, choices
from customers.models import Contact
from equipment.kinds import WinterMode
from servicedesk.forms.commissioning.base import StepForm, day_input, text
from servicedesk.forms.commissioning.measures import MeasureField, NumberField
from servicedesk.forms.states import MOMENT
from servicedesk.kinds import PhotoKind, Point, Step
from servicedesk.planning import commissioning as doubts
from servicedesk.registers.rows import HARD

UNKNOWN = ""
DEEPEST_M = HARD["pond_depth"][1]
AREAL = {"low": HARD["pond_area"][0], "high": HARD["pond_area"][1]}


class SiteForm(StepForm):
    step = Step.SITE
    points = (Point.HAZARDS_LOOKED_FOR,)
    way_in = text(
        _("The way in"), 2000, lines=True, help_text=_("No codes here: the office keeps them.")
    )
    vehicle_note = text(_("How near a van comes, and when not"), 200)
    public_access = forms.TypedChoiceField(
        label=_("May the public reach the water?"),
        choices=[(UNKNOWN, _("Not known")), ("yes", _("Yes")), ("no", _("No"))],
        required=False,
        empty_value=None,
        coerce=lambda word: word == "yes",
    )
    authority = text(_("Who decides here on ice signs and permits"), 160)
    hazard = forms.ChoiceField(
        label=_("A hazard found"),
        required=False,
        choices=lambda: [("", _("None more")), *choices(HazardKind)],
    )
    hazard_note = text(_("Where, and what to mind"), 250)
    installed_on = forms.DateField(label=_("Installed on"), widget=day_input())

    def known(self, sheet):
        site = sheet.site
        reached = {True: "yes", False: "no"}.get(site.public_access, UNKNOWN)
        return {
            "way_in": site.way_in,
            "vehicle_note": site.vehicle_note,
            "public_access": reached,
            "authority": site.authority,
            "installed_on": sheet.system.installed_on,
        }

    def prepare(self):
        if not self.sheet.is_new:
            del self.fields["installed_on"]

    def odd(self):
        if self.cleaned_data.get("public_access") is None and self.sheet.freezes:
            return [
                "Nobody has said whether the public reaches the water. It has to be known before "
                "the first winter: signs and notices hang on it."
            ]
        return []

    def values(self):
        hazard = self.cleaned_data["hazard"]
        on = self.cleaned_data.get("installed_on") or self.sheet.system.installed_on
        return {
            "site": self.pick("way_in", "vehicle_note", "public_access", "authority"),
            "hazard": (hazard, self.cleaned_data["hazard_note"]) if hazard else None,
            "installed_on": on,
        }


class Person(forms.ModelMultipleChoiceField):
    def label_from_instance(self, contact):
        return ", ".join(filter(None, [contact.name, contact.phone, contact.email]))


class PeopleForm(StepForm):
    step = Step.PEOPLE
    points = (Point.MAIL_READ_BACK,)
    folded = ("name", "role", "phone", "email", "may")
    fold = _("Somebody who is not on the list")
    may_operate = Person(
        None,
        label=_("Who may stop and restart it"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    name = text(_("Name"), 120)
    role = forms.ChoiceField(
        label=_("Is here as"), required=False, choices=lambda: choices(ContactRoleKind)
    )
    phone = text(_("Phone"), 40)
    email = forms.EmailField(label=_("Email"), required=False)
    may = forms.BooleanField(label=_("This person may stop and restart it"), required=False)

    def known(self, sheet):
        return {"may_operate": [c.pk for c in sheet.record.may_operate.all()]}

    def prepare(self):
        here = Contact.objects.filter(pk__in=[contact.pk for contact in self.sheet.people])
        self.fields["may_operate"].queryset = here.order_by("name", "pk")

    def clean(self):
        typed = super().clean()
        if not typed.get("name") and (typed.get("phone") or typed.get("email")):
            self.add_error("name", _("Give the name that belongs to it."))
        if typed.get("name") and not (typed.get("phone") or typed.get("email")):
            self.add_error("phone", _("Give a phone number or a mail address."))
        return typed

    def odd(self):
        typed = self.cleaned_data
        reached = [c.phone for c in self.sheet.people] + [typed.get("phone")]
        if any(reached) or not (self.sheet.people or typed.get("name")):
            return []
        return ["Nobody here has a phone number: in an emergency only mail is left."]

    def values(self):
        typed = self.cleaned_data
        person = {name: typed[name] for name in ("name", "role", "phone", "email")}
        person["may_operate"] = typed["may"]
        return {
            "may_operate": list(typed["may_operate"]),
            "person": person if typed["name"] else None,
        }


class PondForm(StepForm):
    step = Step.POND
    pictures = (PhotoKind.LEVEL_MARK,)
    ASKED = ("area_m2", "depth_max_m", "depth_mean_m", "level_mark", "level_swing_m")

    def known(self, sheet):
        return {
            f"{name}_{pond.pk}": getattr(pond, name) for pond in sheet.ponds for name in self.ASKED
        }

    def prepare(self):
        several = len(self.sheet.ponds) > 1
        for pond in self.sheet.ponds:
            after = f", {pond}" if several else ""
            deep = {"low": 0.3, "high": DEEPEST_M}
            made = {
                "area_m2": MeasureField("area", label=_("Area%s") % after, **AREAL),
                "depth_max_m": MeasureField("length", label=_("Greatest depth%s") % after, **deep),
                "depth_mean_m": MeasureField(
                    "length", label=_("Mean depth%s") % after, low=0.1, high=DEEPEST_M
                ),
                "level_mark": text(
                    _("The fixed mark for the water%s") % after,
                    160,
                    help_text=_("A bolt, a step, a notch: what stays where it is for years."),
                ),
                "level_swing_m": MeasureField(
                    "length",
                    label=_("How far the water swings in a usual year%s") % after,
                    low=0,
                    high=3,
                    help_text=_("As the owner knows it. Empty: the firm's figure."),
                ),
            }
            for name, field in made.items():
                self.fields[f"{name}_{pond.pk}"] = field

    def clean(self):
        typed = super().clean()
        for pond in self.sheet.ponds:
            deep, mean = (typed.get(f"{n}_{pond.pk}") for n in ("depth_max_m", "depth_mean_m"))
            if deep and mean and mean > deep:
                self.add_error(
                    f"depth_mean_m_{pond.pk}", _("The mean cannot be over the greatest depth.")
                )
        return typed

    def odd(self):
        found = []
        for pond in self.sheet.ponds:
            asked = (self.cleaned_data.get(f"{name}_{pond.pk}") for name in self.ASKED[:3])
            found += doubts.pond_doubts(*asked)
        return found

    def values(self):
        return {
            "ponds": {
                pond.pk: {name: self.cleaned_data[f"{name}_{pond.pk}"] for name in self.ASKED}
                for pond in self.sheet.ponds
            }
        }


class ElectricsForm(StepForm):
    step = Step.ELECTRICS
    points = (
        Point.GFCI_TESTED,
        Point.CABINET_ABOVE_WATER,
        Point.UTILITIES_LOCATED,
        Point.NOTHING_DUG,
    )
    pictures = (PhotoKind.CABINET_OPEN,)
    RECORD = (
        "electrician",
        "licence",
        "not_required_by",
        "gfci_tested_on",
        "cabinet_above_water_m",
        "locate_ticket",
        "located_on",
    )
    cabinet_note = text(_("Cabinet: kind, and what it stands on"), 200)
    cabinet_above_water_m = MeasureField(
        "length",
        label=_("Its floor over the highest water known"),
        low=-1,
        high=30,
        help_text=_("No figure here is an approval: the local code and its inspector decide."),
    )
    supply_note = text(_("Circuit: volts, amps, breaker, where it is switched off"), 200)
    electrician = text(_("Who did the electrical work"), 120)
    licence = text(_("Licence or permit number"), 80)
    not_required_by = text(
        _("Or: not required, according to"),
        160,
        help_text=_("The authority that was asked. Work on wiring is for a licensed electrician."),
    )
    gfci_tested_on = forms.DateField(
        label=_("GFCI trip test passed on"), required=False, widget=day_input()
    )
    locate_ticket = text(_("Utility locate: ticket number"), 60)
    located_on = forms.DateField(label=_("Located on"), required=False, widget=day_input())
    hours_per_day = NumberField(label=_("Hours a day that it is to run"), low=0, high=24)

    def known(self, sheet):
        system, record = sheet.system, sheet.record
        known = {name: getattr(record, name) for name in self.RECORD}
        known |= {"cabinet_note": system.cabinet_note, "supply_note": system.supply_note}
        return known | {"hours_per_day": sheet.hours_per_day}

    def clean(self):
        typed = super().clean()
        for name in ("gfci_tested_on", "located_on"):
            if typed.get(name) and typed[name] > self.sheet.read_on:
                self.add_error(name, _("This day lies ahead. Enter it once it has been done."))
        if typed.get("point_nothing_dug") and typed.get("locate_ticket"):
            self.add_error(
                "locate_ticket", _("There is a locate ticket, so something was dug. Which is it?")
            )
        return typed

    def odd(self):
        typed = self.cleaned_data
        return [
            *doubts.cabinet_doubts(typed.get("cabinet_above_water_m")),
            *doubts.schedule_doubts(typed.get("hours_per_day")),
            *doubts.locate_doubts(typed.get("located_on"), self.sheet.system.installed_on),
        ]

    def values(self):
        return {
            "system": self.pick("cabinet_note", "supply_note"),
            "record": self.pick(*self.RECORD),
            "hours_per_day": self.cleaned_data["hours_per_day"],
        }


class StartForm(StepForm):
    """Times are those of the site; the view sets its zone."""

    step = Step.START
    points = (Point.RESTART_CAUTION, Point.RAMP_PLAN_GIVEN)
    started_at = forms.DateTimeField(
        label=_("Air was first switched on at"),
        required=False,
        widget=MOMENT,
        help_text=_("Time at the site. From then on it runs in by steps, as the plan says."),
    )

    def values(self):
        return {"started_at": self.cleaned_data["started_at"]}


class PapersForm(StepForm):
    step = Step.PAPERS
    points = (Point.TALK_GIVEN, Point.THIN_ICE_GIVEN)
    winter = forms.ChoiceField(
        label=_("How it spends the winter"),
        required=False,
        choices=[
            ("", _("Not asked yet")),
            (WinterMode.RUN_DEEP.value, _("Runs, plates deep")),
            (WinterMode.RUN_SHALLOW.value, _("Runs, plates shallow")),
            (WinterMode.SHUT_DOWN.value, _("Shut down")),
            (WinterMode.UNDECIDED.value, _("Ask in September")),
        ],
    )

    def known(self, sheet):
        mode, later = sheet.system.winter_mode, sheet.answered(Point.WINTER_ASKED_LATER)
        return {"winter": mode if mode != WinterMode.UNDECIDED or later else ""}

    def values(self):
        word = self.cleaned_data["winter"]
        return {"winter_mode": WinterMode(word) if word else None}
