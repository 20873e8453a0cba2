"""What is read on the first day: typed as the gauge shows it, and kept as it was typed."""

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from equipment.actions.readings import Typed, faults_of
from equipment.kinds import PositionKind, Quantity
from equipment.physics import units
from servicedesk.forms.commissioning.base import StepForm
from servicedesk.forms.commissioning.measures import UnitInput, readers_unit
from servicedesk.forms.states import MOMENT
from servicedesk.forms.words import BUBBLES, NAMES, SKIPS
from servicedesk.kinds import PhotoKind, Step

OF_SYSTEM = (
    Quantity.PRESSURE,
    Quantity.FLOW,
    Quantity.CURRENT,
    Quantity.VOLTAGE,
    Quantity.CABINET_AIR,
    Quantity.OUTSIDE_AIR,
    Quantity.HEAD_TEMPERATURE,
)


class RawField(forms.MultiValueField):
    """A number and its unit, left as they are."""

    def __init__(self, quantity, **options):
        names = [(unit, units.unit_name(unit)) for unit in units.offered(quantity)]
        parts = [
            forms.CharField(required=False, max_length=40),
            forms.ChoiceField(choices=names, required=False),
        ]
        super().__init__(
            parts, require_all_fields=False, required=False, widget=UnitInput(names), **options
        )
        self.widget.name_unit(self.label)

    def compress(self, typed):
        return typed or ["", ""]


class ReadingsForm(StepForm):
    """Times are those of the site; the view sets its zone."""

    step = Step.READINGS
    pictures = (PhotoKind.BOIL,)
    taken_at = forms.DateTimeField(
        label=_("Read at"), widget=MOMENT, help_text=_("After it has run for 3 to 5 minutes.")
    )

    def known(self, sheet):
        at_site = self.opened_at.astimezone(timezone.get_current_timezone())
        return {"taken_at": at_site}

    def __init__(self, *args, now, **options):
        self.opened_at, self.keys = now, {}
        super().__init__(*args, **options)

    def prepare(self):
        for quantity in OF_SYSTEM:
            self._add(quantity, NAMES[quantity])
        for meter in self.sheet.places[PositionKind.METER]:
            self._add(Quantity.RUN_HOURS, NAMES[Quantity.RUN_HOURS], meter)
        for plate in self.sheet.plates_in_use:
            label = _("%(what)s, %(plate)s") % {
                "what": NAMES[Quantity.LINE_PRESSURE],
                "plate": plate,
            }
            self._add(Quantity.LINE_PRESSURE, label, plate)
            name = self._name(Quantity.BUBBLES, plate)
            self.keys[name] = (Quantity.BUBBLES, plate, None)
            self.fields[name] = forms.ChoiceField(
                label=_("Boil of %s") % plate,
                required=False,
                choices=BUBBLES,
                widget=forms.RadioSelect,
            )
        for pond in self.sheet.ponds:
            self._add(Quantity.LEVEL, _("Water of %s against its mark") % pond, pond=pond)
        self.fields["level_skipped"] = forms.ChoiceField(
            label=_("If the mark was not read: why"),
            required=False,
            choices=[("", _("It was read")), *SKIPS],
        )

    def _name(self, quantity, place=None):
        return f"{quantity}_{place.pk}" if place else str(quantity)

    def _add(self, quantity, label, position=None, pond=None):
        name = self._name(quantity, position or pond)
        self.keys[name] = (quantity, position, pond)
        unit = readers_unit(quantity, self.user.units)
        known = None if pond else self.sheet.readings.get((quantity, position and position.pk))
        typed = [known.typed_value, known.typed_unit] if known else ["", unit]
        self.fields[name] = RawField(quantity, label=label, initial=typed)

    def clean(self):
        typed = super().clean()
        if not typed.get(str(Quantity.PRESSURE), [""])[0]:
            self.add_error(str(Quantity.PRESSURE), _("Enter the pressure: all else hangs on it."))
        if not self.errors:
            for name, fault in self._faults().items():
                if not fault.question:
                    self.add_error(name, fault.says)
        return typed

    def _faults(self):
        """By field, what stands against a reading: a refusal, or a question."""
        names = {typed.key: name for name, typed in self._typed().items() if not self.keys[name][2]}
        found = faults_of(self.sheet.system, self.entries(), taken_at=self.cleaned_data["taken_at"])
        faults = {names[key]: fault for key, fault in found.items()}
        for pond, levels in self.of_ponds().items():
            taken_at = self.cleaned_data["taken_at"]
            for fault in faults_of(pond, levels, taken_at=taken_at).values():
                faults[self._name(Quantity.LEVEL, pond)] = fault
        return faults

    def _typed(self, *, sure=False):
        """What was entered, by field."""
        made = {}
        for name, (quantity, position, pond) in self.keys.items():
            value = self.cleaned_data.get(name)
            text, unit = value if isinstance(value, list) else (value or "", "")
            skipped = self.cleaned_data.get("level_skipped") if pond and not text else ""
            if text or skipped:
                made[name] = Typed(quantity, text, unit, position, skipped or "", confirmed=sure)
        return made

    def entries(self, *, sure=False):
        typed = self._typed(sure=sure)
        return [one for name, one in typed.items() if not self.keys[name][2]]

    def of_ponds(self, *, sure=False):
        typed = self._typed(sure=sure)
        return {
            self.keys[name][2]: [one]
            for name, one in typed.items()
            if self.keys[name][2] is not None
        }

    def odd(self):
        faults = self._faults()
        found = [self._sentence(n, f.says) for n, f in faults.items() if f.question]
        for name, (quantity, plate, _pond) in self.keys.items():
            if quantity == Quantity.BUBBLES and self.cleaned_data.get(name) in {"0", "1", "2"}:
                found.append(f"The boil of {plate} is weaker than normal. Is its valve open?")
        return found

    def _sentence(self, name, says):
        text, unit = self.cleaned_data[name]
        return f"{self.fields[name].label}, {text} {units.unit_name(unit)}: {says}"

    def values(self):
        return {
            "taken_at": self.cleaned_data["taken_at"],
            "entries": self.entries(sure=True),
            "of_ponds": self.of_ponds(sure=True),
        }
