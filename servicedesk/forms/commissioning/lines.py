"""What is asked of the lines: how they run, and one plate with its line at a time."""

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.models import Pond
from equipment.actions.configurations import faults_of_line
from equipment.kinds import CheckValvePlace, PositionKind
from equipment.models import ComponentType
from servicedesk.forms.commissioning.base import StepForm, text
from servicedesk.forms.commissioning.measures import BORE, MeasureField, NumberField
from servicedesk.kinds import PhotoKind, Point, Step
from servicedesk.planning import commissioning as doubts

PLACES = {
    CheckValvePlace.DIFFUSER: _("Just before the plate"),
    CheckValvePlace.MANIFOLD: _("At the manifold"),
    CheckValvePlace.COMPRESSOR: _("At the compressor"),
    CheckValvePlace.NONE: _("There is none"),
}


class LinesForm(StepForm):
    """`plate` is the one that is asked about; without one, a new plate."""

    step = Step.LINES
    points = (Point.NEVER_ALONE, Point.JACKETS_WORN)
    pictures = (PhotoKind.TRENCH,)
    LINE = ("depth_m", "line_length_m", "bore_m", "check_valve_at")
    label = text(_("Plate, as on the map"), 20)
    pond = forms.ModelChoiceField(None, label=_("Lies in"), required=False, empty_label=None)
    bearing_note = text(
        _("Where: bearing and distance from two marks on shore"),
        160,
        help_text=_("A position by satellite is 3 to 5 m off: two marks find the plate again."),
    )
    depth_m = MeasureField("length", label=_("Depth of the plate"))
    line_length_m = MeasureField("length", label=_("Length of its line, buried and in water"))
    bore_m = MeasureField(BORE, label=_("Inner diameter of its line"))
    membranes = forms.IntegerField(label=_("Membranes"), required=False, min_value=1, max_value=24)
    valve_open_percent = NumberField(label=_("Valve as left, percent open"), low=0, high=100)
    check_valve_at = forms.ChoiceField(
        label=_("Check valve"), required=False, choices=[("", _("Not entered")), *PLACES.items()]
    )
    plate_type = forms.ModelChoiceField(
        label=_("Model of the plate"),
        required=False,
        queryset=ComponentType.objects.filter(kind=PositionKind.DIFFUSER).order_by("maker"),
        empty_label=_("Not entered"),
    )
    in_use = forms.BooleanField(label=_("It gets air"), required=False)
    lines_note = text(
        _("Where the lines run: route, splices, low points"),
        2000,
        lines=True,
        help_text=_("As somebody would look for them in five years."),
    )
    burial_m = MeasureField("length", label=_("Depth in the ground"), low=0, high=3)

    def __init__(self, *args, plate=None, **options):
        self.plate = plate
        super().__init__(*args, **options)

    def known(self, sheet):
        known = {"lines_note": sheet.record.lines_note, "burial_m": sheet.record.burial_m}
        numbers = [int(p.label[1:]) for p in sheet.plates if p.label[1:].isdecimal()]
        start = {"label": f"D{max(numbers, default=0) + 1}", "membranes": 1, "in_use": True}
        start |= {"valve_open_percent": 100.0, "pond": next(iter(sheet.ponds), None)}
        if self.plate is None:
            return known | start
        line = sheet.lines.get(self.plate.pk)
        fields = ("membranes", "in_use", "valve_open_percent", *self.LINE)
        start |= {name: getattr(line, name) for name in fields} if line else {}
        start |= {name: getattr(self.plate, name) for name in ("label", "pond", "bearing_note")}
        fitted = next(iter(self.plate.fitted_now), None)
        return known | start | {"plate_type": fitted.component.type_id if fitted else None}

    def prepare(self):
        self.fields["pond"].queryset = Pond.objects.filter(site=self.sheet.site).order_by("name")

    @property
    def is_told(self):
        """Whether a line was typed, and not only how the lines run."""
        asked = (*self.LINE, "bearing_note")
        return self.plate is not None or any(self.cleaned_data.get(name) for name in asked)

    def clean(self):
        typed = super().clean()
        if not self.is_told:
            return typed
        for name in ("label", "pond"):
            if not typed.get(name):
                self.add_error(name, _("Name the plate, and the pond in which it lies."))
        for name, says in faults_of_line(self._line(), typed.get("pond")).items():
            if name not in self.errors:
                self.add_error(name, says)
        return typed

    def odd(self):
        typed = self.cleaned_data
        found = doubts.burial_doubts(typed.get("burial_m"))
        if not self.is_told:
            return found
        unit = self.sheet.compressor.component.type if self.sheet.compressor else None
        deep = typed.get("depth_m")
        if deep and unit:
            found += doubts.depth_doubts(deep, unit.compressor_kind, unit.pressure_max_pa)
        others = [p for p in self.sheet.plates_in_use if p != self.plate]
        share = unit.free_air_l_min / (len(others) + 1) if unit and unit.free_air_l_min else None
        asked = (typed.get(name) for name in ("depth_m", "line_length_m", "bore_m"))
        found += doubts.line_doubts(*asked, share, typed.get("check_valve_at") or "")
        valves = [
            self.sheet.lines[p.pk].valve_open_percent for p in others if p.pk in self.sheet.lines
        ]
        own = typed.get("valve_open_percent")
        return found + doubts.valve_doubts([*valves, 100 if own is None else own])

    def _line(self):
        typed = self.cleaned_data
        valve, membranes = typed.get("valve_open_percent"), typed.get("membranes")
        return {
            **{name: typed.get(name) for name in self.LINE[:3]},
            "check_valve_at": typed.get("check_valve_at") or "",
            "valve_open_percent": 100.0 if valve is None else valve,
            "membranes": membranes or 1,
            "in_use": bool(typed.get("in_use")),
        }

    def values(self):
        told = self.is_told
        return {
            "record": self.pick("lines_note", "burial_m"),
            "plate": self.plate,
            "place": self.pick("label", "pond", "bearing_note") if told else {},
            "line": self._line() if told else {},
            "plate_type": self.cleaned_data["plate_type"] if told else None,
        }
