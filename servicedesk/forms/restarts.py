"""What is read before a start, what a manager answers for, and what became of a day's run."""

from datetime import timedelta

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from customers.kinds import Units
from equipment.actions.profiles import Probe
from servicedesk.actions.restarts.approve import CHOICES, Approval
from servicedesk.actions.restarts.known import Known
from servicedesk.actions.restarts.propose import Told
from servicedesk.actions.restarts.run import StepSeen
from servicedesk.forms.states import MOMENT
from servicedesk.models import Restart
from servicedesk.planning.restart.proposal import run_words
from servicedesk.planning.restart.ramps import StepEnd
from servicedesk.planning.restart.readings import Fish
from servicedesk.planning.restart.stops import DARK, GASPING, SMELL
from servicedesk.planning.restart.table import BY_CODE

ROWS = 6
YES_NO = [("yes", _("Yes")), ("no", _("No")), ("unknown", _("Nobody knows"))]
TRUTH = {"yes": True, "no": False, "unknown": None}
SEEN = [
    (GASPING, _("Fish gasp at the surface")),
    (SMELL, _("Smell of rotten eggs that stays")),
    (DARK, _("Dark water spreads")),
]
DAY_INPUT = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
FIGURE = {"inputmode": "decimal", "autocomplete": "off"}


def _said(value):
    return {True: "yes", False: "no", None: "unknown"}[value]


def _asked(label, **options):
    return forms.ChoiceField(label=label, choices=YES_NO, widget=forms.RadioSelect, **options)


