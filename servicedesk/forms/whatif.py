"""What is asked of a simulated year: two settings, and what driving and time cost."""

from django import forms
from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from equipment.physics import units
from servicedesk.kinds import Clock, Who
from servicedesk.models import Rhythm, Task, Technician
from servicedesk.planning.likely import is_far_from
from servicedesk.planning.whatif.months import Rates
from servicedesk.planning.whatif.settings import MOST_PONDS, Interval, Settings, interval_from
from servicedesk.planning.whatif.year import ITERATIONS, MOST_WEEKS, WEEKS

INTERVALS = (1, 2, 3)  # how many tasks a form takes
COUNTED = [Clock.RUN, Clock.OP, Clock.CAL]


class SettingsForm(forms.Form):
    """The changes of one setting. Everything empty: the firm as it is."""

    absent = forms.ModelMultipleChoiceField(
        label=_("Technicians who are not there"),
        queryset=Technician.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    added = forms.IntegerField(
        label=_("Technicians more"),
        min_value=0,
        max_value=50,
        required=False,
        help_text=_("With the hours and skills of the first one who stays, from the shop."),
    )
    ponds = forms.IntegerField(
        label=_("Ponds more"),
        min_value=0,
        max_value=MOST_PONDS,
        required=False,
        help_text=_("Drawn from your own: the same work, somewhere between two neighbours."),
    )
    factor = forms.FloatField(
        label=_("All intervals times"),
        min_value=0.1,
        max_value=10,
        required=False,
        help_text=_("1.2: everything a fifth later. Seasons stay where they are."),
    )
    shop_lat = forms.FloatField(
        label=_("Its latitude"), min_value=-90, max_value=90, required=False
    )
    shop_lon = forms.FloatField(
        label=_("Its longitude"), min_value=-180, max_value=180, required=False
    )
    full_percent = forms.IntegerField(
        label=_("Share of a day that is filled, in percent"),
        min_value=10,
        max_value=100,
        required=False,
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        people = Technician.objects.filter(active=True).select_related("user")
        self.fields["absent"].queryset = people.order_by("user__first_name", "pk")
        counted = Rhythm.objects.filter(who=Who.TECHNICIAN, clock__in=COUNTED, task__active=True)
        self.units, self.every = {}, {}
        rows = counted.order_by("task", "number").values_list("task", "unit", "every")
        for pk, unit, every in rows:
            self.units.setdefault(pk, []).append(unit)
            self.every.setdefault((str(pk), unit), []).append(every or 0)
        for number in INTERVALS:
            self.fields[f"task_{number}"] = forms.ModelChoiceField(
                label=_("A task with another interval"),
                queryset=Task.objects.filter(pk__in=self.units).order_by("name"),
                required=False,
            )
            self.fields[f"interval_{number}"] = forms.CharField(
                label=_("Its new interval"),
                max_length=20,
                required=False,
                help_text=_("150d, 2000h, 6month, or x1.5"),
            )
            if self.is_bound and (doubted := self._doubted(number)):
                self.fields[f"sure_{number}"] = forms.BooleanField(
                    label=_("I mean %s") % doubted,
                    help_text=_("It is less than a fifth of today's, or more than five times it."),
                    error_messages={"required": _("Tick this if that is what you mean.")},
                )

    def _doubted(self, number):
        """An interval far from all that its task has today, as it was typed."""
        task, text = (
            self.data.get(self.add_prefix(f"{name}_{number}")) for name in ("task", "interval")
        )
        try:
            asked = interval_from(text or "")
        except ValueError:
            return None
        now = self.every.get((task, asked.unit), []) if asked.unit else [1.0]
        far = now and all(is_far_from(asked.every, every) for every in now)
        return text if task and far else None

    @property
    def firm_fields(self):
        return [self[name] for name in ("absent", "added", "ponds", "full_percent")]

    @property
    def interval_fields(self):
        rows = [(f"task_{n}", f"interval_{n}", f"sure_{n}") for n in INTERVALS]
        shown = [name for row in rows for name in row if name in self.fields]
        return [self["factor"], *(self[name] for name in shown)]

    @property
    def shop_fields(self):
        return [self["shop_lat"], self["shop_lon"]]

    def clean(self):
        data = super().clean()
        if (data.get("shop_lat") is None) != (data.get("shop_lon") is None):
            self.add_error("shop_lon", _t("Another shop needs both latitude and longitude."))
        everybody = self.fields["absent"].queryset.count()
        if everybody and len(data.get("absent") or ()) == everybody and not data.get("added"):
            self.add_error(
                "absent", _t("Somebody has to go to the ponds: let one stay, or add one.")
            )
        for number in INTERVALS:
            self._clean_interval(number, data)
        return data

    def _clean_interval(self, number, data):
        task, text = data.get(f"task_{number}"), data.get(f"interval_{number}")
        name = f"interval_{number}"
        if bool(task) != bool(text):
            at = name if task else f"task_{number}"
            self.add_error(at, _t("Task and new interval go together: fill both or neither."))
        elif task:
            try:
                interval = interval_from(text)
            except ValueError as error:
                self.add_error(name, str(error))
                return
            known = self.units[task.pk]
            if interval.unit and interval.unit not in known:
                said = _t("%(task)s is counted in %(units)s: use one of these.")
                units_said = _t(" and ").join(dict.fromkeys(known))
                self.add_error(name, said % {"task": task, "units": units_said})

    @property
    def settings(self):
        data = self.cleaned_data
        shop = (data["shop_lat"], data["shop_lon"])
        return Settings(
            absent=tuple(str(person.pk) for person in data["absent"]),
            added=data["added"] or 0,
            factor=data["factor"] or 1.0,
            intervals=self._intervals(),
            shop=None if None in shop else shop,
            ponds=data["ponds"] or 0,
            full_percent=data["full_percent"],
        )

    def _intervals(self) -> dict[str, Interval]:
        rows = ((self.cleaned_data[f"task_{n}"], f"interval_{n}") for n in INTERVALS)
        return {task.slug: interval_from(self.cleaned_data[name]) for task, name in rows if task}


class WhatIfForm(forms.Form):
    """What holds for both settings."""

    name = forms.CharField(label=_("Name"), max_length=120, required=False)
    weeks = forms.IntegerField(label=_("Weeks"), min_value=1, max_value=MOST_WEEKS, initial=WEEKS)
    iterations = forms.IntegerField(
        label=_("Rounds of the search, for each week"),
        min_value=1,
        max_value=5000,
        initial=ITERATIONS,
        help_text=_("More rounds find shorter routes and take longer."),
    )
    seed = forms.IntegerField(
        label=_("Number of the draw"),
        min_value=0,
        max_value=1_000_000,
        initial=1,
        help_text=_("The same number draws the same new ponds and searches the same way."),
    )
    per_way = forms.FloatField(min_value=0, max_value=1000)
    per_hour = forms.FloatField(
        label=_("Cost of a paid hour"),
        min_value=0,
        max_value=10_000,
        initial=Rates().per_hour,
        help_text=_("In your money; the figure given is common practice, no source."),
    )

    def __init__(self, *args, unit="km", **kwargs):
        super().__init__(*args, **kwargs)
        self.ways_a_km = units.from_stored("distance", 1000, unit)
        way = self.fields["per_way"]
        way.label = _t("Cost of a mile") if unit == "mi" else _t("Cost of a kilometre")
        way.initial = round(Rates().per_km / self.ways_a_km, 2)
        way.help_text = self.fields["per_hour"].help_text

    @property
    def rates(self):
        data = self.cleaned_data
        return Rates(per_km=data["per_way"] * self.ways_a_km, per_hour=data["per_hour"])
