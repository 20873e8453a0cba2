"""What is asked where one unit is exchanged for another."""

from django import forms
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from equipment.kinds import ComponentState, PositionKind, ReplacementWarranty
from equipment.models import Component, ComponentType, Fitting
from servicedesk.planning.warranty import Warranty, of_replacement, warranty_until

COUNTED = {PositionKind.METER, PositionKind.COMPRESSOR}  # these may show run hours
OURS = (ComponentState.LOANER, ComponentState.SPARE, ComponentState.IN_SHOP)
WHERE = [
    (ComponentState.IN_SHOP.value, _("To our shop")),
    (ComponentState.SPARE.value, _("To our spares")),
    (ComponentState.SCRAPPED.value, _("Scrapped")),
    (ComponentState.WITH_OWNER.value, _("Kept by the owner")),
]
RULES = [
    ("", _("As its maker's rule says")),
    (ReplacementWarranty.RESTARTS.value, _("A new one begins")),
    (ReplacementWarranty.INHERITS.value, _("The rest of the old one's goes on")),
]
WORDS = {"loaner": _("loaner"), "spare": _("spare"), "in_shop": _("in the shop")}


def units_to_hand(kind: str, position_id: int):
    """Units of a kind that may be fitted: at home now, those that sat here before come first."""
    sat = Fitting.objects.filter(component=OuterRef("pk"))
    units = Component.objects.filter(type__kind=kind).exclude(Exists(sat.filter(to_on=None)))
    units = units.annotate(was_here=Exists(sat.filter(position=position_id)), sat=Exists(sat))
    at_home = Q(state__in=OURS) | Q(state=ComponentState.IN_SERVICE, sat=False)
    return units.filter(at_home).select_related("type").order_by("-was_here", "state", "serial")


class UnitChoice(forms.ModelChoiceField):
    def label_from_instance(self, unit):
        words = WORDS.get(unit.state, _("in stock"))
        return f"{unit} ({words}{', ' + str(_('sat here before')) if unit.was_here else ''})"


