from django import forms
from django.utils.translation import gettext_lazy as _


class UploadForm(forms.Form):
    file = forms.FileField(
        label=_("Register"),
        help_text=_("A CSV or XLSX file. You see what it would change before anything is written."),
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,text/csv"}),
        error_messages={
            "required": _("Choose the file with your register."),
            "empty": _("The file is empty. Choose the file with your register."),
        },
    )
