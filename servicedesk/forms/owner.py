"""What an owner may say on the page behind a button."""

from datetime import timedelta
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from servicedesk.kinds import AnswerKind, DefectSign

LONGEST_AGO = timedelta(days=365)
SIGNS = [
    (DefectSign.NO_BOIL, _("No bubbles")),
    (DefectSign.WEAK_BOIL, _("Fewer bubbles than usual")),
    (DefectSign.NOISE, _("An unusual noise")),
    (DefectSign.SMELL, _("A bad smell")),
    (DefectSign.FISH_GASPING, _("Fish gasp at the surface")),
    (DefectSign.SECOND_OPENING, _("A hole in the ice that was not there")),
    (DefectSign.TRIPPING_OUTLET, _("The outlet trips")),
    (DefectSign.OTHER, _("Something else")),
]
ADVICE = {
    DefectSign.NO_BOIL: _("Do not switch anything on or off. We call you."),
    DefectSign.WEAK_BOIL: _("Change nothing on the system. We call you."),
    DefectSign.NOISE: _("Leave the cabinet closed and change nothing. We call you."),
    DefectSign.SMELL: _("Change nothing on the system. We call you."),
    DefectSign.FISH_GASPING: _("Change nothing on the system. Call us now."),
    DefectSign.SECOND_OPENING: _("Stay off the ice, keep others off, and call us now."),
    DefectSign.TRIPPING_OUTLET: _("Do not reset it. Nobody in the water. Call us now."),
    DefectSign.OTHER: _("Change nothing on the system. We call you."),
}


class OwnerForm(forms.Form):
    """Every form carries the UUID of its press, so that pressing twice records once."""

    uuid = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)

    def __init__(self, *args, matter, today, parts=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.matter, self.on, self.parts = matter, today, parts


class ConfirmForm(OwnerForm):
    pass


class StopForm(OwnerForm):
    pass


class AnotherDayForm(OwnerForm):
    first_day = forms.DateField(
        label=_("A day that suits"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    second_day = forms.DateField(
        label=_("Another day that suits"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    words = forms.CharField(
        label=_("In your own words"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "Which days and hours suit, or how we get in. Please write no gate codes here."
        ),
    )

    def clean(self):
        said = super().clean()
        if not self.errors and not any(said.get(name) for name in self.said_in):
            raise forms.ValidationError(_("Give a day that suits, or write when it does."))
        return said

    def clean_first_day(self):
        return self._to_come("first_day")

    def clean_second_day(self):
        return self._to_come("second_day")

    def _to_come(self, name):
        day = self.cleaned_data[name]
        if day and day <= self.on:
            raise forms.ValidationError(_("That day is over. Choose a day after today."))
        return day

    said_in = ("first_day", "second_day", "words")


class DidOwnForm(OwnerForm):
    done_on = forms.DateField(label=_("When?"), widget=forms.DateInput(attrs={"type": "date"}))
    note = forms.CharField(
        label=_("Anything you noticed"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["done_on"].initial = self.on

    def clean_done_on(self):
        day = self.cleaned_data["done_on"]
        if day > self.on:
            raise forms.ValidationError(_("That day is still to come. Give the day you did it."))
        if day < self.on - LONGEST_AGO:
            raise forms.ValidationError(
                _("That is more than a year ago. Give the last time you did it.")
            )
        return day


class DidItForm(DidOwnForm):
    ticket = forms.ModelChoiceField(None, label=_("What did you do?"), empty_label=_("Choose"))
    part = forms.ChoiceField(label=_("Which part did you use?"), required=False)
    field_order = ["uuid", "ticket", "done_on", "part", "note"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        tickets = self.matter.own_tasks
        field = self.fields["ticket"]
        field.queryset = type(tickets[0]).objects.filter(pk__in=[t.pk for t in tickets])
        field.queryset = field.queryset.select_related("task", "site")
        field.label_from_instance = lambda ticket: ticket.task.owner_name
        if len(tickets) == 1:
            field.initial = tickets[0].pk
            field.widget = forms.HiddenInput()
        self.fields["part"].choices = [
            ("", _("None, or I do not know")),
            *((str(part.pk), str(part)) for part in self.parts),
        ]

    @property
    def chosen_part(self):
        chosen = self.cleaned_data["part"]
        return next((part for part in self.parts if str(part.pk) == chosen), None)


class LaterForm(OwnerForm):
    pass


class ProblemForm(OwnerForm):
    sign = forms.ChoiceField(label=_("What do you see?"), choices=SIGNS, widget=forms.RadioSelect)
    words = forms.CharField(
        label=_("In your own words"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class CallMeForm(OwnerForm):
    phone = forms.CharField(label=_("Your phone number"), required=False, max_length=40)
    words = forms.CharField(
        label=_("What is it about?"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class OffOnPurposeForm(OwnerForm):
    off_on = forms.DateField(
        label=_("Since when is it off?"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    words = forms.CharField(
        label=_("Why?"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class AlreadyReplacedForm(OwnerForm):
    replaced_on = forms.DateField(
        label=_("When was it replaced?"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    words = forms.CharField(
        label=_("By whom, and what stands there now?"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class WordsForm(OwnerForm):
    words = forms.CharField(
        label=_("In your own words"),
        required=False,
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class NoticeReadForm(OwnerForm):
    name = forms.CharField(
        label=_("Your name"),
        max_length=120,
        help_text=_("Typing your name says: I have read this and told my household."),
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": _("Type your name.")},
    )


class IceIsUsedForm(WordsForm):
    words = forms.CharField(
        label=_("Who goes onto the ice, where and when?"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": _("Write in a few words who goes onto the ice.")},
    )


FORMS = {
    AnswerKind.CONFIRM: ConfirmForm,
    AnswerKind.ANOTHER_DAY: AnotherDayForm,
    AnswerKind.DID_IT_MYSELF: DidItForm,
    AnswerKind.PROBLEM: ProblemForm,
    AnswerKind.STOP_REMINDERS: StopForm,
    AnswerKind.CALL_ME: CallMeForm,
    AnswerKind.OFF_ON_PURPOSE: OffOnPurposeForm,
    AnswerKind.ALREADY_REPLACED: AlreadyReplacedForm,
    AnswerKind.REMIND_LATER: LaterForm,
    AnswerKind.WILL_WATCH: WordsForm,
    AnswerKind.CANNOT_WATCH: WordsForm,
    AnswerKind.WINTER_SHALLOW: WordsForm,
    AnswerKind.WINTER_SHUT: WordsForm,
    AnswerKind.WINTER_DEEP: WordsForm,
    AnswerKind.NOTICE_READ: NoticeReadForm,
    AnswerKind.NEED_SIGNS: WordsForm,
    AnswerKind.ICE_IS_USED: IceIsUsedForm,
}