class ReadForm(forms.Form):
    """Times are those of the site; the view sets its zone."""

    read_at = forms.DateTimeField(label=_("Read at"), widget=MOMENT, help_text=_("Site time."))
    pond = forms.ChoiceField(label=_("Which pond was read"))
    depth_unit = forms.ChoiceField(
        label=_("Depths in"), choices=[("m", _("metres")), ("ft", _("feet"))]
    )
    temperature_unit = forms.ChoiceField(
        label=_("Temperatures in"), choices=[("C", "°C"), ("F", "°F")]
    )
    off_sure = forms.ChoiceField(
        label=_("Since when does it stand still?"),
        choices=[
            ("known", _("Known: since")),
            ("estimated", _("Estimated only")),
            ("unknown", _("Nobody knows")),
        ],
        widget=forms.RadioSelect,
        help_text=_("What is not known counts as long."),
    )
    off_since = forms.DateTimeField(label=_("Off since"), widget=MOMENT, required=False)
    ran_full_time = _asked(_("Did it run all day before that?"))
    layered_season = _asked(_("Is it the warm season, in which this water lies in layers?"))
    ice = forms.ChoiceField(
        label=_("Ice, seen from the bank"),
        choices=[
            ("no", _("None")),
            ("yes", _("Some, of any kind")),
            ("unknown", _("Nobody looked")),
        ],
        widget=forms.RadioSelect,
    )
    fish = forms.ChoiceField(
        label=_("Fish"),
        choices=[
            (Fish.WARM_WATER, _("Warm-water fish")),
            (Fish.COLD_WATER, _("Cold-water fish, such as trout")),
            (Fish.NONE, _("None")),
            (Fish.UNKNOWN, _("Nobody knows")),
        ],
    )
    past_kill = _asked(_("Did fish die here before?"))
    smell = forms.BooleanField(label=_("Foul smell or black water within minutes"), required=False)
    stop_sign = forms.BooleanField(
        label=_("Fish gasp, or dark water spreads, already now"), required=False
    )
    weather = forms.BooleanField(
        label=_("A hot, still, overcast spell is forecast within 48 hours"), required=False
    )
    confirmed = forms.BooleanField(
        label=_("The profile is as written"), required=False, widget=forms.HiddenInput
    )

    def __init__(self, *args, known: Known, units: str, opened_at, **options):
        us, here = units == Units.US, timezone.get_current_timezone()
        start = {
            "read_at": opened_at.astimezone(here),
            "pond": known.pond and known.pond.pk,
            "depth_unit": "ft" if us else "m",
            "temperature_unit": "F" if us else "C",
            "off_sure": "estimated" if known.off_is_assumed else "known",
            "off_since": known.off_since and known.off_since.astimezone(here),
            "ran_full_time": _said(known.ran_full_time),
            "layered_season": _said(known.layered_season),
            "ice": "" if known.ice is None else _said(known.ice),
            "fish": known.fish,
            "past_kill": _said(known.past_kill),
        }
        super().__init__(*args, initial=start, **options)
        self.known = known
        self.fields["pond"].choices = [(pond.pk, pond.name) for pond in known.ponds]
        self.fields["pond"].required = bool(known.ponds)
        if len(known.ponds) < 2:
            self.fields["pond"].widget = forms.HiddenInput()
        for n in range(ROWS):
            for name, label in (
                ("depth", _("Depth")),
                ("temperature", _("Temperature")),
                ("oxygen", _("Oxygen, mg/L")),
            ):
                words = _("%(what)s, row %(n)s") % {"what": label, "n": n + 1}
                widget = forms.TextInput(FIGURE | {"aria-label": words})
                self.fields[f"{name}_{n}"] = forms.CharField(
                    label=words, required=False, max_length=12, widget=widget
                )

    @property
    def rows(self):
        """The profile's fields, depth by depth."""
        names = ("depth", "temperature", "oxygen")
        return [[self[f"{name}_{n}"] for name in names] for n in range(ROWS)]

    @property
    def told_fields(self):
        """All other visible fields, in their order."""
        hidden = {"read_at", "pond", "depth_unit", "temperature_unit"}
        return [
            field
            for field in self.visible_fields()
            if field.name not in hidden and not field.name.rpartition("_")[2].isdecimal()
        ]

    def ask(self, says):
        """Odd figures: shown, with a tick to say that they are as they are."""
        self.fields["confirmed"].widget = forms.CheckboxInput()
        for sentence in says:
            self.add_error(None, sentence)

    def clean(self):
        typed = super().clean()
        since, read_at = typed.get("off_since"), typed.get("read_at")
        if typed.get("off_sure") == "known" and not since:
            self.add_error("off_since", _("Give the day and hour, or say that nobody knows."))
        if since and read_at and since > read_at:
            self.add_error("off_since", _("It stopped before it was read. Correct one of the two."))
        for n in range(ROWS):
            measured = typed.get(f"temperature_{n}") or typed.get(f"oxygen_{n}")
            if measured and not typed.get(f"depth_{n}"):
                self.add_error(None, _("Row %s of the profile has no depth.") % (n + 1))
        return typed

    def told(self) -> Told:
        """What was typed, as a proposal takes it."""
        typed = self.cleaned_data
        probes = [
            Probe(*(typed[f"{name}_{n}"] for name in ("depth", "temperature", "oxygen")))
            for n in range(ROWS)
            if typed[f"depth_{n}"]
        ]
        hours = None
        if typed["off_sure"] == "known":
            hours = (typed["read_at"] - typed["off_since"]) / timedelta(hours=1)
        pond = next((p for p in self.known.ponds if str(p.pk) == typed["pond"]), None)
        return Told(
            read_at=typed["read_at"],
            pond=pond,
            probes=probes,
            depth_unit=typed["depth_unit"],
            temperature_unit=typed["temperature_unit"],
            off_hours=hours,
            ran_full_time=TRUTH[typed["ran_full_time"]],
            fish=Fish(typed["fish"]),
            past_kill=TRUTH[typed["past_kill"]],
            smell=typed["smell"],
            stop_sign=typed["stop_sign"],
            ice=TRUTH[typed["ice"]],
            layered_season=TRUTH[typed["layered_season"]],
            bad_weather_coming=typed["weather"],
            confirmed=typed["confirmed"],
            others=tuple(p.name for p in self.known.ponds if p != pond),
        )