class ExchangeForm(forms.Form):
    """A unit to hand, or one that is new in the register by its model and serial number."""

    unit = UnitChoice(
        None, label=_("Fitted: a unit we have"), required=False, empty_label=_("None of ours")
    )
    type = forms.ModelChoiceField(
        None,
        label=_("Or one that is new in our register: its model"),
        required=False,
        empty_label=_("No new one"),
    )
    serial = forms.CharField(label=_("Its serial number"), max_length=60, required=False)
    unreadable = forms.BooleanField(label=_("Its serial number cannot be read"), required=False)
    hours_before = forms.FloatField(
        label=_("Hours it ran before it came to us"), min_value=0, max_value=500_000, required=False
    )
    lent = forms.BooleanField(label=_("It is ours, and only lent"), required=False)
    on = forms.DateField(
        label=_("Day of the exchange"),
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text=_("A day that is past is entered at that day; due days follow."),
    )
    meter_end_h = forms.FloatField(
        label=_("Hours shown by the old one"), min_value=0, max_value=1_000_000, required=False
    )
    meter_start_h = forms.FloatField(
        label=_("Hours shown by the one fitted"), min_value=0, max_value=1_000_000, required=False
    )
    removed_to = forms.ChoiceField(label=_("Where the old one goes"), choices=WHERE)
    under_warranty = forms.BooleanField(
        label=_("Its maker gave the new one for the old one, under warranty"), required=False
    )
    rule = forms.ChoiceField(label=_("The new one's warranty then"), choices=RULES, required=False)
    warranty_from = forms.DateField(
        label=_("Or its own warranty: from"),
        widget=forms.DateInput(attrs={"type": "date"}),
        required=False,
    )
    warranty_months = forms.IntegerField(
        label=_("For how many months"), min_value=1, max_value=240, required=False
    )
    reason = forms.CharField(label=_("Reason"), max_length=250)
    checked = forms.BooleanField(
        label=_("I looked at the marked places, and they are right"), required=False
    )

    def __init__(self, *args, position, here, today, last_read=None, **kwargs):
        super().__init__(*args, **kwargs)
        self.position, self.here, self.on_day, self.last_read = position, here, today, last_read
        self.doubts = {}
        self.fields["unit"].queryset = units_to_hand(position.kind, position.pk)
        self.fields["type"].queryset = ComponentType.objects.filter(kind=position.kind).order_by(
            "maker", "model"
        )
        self.fields["on"].initial = today
        if not self.is_bound:
            del self.fields["checked"]
        if here is None:
            for name in ("removed_to", "under_warranty", "rule", "meter_end_h"):
                del self.fields[name]
        if position.kind not in COUNTED:
            for name in ("meter_end_h", "meter_start_h"):
                self.fields.pop(name, None)
        if position.kind != PositionKind.COMPRESSOR:
            del self.fields["hours_before"]

    def clean_on(self):
        on = self.cleaned_data["on"]
        if on > self.on_day:
            raise forms.ValidationError(_("That day is still to come. Give the day it was done."))
        return on

    def clean(self):
        said = super().clean()
        self._clean_unit(said)
        self._clean_meter(said)
        self._clean_warranty(said)
        if not self.doubts:
            del self.fields["checked"]
        elif not said.get("checked"):
            for name, words in self.doubts.items():
                self.add_error(name, words)
        return said

    def _clean_unit(self, said):
        if bool(said.get("unit")) == bool(said.get("type")) and not self.errors:
            self.add_error(
                "unit", _("Choose a unit we have, or the model of one that is new: one of the two.")
            )
        if not said.get("type"):
            return
        serial = said["serial"].strip()
        if bool(serial) == said["unreadable"]:
            self.add_error(
                "serial", _("Type the number on the nameplate, or tick that it cannot be read.")
            )
        same = Component.objects.filter(type=said["type"], serial__iexact=serial)
        if serial and (other := same.select_related("type").first()):
            self.doubts["serial"] = _(
                "Our register has a %(unit)s already. If it is the same one, choose it above; if "
                "two bear one number, tick that below."
            ) % {"unit": other}

    def _clean_meter(self, said):
        end, last = said.get("meter_end_h"), self.last_read
        if end is None or last is None or end >= last:
            return
        if self.here.component.type.nameplate.get("turns_at_h"):
            return
        self.doubts["meter_end_h"] = _(
            "It showed %(last)s h before, which is more. Look for a typing mistake. Where it began "
            "again at zero, have the figure at which it turns entered with its model first."
        ) % {"last": f"{last:,.0f}"}

    def _clean_warranty(self, said):
        if bool(said.get("warranty_from")) != bool(said.get("warranty_months")):
            self.add_error("warranty_months", _("Give both: from which day, and how many months."))
        if said.get("under_warranty") and said.get("on"):
            old = self.here.component
            until = warranty_until(old.warranty_from, old.warranty_months)
            if until and until <= said["on"]:
                self.doubts["under_warranty"] = _(
                    "By our register the old one's own warranty was over before that day."
                )
        asked = said.get("under_warranty") and not said.get("warranty_from")
        if asked and self._rule(said) == ReplacementWarranty.UNKNOWN:
            self.add_error(
                "rule",
                _("Its maker's rule is not entered. Ask the maker, and choose one of the two."),
            )

    def _rule(self, said):
        model = said.get("type") or (said.get("unit") and said["unit"].type)
        return said.get("rule") or (
            model.replacement_warranty if model else ReplacementWarranty.UNKNOWN
        )

    def warranty(self):
        """The warranty of the unit put in, as far as it is said; None leaves what is known."""
        said = self.cleaned_data
        if said.get("warranty_from"):
            return Warranty(said["warranty_from"], said["warranty_months"])
        model = said.get("type") or said["unit"].type
        if said.get("under_warranty"):
            old = self.here.component
            known = Warranty(old.warranty_from, old.warranty_months)
            return of_replacement(self._rule(said), known, model.warranty_months, said["on"])
        if said.get("type") and not said["lent"] and not said.get("hours_before"):
            return Warranty(said["on"], model.warranty_months) if model.warranty_months else None
        return None
