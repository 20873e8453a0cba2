"""What is asked to plan a system, to put one into service, to change its plates and to move it."""

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from customers.models import Ownership, Pond
from equipment.actions.configurations import FIELDS, faults_of_line
from equipment.kinds import PositionKind, SystemState
from equipment.models import ComponentType, ConfigurationLine, Position
from servicedesk.forms.commissioning.base import day_input, key_of
from servicedesk.forms.commissioning.lines import PLACES
from servicedesk.forms.commissioning.measures import BORE, MeasureField, NumberField
from servicedesk.forms.states import MOMENT
from servicedesk.planning.commissioning import gap_doubts


class PondField(forms.CharField):
    """A pond by its number, or by its name where no other bears it."""

    def clean(self, value):
        word = super().clean(value).strip()
        if not word:
            return None
        found = list(Pond.objects.filter(key__iexact=word).select_related("site")[:1])
        found = found or list(Pond.objects.filter(name__iexact=word).select_related("site")[:6])
        if len(found) == 1:
            return found[0]
        if not found:
            raise forms.ValidationError(_none_such(word))
        keys = ", ".join(f"{pond.key} ({pond.site})" for pond in found)
        raise forms.ValidationError(
            _("Several ponds bear this name. Write the number of one: %s.") % keys
        )


def _none_such(word):
    """What to write instead: ponds whose name, number or site holds the word."""
    held = Q(name__icontains=word) | Q(key__icontains=word)
    held |= Q(site__key__iexact=word) | Q(site__name__icontains=word)
    near = Pond.objects.filter(held).select_related("site").order_by("name", "key")[:6]
    if near:
        keys = ", ".join(f"{pond.name}: {pond.key} ({pond.site})" for pond in near)
        return _("There is no pond with just this number or name. Write the number of one: %s.") % (
            keys
        )
    return _("There is no pond with this number or name. Look it up, or load the register.")


class PlanForm(forms.Form):
    pond = PondField(label=_("Pond: its number or name"))
    key = forms.CharField(label=_("Number of the system"), max_length=40)
    name = forms.CharField(
        label=_("Name on the cabinet's label"),
        max_length=80,
        required=False,
        help_text=_("Empty: the pond's name."),
    )
    installed_on = forms.DateField(
        label=_("Is to be installed on"),
        widget=day_input(),
        help_text=_("The day may lie ahead; it can be corrected when it stands there."),
    )
    compressor = forms.ModelChoiceField(
        label=_("Model of the compressor"),
        required=False,
        queryset=ComponentType.objects.filter(kind=PositionKind.COMPRESSOR).order_by(
            "maker", "model"
        ),
        empty_label=_("Not chosen yet"),
    )


class ServiceForm(forms.Form):
    """Times are those of the site; the view sets its zone."""

    at = forms.DateTimeField(
        label=_("In service since"), widget=MOMENT, help_text=_("Time at the site.")
    )
    state = forms.ChoiceField(
        label=_("It runs"),
        choices=[
            (SystemState.RUNNING.value, _("all day")),
            (SystemState.RUNNING_TIMER.value, _("by its timer")),
            (SystemState.RUNNING_WINTER_DEEP.value, _("in winter, plates deep")),
            (SystemState.RUNNING_WINTER_SHALLOW.value, _("in winter, plates shallow")),
        ],
    )

    def __init__(self, *args, sheet, **options):
        super().__init__(*args, **options)
        self.sheet, self.confirmed = sheet, []

    def questions(self):
        """(key, sentence) of each doubt that nobody has looked at again."""
        asked = []
        if self.sheet.is_new:
            on = self.sheet.day_of(self.cleaned_data["at"])
            asked = [(key_of(s), s) for s in gap_doubts(self.sheet.system.installed_on, on)]
        sure = set(self.data.getlist("sure"))
        self.confirmed = [says for key, says in asked if key in sure]
        return [(key, says) for key, says in asked if key not in sure]


