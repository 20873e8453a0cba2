"""Which labels are printed on what, and what a stranger may report from one."""

from dataclasses import dataclass
from uuid import uuid4

import django_filters
from django import forms
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from customers.models import Region
from servicedesk.forms.owner import SIGNS
from servicedesk.models import Label
from servicedesk.photos import NotAPhoto, cleaned


@dataclass(frozen=True)
class Sheet:
    """A sheet of labels as shops sell them; sizes in labels.css. Common practice, no source."""

    words: str
    each: int  # labels on a sheet
    code_mm: float  # the code from edge to edge, its quiet zone with it


SHEETS = {
    "a4-21": Sheet(_("A4, 21 labels of 63.5 by 38.1 mm"), 21, 30),
    "a4-8": Sheet(_("A4, 8 labels of 99.1 by 67.7 mm"), 8, 48),
    "letter-10": Sheet(_("Letter, 10 labels of 4 by 2 in"), 10, 42),
    "letter-6": Sheet(_("Letter, 6 labels of 4 by 3⅓ in"), 6, 56),
}


class LabelFilter(django_filters.FilterSet):
    """What the list of systems to label can be narrowed by."""

    text = django_filters.CharFilter(method="by_text", label=_("Site, system or number"))
    region = django_filters.ModelChoiceFilter(
        field_name="site__region",
        queryset=Region.objects.order_by("name"),
        label=_("Region"),
        empty_label=_("All"),
    )
    label = django_filters.ChoiceFilter(
        method="by_label",
        label=_("Label"),
        choices=[("none", _("Not printed yet")), ("printed", _("Printed"))],
        empty_label=_("All"),
    )

    def by_text(self, systems, _name, text):
        return systems.filter(
            Q(key__icontains=text)
            | Q(name__icontains=text)
            | Q(site__key__icontains=text)
            | Q(site__name__icontains=text)
            | Q(site__town__icontains=text)
        )

    def by_label(self, systems, _name, wanted):
        printed = Label.objects.standing().filter(system=OuterRef("pk"), printed_at__isnull=False)
        return systems.filter(Exists(printed) if wanted == "printed" else ~Exists(printed))


class LabelReportForm(forms.Form):
    """Whoever stands at the cabinet says what he sees; who he is he need not say."""

    uuid = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    sign = forms.ChoiceField(label=_("What do you see?"), choices=SIGNS, widget=forms.RadioSelect)
    words = forms.CharField(
        label=_("In your own words"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    name = forms.CharField(
        label=_("Your name"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    phone = forms.CharField(
        label=_("Your phone number"),
        required=False,
        max_length=40,
        help_text=_("Without it we cannot ask you anything."),
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "tel"}),
    )
    photo = forms.FileField(
        label=_("A photo"),
        required=False,
        help_text=_("Where it was taken is removed from it. Do not go nearer for it."),
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )

    def clean_photo(self):
        """The bytes that are kept: smaller, and without where and when it was taken."""
        file = self.cleaned_data["photo"]
        if not file:
            return None
        try:
            return cleaned(file, file.size)
        except NotAPhoto as refusal:
            raise forms.ValidationError(str(refusal)) from None
