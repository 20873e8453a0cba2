"""Counting, moving and ordering parts."""

import uuid

from django import forms
from django.utils.translation import gettext_lazy as _

from equipment.models import Part
from servicedesk.models import PartOrder, Technician, Ticket

MOST = 9999


def day_field(label, **options):
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, **options)


class KeyForm(forms.Form):
    """Bears a key made with the page, so that pressing twice writes once."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)


class CountForm(KeyForm):
    """What lies in one place, part by part; an empty field says nothing."""

    def __init__(self, *args, parts, least, may_set_least, **options):
        super().__init__(*args, **options)
        self.parts, self.may_set_least = parts, may_set_least
        for part in parts:
            self.fields[f"count_{part.pk}"] = self._number(_("Counted: %s") % part)
            if may_set_least:
                field = self._number(_("At least: %s") % part)
                field.initial = least.get(part.pk)
                self.fields[f"least_{part.pk}"] = field

    def _number(self, label):
        widget = forms.NumberInput(attrs={"inputmode": "numeric", "min": 0, "aria-label": label})
        return forms.IntegerField(
            label=label, min_value=0, max_value=MOST, required=False, widget=widget
        )

    @property
    def counted(self):
        found = ((part, self.cleaned_data.get(f"count_{part.pk}")) for part in self.parts)
        return {part: pieces for part, pieces in found if pieces is not None}

    @property
    def least(self):
        if not self.may_set_least:
            return {}
        return {part: self.cleaned_data.get(f"least_{part.pk}") for part in self.parts}


class PartForm(KeyForm):
    part = forms.ModelChoiceField(Part.objects.order_by("number"), label=_("Part"))
    quantity = forms.IntegerField(label=_("How many"), min_value=1, max_value=MOST, initial=1)


class MoveForm(PartForm):
    """From here to another place."""

    target = forms.ChoiceField(label=_("Where to"))

    def __init__(self, *args, here, lies, **options):
        """lies: how many of each part lie here by the books; None where it was never counted."""
        super().__init__(*args, **options)
        vans = Technician.objects.filter(active=True).select_related("user")
        self.places = {str(van.pk): van for van in vans.order_by("user__first_name") if van != here}
        choices = [(pk, str(van)) for pk, van in self.places.items()]
        if here is not None:
            choices = [("shelf", _("The shelf")), *choices]
        self.fields["target"].choices = choices
        if self.is_bound and (too_few := self._too_few(lies)) is not None:
            self.fields["sure"] = forms.BooleanField(
                label=_("Move them all the same"),
                help_text=_("By the books only %d lie here. Count them if there are more.")
                % max(too_few, 0),
                error_messages={"required": _("Tick this if that is what you mean.")},
            )

    def _too_few(self, lies):
        """What lies here, where that is less than what is to go."""
        part, asked = (self.data.get(self.add_prefix(name)) for name in ("part", "quantity"))
        here = lies.get(part)
        try:
            quantity = self.fields["quantity"].clean(asked)
        except forms.ValidationError:
            return None
        return here if here is not None and quantity > here else None

    @property
    def technician(self):
        return self.places.get(self.cleaned_data["target"])


class RoomForm(forms.ModelForm):
    class Meta:
        model = Technician
        fields = ["van_units"]
        labels = {"van_units": _("Room in the van")}
        help_texts = {"van_units": _("How many filter elements it holds. Empty: enough for all.")}


class OrderForm(KeyForm):
    """A part of the register, or one that is entered with the order."""

    part = forms.ModelChoiceField(Part.objects.order_by("number"), label=_("Part"), required=False)
    number = forms.CharField(
        label=_("Number of a new part"),
        max_length=40,
        required=False,
        help_text=_("Only where it is not in the list above."),
    )
    name = forms.CharField(label=_("Name of a new part"), max_length=120, required=False)
    quantity = forms.IntegerField(label=_("How many"), min_value=1, max_value=MOST, initial=1)
    ticket = forms.ModelChoiceField(
        Ticket.objects.none(),
        label=_("For ticket number"),
        required=False,
        widget=forms.NumberInput(attrs={"min": 1}),
        help_text=_("It is not planned before this part is here. Empty: for the shelf."),
        error_messages={"invalid_choice": _("There is no open ticket with this number.")},
    )
    ordered_on = day_field(_("Ordered on"))
    expected_on = day_field(
        _("Expected on"), required=False, help_text=_("Empty where nobody knows.")
    )
    note = forms.CharField(label=_("Note"), max_length=160, required=False)

    def __init__(self, *args, **options):
        super().__init__(*args, **options)
        self.fields["ticket"].queryset = Ticket.objects.open()

    def clean(self):
        data = super().clean()
        part, number = data.get("part"), data.get("number")
        if part and number:
            self.add_error("number", _("Choose a part or enter a new one, not both."))
        elif not part and not number:
            self.add_error("part", _("Choose the part, or enter a new one below."))
        elif not part and not data.get("name"):
            self.add_error("name", _("Say what the new part is."))
        return data

    def part_ordered(self):
        """The part that was chosen, else the new one, entered once."""
        data = self.cleaned_data
        if data["part"]:
            return data["part"]
        return Part.objects.get_or_create(number=data["number"], defaults={"name": data["name"]})[0]


class ExpectForm(forms.ModelForm):
    expected_on = day_field(_("Expected on"), required=False)

    class Meta:
        model = PartOrder
        fields = ["expected_on"]
