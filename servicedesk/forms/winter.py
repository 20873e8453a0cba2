"""A winter as somebody answers and decides it; what was seen from the bank; rules and words."""

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from servicedesk.forms.repair import DateInput
from servicedesk.forms.states import MOMENT
from servicedesk.kinds import IceSeen, PermitStand, RefusalKind, YesNo
from servicedesk.planning.winter.blocks import BlockName
from servicedesk.planning.winter.questions import Option

SHORT = {  # heads of columns; the whole question stands above the table
    "people_on_ice": gettext_lazy("People on the ice"),
    "signs_refused": gettext_lazy("Signs refused"),
    "fish_at_risk": gettext_lazy("Fish at risk"),
    "deep_few_fish": gettext_lazy("Deep, few fish"),
    "mild_winter": gettext_lazy("Mild winter"),
    "cold_sensitive_fish": gettext_lazy("Fish need warm bottom"),
    "waterfowl": gettext_lazy("Waterfowl"),
    "livestock": gettext_lazy("Livestock"),
}
ANSWERS = [("unknown", "?"), ("yes", gettext_lazy("yes")), ("no", gettext_lazy("no"))]
PERMITS = [
    (PermitStand.UNKNOWN.value, "?"),
    (PermitStand.NOT_NEEDED.value, gettext_lazy("not needed")),
    (PermitStand.IN_HAND.value, gettext_lazy("in hand")),
    (PermitStand.MISSING.value, gettext_lazy("missing")),
]
LEAVE = [("", gettext_lazy("as it is"))]
OPTIONS = [(option.value, option.label) for option in Option]
SEEN = [
    (YesNo.UNKNOWN.value, gettext_lazy("could not tell")),
    (YesNo.YES.value, gettext_lazy("yes")),
    (YesNo.NO.value, gettext_lazy("no")),
]
NO_CHOICE = [
    (BlockName.MARKING.value, gettext_lazy("Marking of the open water")),
    (BlockName.NOTICE.value, gettext_lazy("The notice, acknowledged by everybody")),
    (BlockName.SIGNS_SEEN.value, gettext_lazy("Signs seen standing after a stop")),
    (BlockName.OWNER_TOLD.value, gettext_lazy("The owner told of a stop")),
    (BlockName.OXYGEN.value, gettext_lazy("Oxygen measured under the ice")),
]


