"""The figures by which readings are judged, each in the reader's unit and with what it rests on."""

from dataclasses import asdict, dataclass

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from equipment.condition.history import Tolerances
from equipment.physics import units
from equipment.physics.units import Dimension

SHARE, TIMES = "share", "times"


@dataclass(frozen=True)
class Asked:
    """A figure as it is asked for; `what` is a dimension, a share in percent or a plain number."""

    label: object
    what: str
    low: float  # in the stored unit
    high: float


PSI_PA = units.to_stored("pressure", 1.0, "psi")
ASKED = {
    "pressure_pa": Asked(_("Pressure off its baseline"), Dimension.PRESSURE, 500, 10 * PSI_PA),
    "pressure_share": Asked(_("or this share of it"), SHARE, 0.01, 0.5),
    "gauge_errors": Asked(_("or so many times the gauge's error"), TIMES, 1, 5),
    "limit_pa": Asked(_("Membranes are cleaned from a rise of"), Dimension.PRESSURE, 500, 1e5),
    "limit_share": Asked(_("or of this share"), SHARE, 0.02, 1),
    "physics_pa": Asked(
        _("Without a baseline: pressure off physics"), Dimension.PRESSURE, 500, 1e5
    ),
    "physics_share": Asked(_("or this share of it, without a baseline"), SHARE, 0.02, 1),
    "flow_share": Asked(_("Air flow off its baseline"), SHARE, 0.02, 0.8),
    "power_share": Asked(_("Volts times amperes off their baseline"), SHARE, 0.02, 0.8),
    "rise_c": Asked(_("Cabinet over outside air"), Dimension.TEMPERATURE_RISE, 1, 40),
    "before_c": Asked(
        _("Cabinet over outside air, without a baseline"), Dimension.TEMPERATURE_RISE, 2, 60
    ),
    "swing_m": Asked(_("How far a pond's water swings in a year"), Dimension.LENGTH, 0, 3),
}


class TolerancesForm(forms.Form):
    """Decimal comma or point; what is left empty is the program's figure again."""

    def __init__(self, *args, now: Tolerances, reader_units, **kwargs):
        super().__init__(*args, **kwargs)
        self.reader_units, usual = reader_units, asdict(Tolerances())
        for name, asked in ASKED.items():
            shown = self._shown(asked, usual[name])
            self.fields[name] = forms.CharField(
                label=f"{asked.label}, {self._unit(asked)}",
                required=False,
                max_length=20,
                initial=self._shown(asked, getattr(now, name)),
                help_text=_("Usual: %s. Our judgement, to be confirmed.") % shown,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )

    def clean(self):
        found, usual = super().clean(), asdict(Tolerances())
        for name, asked in ASKED.items():
            if name in found:
                try:
                    found[name] = self._stored(asked, found[name], usual[name])
                except ValidationError as error:
                    self.add_error(name, error)
        return found

    def _stored(self, asked, text, usual):
        if not text.strip():
            return usual
        try:
            typed = units.typed_number(text.replace("%", ""))
        except ValueError as error:
            raise ValidationError(str(error)) from None
        value = typed / self._factor(asked)
        if not asked.low <= value <= asked.high:
            low, high = self._shown(asked, asked.low), self._shown(asked, asked.high)
            raise ValidationError(
                _("Give a figure from %(low)s to %(high)s.") % {"low": low, "high": high}
            )
        return value

    def _shown(self, asked, value):
        return f"{value * self._factor(asked):.2f}".rstrip("0").rstrip(".")

    def _unit(self, asked):
        if asked.what == SHARE:
            return "%"
        if asked.what == TIMES:
            return _("times")
        return units.unit_name(units.readers_unit(asked.what, self.reader_units))

    def _factor(self, asked):
        if asked.what == SHARE:
            return 100.0
        if asked.what == TIMES:
            return 1.0
        return units.from_stored(asked.what, 1.0, units.readers_unit(asked.what, self.reader_units))