class MoveForm(forms.Form):
    """Times are those of the new site, which is not known before; the view takes the old one's."""

    pond = PondField(label=_("To which pond: its number or name"))
    at = forms.DateTimeField(
        label=_("Moved at"), widget=MOMENT, help_text=_("Time at the site that it left.")
    )
    new_membranes = forms.BooleanField(
        label=_("The plates got new membranes"),
        required=False,
        help_text=_("Without the tick the old ones go on ageing."),
    )

    def __init__(self, *args, system, today, **options):
        """A pond of somebody else is asked about once: numbers and names are easily mistaken."""
        super().__init__(*args, **options)
        pond = self._typed()
        if pond is None:
            return
        here = Position.objects.lying().filter(system=system).values("pond")
        left = _owners(today, Q(site=system.site) | Q(pond__in=here))
        new = _owners(today, Q(site=pond.site) | Q(pond=pond))
        if left != new:
            nobody = _("an owner who is not known")
            self.fields["sure"] = forms.BooleanField(
                label=_("It goes from %(old)s to %(new)s")
                % {"old": ", ".join(left) or nobody, "new": ", ".join(new) or nobody},
                help_text=_("The pond belongs to somebody else."),
                error_messages={"required": _("Tick this if that is what you mean.")},
            )

    def _typed(self):
        try:
            word = self.data.get(self.add_prefix("pond"))
            return self.fields["pond"].clean(word) if self.is_bound else None
        except forms.ValidationError:
            return None


def _owners(day, of):
    found = Ownership.objects.on_day(day).filter(of).select_related("customer")
    return sorted({str(row.customer) for row in found})


class ConfigurationForm(forms.Form):
    """Each plate's line as it lies now, to be changed; what is left alone is carried over."""

    from_on = forms.DateField(label=_("Since"), widget=day_input())
    name = forms.CharField(
        label=_("Name"), max_length=60, help_text=_("Such as summer, or winter shallow.")
    )
    because = forms.CharField(
        label=_("What was changed, and why"),
        max_length=200,
        help_text=_("Such as: plates raised for winter; pond dredged; line to D2 replaced."),
    )
    settles = forms.BooleanField(
        label=_("Ask for a second set of readings, 7 to 30 days later"),
        required=False,
        initial=True,
    )
    ASKED = ("depth_m", "valve_open_percent", "line_length_m", "bore_m", "membranes")

    def __init__(self, *args, system, before, user, **options):
        super().__init__(*args, **options)
        own = Position.objects.lying().filter(system=system, kind=PositionKind.DIFFUSER)
        self.plates = list(own.select_related("pond").order_by("label"))
        lines = ConfigurationLine.objects.filter(configuration=before) if before else ()
        self.lines = {line.position_id: line for line in lines}
        for plate in self.plates:
            for name, field in self._fields(plate).items():
                known = getattr(self.lines.get(plate.pk), name, None)
                field.initial = known
                if isinstance(field, MeasureField):
                    field.read_in(user.units, known)
                self.fields[f"{name}_{plate.pk}"] = field

    def _fields(self, plate):
        return {
            "depth_m": MeasureField("length", label=_("%s: depth") % plate),
            "valve_open_percent": NumberField(
                label=_("%s: valve, percent open") % plate, low=0, high=100
            ),
            "line_length_m": MeasureField("length", label=_("%s: length of its line") % plate),
            "bore_m": MeasureField(BORE, label=_("%s: inner diameter of its line") % plate),
            "membranes": forms.IntegerField(
                label=_("%s: membranes") % plate, required=False, min_value=1, max_value=24
            ),
            "check_valve_at": forms.ChoiceField(
                label=_("%s: check valve") % plate,
                required=False,
                choices=[("", _("Not entered")), *PLACES.items()],
            ),
            "in_use": forms.BooleanField(label=_("%s gets air") % plate, required=False),
        }

    def clean(self):
        typed = super().clean()
        for plate in self.plates:
            values = {name: typed.get(f"{name}_{plate.pk}") for name in self.ASKED}
            for name, says in faults_of_line(values, plate.pond).items():
                if f"{name}_{plate.pk}" not in self.errors:
                    self.add_error(f"{name}_{plate.pk}", says)
        return typed

    def changes(self):
        """By plate, the fields that differ from its line of before."""
        found = {}
        for plate in self.plates:
            line, values = self.lines.get(plate.pk), {}
            for name in FIELDS:
                value = self.cleaned_data[f"{name}_{plate.pk}"]
                if value is None and name in {"valve_open_percent", "membranes"}:
                    continue
                if line is None or getattr(line, name) != value:
                    values[name] = value
            if values and (line is not None or any(values.get(n) for n in self.ASKED)):
                found[plate.pk] = values
        return found