class ApproveForm(forms.Form):
    first_on = forms.DateField(label=_("First day"), widget=DAY_INPUT)
    starts = forms.TimeField(
        label=_("Each day from"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("Site time. In the morning, so that somebody sees what follows."),
    )
    watcher = forms.CharField(
        label=_("Who watches on working days"), max_length=120, required=False
    )
    weekend_watcher = forms.CharField(
        label=_("Who watches on Saturday and Sunday"), max_length=120, required=False
    )
    path = forms.ChoiceField(label=_("How it is brought up"), required=False)
    reason = forms.CharField(
        label=_("Reason, if it is not as proposed"), max_length=250, required=False
    )
    adviser = forms.CharField(
        label=_("Fish adviser, and what he said"), max_length=200, required=False
    )
    ice_word = forms.CharField(
        label=_("Who saw the signs stand, from the bank"), max_length=200, required=False
    )

    def __init__(self, *args, restart: Restart, today, **options):
        start = {"first_on": today, "starts": "08:00", "path": restart.path}
        super().__init__(*args, initial=start, **options)
        said = restart.proposed
        as_said = _("As proposed: %s") % said["name"]
        self.fields["path"].choices = [(said["path"], as_said)] + [
            (code, f"{BY_CODE[code].name} ({', '.join(run_words(m) for m in minutes)})")
            for code, minutes in CHOICES.items()
            if code != said["path"]
        ]
        if said["path"] != "R0":
            del self.fields["adviser"]
        if said["path"] != "R1":
            del self.fields["ice_word"]

    def given(self) -> Approval:
        return Approval(**self.cleaned_data)


class StartForm(forms.Form):
    told_how = forms.CharField(
        label=_("If the mail has not gone out: whom you told, and how"),
        max_length=200,
        required=False,
    )
    caution_read = forms.BooleanField(
        label=_("I have read the cautions, and somebody stays for the first half hour"),
        error_messages={"required": _("Read the cautions, and confirm that you did.")},
    )


class StepForm(forms.Form):
    on = forms.DateField(label=_("Day"), widget=DAY_INPUT)
    end = forms.ChoiceField(
        label=_("What became of it"),
        choices=[
            (StepEnd.DONE, _("It ran")),
            (StepEnd.MISSED, _("It was left out")),
            (StepEnd.STOPPED, _("Stopped: something was wrong")),
        ],
        widget=forms.RadioSelect,
    )
    minutes = forms.IntegerField(
        label=_("Minutes that it ran"), min_value=0, max_value=1440, required=False
    )
    before_mg_l = forms.FloatField(
        label=_("Oxygen near the surface before, mg/L"), min_value=0, max_value=25, required=False
    )
    after_mg_l = forms.FloatField(
        label=_("Oxygen near the surface after, mg/L"), min_value=0, max_value=25, required=False
    )
    seen = forms.MultipleChoiceField(
        label=_("Seen"), choices=SEEN, required=False, widget=forms.CheckboxSelectMultiple
    )
    note = forms.CharField(label=_("Note"), max_length=250, required=False)

    def __init__(self, *args, today, minutes, **options):
        super().__init__(*args, initial={"on": today, "minutes": minutes}, **options)

    def clean(self):
        typed = super().clean()
        if typed.get("end") == StepEnd.DONE and not typed.get("minutes"):
            self.add_error("minutes", _("Say how many minutes it ran."))
        return typed

    def said(self) -> StepSeen:
        typed = self.cleaned_data
        return StepSeen(
            StepEnd(typed["end"]),
            typed["minutes"] or 0,
            typed["before_mg_l"],
            typed["after_mg_l"],
            tuple(typed["seen"]),
            typed["note"],
        )


class StopForm(forms.Form):
    seen = forms.MultipleChoiceField(
        label=_("What is wrong"), choices=SEEN, required=False, widget=forms.CheckboxSelectMultiple
    )
    words = forms.CharField(label=_("In your own words"), max_length=250, required=False)
    switched_off = forms.BooleanField(label=_("It is switched off, timer too"), required=False)

    def clean(self):
        typed = super().clean()
        if not typed.get("seen") and not typed.get("words"):
            raise forms.ValidationError(_("Tick what is wrong, or write it."))
        return typed


class CloseForm(forms.Form):
    reason = forms.CharField(label=_("Why it is given up"), max_length=250)


class WatchForm(forms.Form):
    on = forms.DateField(label=_("Day"), widget=DAY_INPUT)
    name = forms.CharField(label=_("Who watches"), max_length=120)