class WhoForm(forms.Form):
    """Who decides for the customer, and what is the same for every water that is still open."""

    decided_by = forms.CharField(
        label=gettext_lazy("Who decides, by name"), max_length=120, required=False
    )
    decided_on = forms.DateField(label=gettext_lazy("Decided on"), widget=DateInput, required=False)
    as_pointed = forms.BooleanField(
        label=gettext_lazy("Decide every open one as its answers point to"), required=False
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for key, words in SHORT.items():
            self.fields[f"all_{key}"] = _select(words, LEAVE + ANSWERS)
        self.fields["all_permit"] = _select(_("Permit"), LEAVE + PERMITS)

    def for_all(self, key):
        return self.cleaned_data.get(f"all_{key}") or ""


class RowForm(forms.Form):
    """The answers of one system and its decision."""

    def __init__(self, *args, ponds, **kwargs):
        super().__init__(*args, **kwargs)
        for key, words in SHORT.items():
            self.fields[key] = _select(f"{words}, {ponds}", ANSWERS)
        self.fields["permit"] = _select(f"{_('Permit')}, {ponds}", PERMITS)
        self.fields["permit_note"] = forms.CharField(
            label=_("Permit: number and end, or who was asked, %s") % ponds,
            required=False,
            max_length=160,
        )
        self.fields["decided"] = _select(
            f"{_('Decision')}, {ponds}", [("", _("open")), *OPTIONS], required=False
        )
        self.fields["reason"] = forms.CharField(
            label=_("Reason, if otherwise, %s") % ponds, required=False, max_length=300
        )
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = str(field.label)

    @property
    def answers(self):
        return [self[key] for key in SHORT]


def _select(label, choices, required=False):
    return forms.ChoiceField(label=label, choices=choices, required=required)


class LiftForm(forms.Form):
    block = forms.CharField(widget=forms.HiddenInput, max_length=20)
    reason = forms.CharField(label=gettext_lazy("Reason"), max_length=300)


class LookForm(forms.Form):
    """What was seen from the bank; times are those of the site."""

    at = forms.DateTimeField(
        label=gettext_lazy("When"), widget=MOMENT, help_text=gettext_lazy("Time at the site.")
    )
    ice = forms.ChoiceField(
        label=gettext_lazy("Ice"),
        choices=[
            (IceSeen.NONE.value, gettext_lazy("none")),
            (IceSeen.FORMING.value, gettext_lazy("forming")),
            (IceSeen.COVERED.value, gettext_lazy("covers the pond")),
            (IceSeen.UNKNOWN.value, gettext_lazy("could not tell")),
        ],
        widget=forms.RadioSelect,
    )
    people_on_ice = forms.ChoiceField(
        label=gettext_lazy("People on the ice"), choices=SEEN, widget=forms.RadioSelect
    )
    signs_standing = forms.ChoiceField(
        label=gettext_lazy("Signs on the bank stand"), choices=SEEN, widget=forms.RadioSelect
    )
    marking_placed = forms.ChoiceField(
        label=gettext_lazy("Open water is marked, as the local authority asks"),
        choices=SEEN,
        widget=forms.RadioSelect,
    )
    note = forms.CharField(label=gettext_lazy("Noticed"), max_length=200, required=False)


class RefusalForm(forms.Form):
    kind = forms.ChoiceField(
        label=gettext_lazy("What is refused"),
        choices=[
            (RefusalKind.SIGNS.value, gettext_lazy("Signs on the bank")),
            (RefusalKind.NOTICE.value, gettext_lazy("Acknowledging the notice")),
            (RefusalKind.SHUT_DOWN.value, gettext_lazy("Shutting down, though people use the ice")),
            (RefusalKind.OTHER.value, gettext_lazy("Something else that was recommended")),
        ],
    )
    recommended = forms.CharField(label=gettext_lazy("What we recommended"), max_length=300)
    because = forms.CharField(label=gettext_lazy("Why"), max_length=300)
    price = forms.CharField(label=gettext_lazy("Price"), max_length=80, required=False)
    put_off = forms.BooleanField(
        label=gettext_lazy("Put off, not refused for good"), required=False
    )
    said_by = forms.CharField(label=gettext_lazy("Who said so, by name"), max_length=120)
    said_on = forms.DateField(label=gettext_lazy("On"), widget=DateInput)
    how = forms.CharField(
        label=gettext_lazy("How"), max_length=80, help_text=gettext_lazy("By phone, signed paper.")
    )
    ask_again_on = forms.DateField(
        label=gettext_lazy("Ask again on"), widget=DateInput, required=False
    )


class WhyForm(forms.Form):
    why = forms.CharField(label=gettext_lazy("What changed, and who said so"), max_length=200)


class CallForm(forms.Form):
    """A call in which the notice was read out; times are those of the site."""

    name = forms.CharField(label=gettext_lazy("Who spoke, by name"), max_length=120)
    called_at = forms.DateTimeField(label=gettext_lazy("When"), widget=MOMENT)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)


class RulesForm(forms.Form):
    sign_rule = forms.CharField(
        label=gettext_lazy("Rule for signs and marking"),
        required=False,
        max_length=3000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=gettext_lazy("In the authority's own words. Empty: ask the local authority."),
    )
    inspection_days = forms.IntegerField(
        label=gettext_lazy("Signs are looked at every so many days"),
        required=False,
        min_value=1,
        max_value=60,
    )
    permit = forms.ChoiceField(
        label=gettext_lazy("A permit is needed"),
        choices=[
            (YesNo.UNKNOWN.value, gettext_lazy("ask the local authority")),
            (YesNo.YES.value, gettext_lazy("yes")),
            (YesNo.NO.value, gettext_lazy("no")),
        ],
    )
    checklist = forms.CharField(
        label=gettext_lazy("List to tick for each water and winter"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text=gettext_lazy(
            "One line each. A line that is not ticked bars every winter run there, and nobody can "
            "lift it."
        ),
    )
    no_choice = forms.MultipleChoiceField(
        label=gettext_lazy("What the authority asks, so that no manager may lift it"),
        choices=NO_CHOICE,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    asked = forms.CharField(
        label=gettext_lazy("Who was asked, when, and what was said"), required=False, max_length=200
    )
    source = forms.CharField(
        label=gettext_lazy("Law or letter it is taken from"), required=False, max_length=300
    )

    def clean_checklist(self):
        lines = [line.strip() for line in self.cleaned_data["checklist"].splitlines()]
        lines = list(dict.fromkeys(filter(None, lines)))
        if any(len(line) > 200 for line in lines):
            raise forms.ValidationError(_("A line has at most 200 letters. Make two of it."))
        return lines


class TextForm(forms.Form):
    text = forms.CharField(
        label=gettext_lazy("Words of the notice"),
        max_length=6000,
        widget=forms.Textarea(attrs={"rows": 18}),
        help_text=gettext_lazy(
            "An empty line begins a new paragraph. Name the danger; promise nothing about ice."
        ),
    )
