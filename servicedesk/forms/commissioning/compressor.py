"""What is asked of the compressor and of what is fitted beside it."""

from django import forms
from django.utils.translation import gettext_lazy as _

from customers.kinds import choices
from equipment.kinds import CompressorKind, PositionKind
from equipment.models import ComponentType
from equipment.physics import units
from servicedesk.actions.commissioning.fitted import sits_elsewhere
from servicedesk.forms.commissioning.base import StepForm, day_input, text
from servicedesk.forms.commissioning.measures import MeasureField, NumberField
from servicedesk.kinds import PhotoKind, Point, Step
from servicedesk.planning import commissioning as doubts

PSI_PA = units.to_stored("pressure", 1, "psi")


class CompressorForm(StepForm):
    step = Step.COMPRESSOR
    points = (Point.SERIAL_UNREADABLE, Point.NO_HOUR_METER)
    pictures = (PhotoKind.NAMEPLATE, PhotoKind.GAUGE)
    folded = (
        "maker",
        "model_name",
        "compressor_kind",
        "pressure_max_pa",
        "free_air_l_min",
        "power_w",
        "current_a",
        "voltage_v",
    )
    fold = _("A model that is not in the list")
    model = forms.ModelChoiceField(
        label=_("Model"),
        required=False,
        queryset=ComponentType.objects.filter(kind=PositionKind.COMPRESSOR).order_by(
            "maker", "model"
        ),
        empty_label=_("Not in the list: enter it below"),
    )
    maker = text(_("Maker"), 80)
    model_name = text(_("Name of the model"), 80)
    compressor_kind = forms.ChoiceField(
        label=_("Kind"),
        required=False,
        choices=lambda: [("", _("Choose one")), *choices(CompressorKind)],
    )
    pressure_max_pa = MeasureField(
        "pressure", label=_("Rated pressure"), low=PSI_PA, high=150 * PSI_PA
    )
    free_air_l_min = MeasureField("flow", label=_("Free air"), low=0.1, high=2832)
    power_w = NumberField(label=_("Power in watts"), low=5, high=7500)
    current_a = NumberField(label=_("Amps"), low=0.1, high=60)
    voltage_v = NumberField(label=_("Volts"), low=50, high=600)
    serial = text(_("Serial number"), 60)
    date_code = text(_("Date code"), 40)
    hours_before = NumberField(
        label=_("Hours it had run before"), low=0, high=500_000, help_text=_("0 for a new one.")
    )
    warranty_from = forms.DateField(label=_("Warranty from"), required=False, widget=day_input())
    warranty_months = NumberField(label=_("Warranty, months"), low=0, high=600)
    meter_serial = text(_("Hour meter: serial number"), 60)
    meter_start_h = NumberField(label=_("Hour meter: what it shows now"), low=0, high=200_000)
    gauge_label = text(_("Pressure gauge: what it is"), 80)
    gauge_full_scale = MeasureField(
        "pressure", label=_("Pressure gauge: end of its scale"), low=PSI_PA, high=300 * PSI_PA
    )
    gauge_error = NumberField(
        label=_("Pressure gauge: its error, percent of the scale"),
        low=0.1,
        high=25,
        help_text=_("Its class, printed on the dial. Most are 1 to 3; common practice, no source."),
    )
    relief_pa = MeasureField(
        "pressure", label=_("Relief valve opens at"), low=PSI_PA, high=100 * PSI_PA
    )
    NEW = ("maker", "model_name", "compressor_kind")

    def known(self, sheet):
        known = {
            "warranty_from": sheet.system.warranty_from or sheet.system.installed_on,
            "warranty_months": float(sheet.system.warranty_months or 24),
        }
        if sheet.compressor:
            unit = sheet.compressor.component
            known |= {"model": unit.type_id, "serial": unit.serial, "date_code": unit.date_code}
            known["hours_before"] = unit.hours_before
        if sheet.meter:
            known["meter_serial"] = sheet.meter.component.serial
            known["meter_start_h"] = sheet.meter.meter_start_h
        if sheet.gauge:
            known |= {"gauge_label": sheet.gauge.label, "gauge_error": sheet.gauge.error_percent}
            known["gauge_full_scale"] = sheet.gauge.full_scale
        if sheet.relief_valve:
            known["relief_pa"] = sheet.relief_valve.component.type.nameplate.get("set_pa")
        return known

    def clean(self):
        typed = super().clean()
        given = [name for name in self.NEW if typed.get(name)]
        if not typed.get("model") and 0 < len(given) < len(self.NEW):
            for name in set(self.NEW) - set(given):
                self.add_error(name, _("Maker, name and kind belong together."))
        if typed.get("model") and given:
            self.add_error("model", _("Choose a model of the list, or enter another: not both."))
        if typed.get("serial") and not (typed.get("model") or given):
            self.add_error("model", _("Choose the model that this serial number belongs to."))
        if typed.get("gauge_full_scale") and not typed.get("gauge_label"):
            self.add_error("gauge_label", _("Say which gauge, such as: cabinet, 0 to 15 psi."))
        return typed

    @property
    def kind(self):
        """The model as it stands in the register, or as it was typed; not saved yet."""
        typed = self.cleaned_data
        if typed.get("model"):
            return typed["model"]
        if not typed.get("maker"):
            return None
        return ComponentType(
            kind=PositionKind.COMPRESSOR,
            maker=typed["maker"],
            model=typed["model_name"],
            compressor_kind=typed["compressor_kind"],
            nameplate=self.pick("voltage_v") if typed.get("voltage_v") else {},
            **self.pick("pressure_max_pa", "free_air_l_min", "power_w", "current_a"),
        )

    def odd(self):
        typed, kind, found = self.cleaned_data, self.kind, []
        if kind is not None:
            found += doubts.compressor_doubts(kind.compressor_kind, kind.pressure_max_pa)
            found += self._twice(kind, typed.get("serial", ""))
        working = self.sheet.working_pa
        found += doubts.gauge_doubts(typed.get("gauge_full_scale"), working)
        rated = kind.pressure_max_pa if kind else None
        return found + doubts.relief_doubts(typed.get("relief_pa"), working, rated)

    def _twice(self, kind, serial):
        own = self.sheet.compressor.position if self.sheet.compressor else None
        other = sits_elsewhere(kind, serial, own) if kind.pk else None
        if other is None:
            return []
        return [
            f"A {kind} with the number {serial} sits in {other.position.system} already. Two units "
            "of one number do exist; if it is the same one, take it out there first."
        ]

    def values(self):
        typed = self.cleaned_data
        warranty = self.pick("warranty_from")
        months = typed["warranty_months"]
        warranty["warranty_months"] = int(months) if months is not None else None
        gauge = {
            "label": typed["gauge_label"],
            "full_scale": typed["gauge_full_scale"],
            "error_percent": typed["gauge_error"],
        }
        met = typed["meter_serial"] or typed["meter_start_h"] is not None
        unit = {"date_code": typed["date_code"], **warranty}
        return {
            "kind": self.kind,
            "serial": typed["serial"],
            "unit": unit | {"hours_before": typed["hours_before"] or 0},
            "system": warranty,
            "meter": (typed["meter_serial"], typed["meter_start_h"]) if met else None,
            "gauge": gauge if gauge["label"] else None,
            "relief_pa": typed["relief_pa"],
        }
