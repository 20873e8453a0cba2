"""What the phone's scripts say, in the language of whoever reads.

The scripts bring their English along; what a translation says otherwise goes with the page, so that
it is there without signal. tests/servicedesk/test_phone_words.py holds that nothing is forgotten.
"""

from django import template
from django.utils.html import json_script
from django.utils.translation import gettext, gettext_noop, ngettext, override

register = template.Library()

FORMS = {"one": 1, "two": 2, "few": 3, "many": 11, "other": 100}  # a number of each kind (CLDR)
SAID = (
    gettext_noop("In the normal band"),
    gettext_noop("{away} {unit} below normal."),
    gettext_noop("{away} {unit} above normal."),
    gettext_noop("As last time"),
    gettext_noop("{shown} {unit} more than last time"),
    gettext_noop("{shown} {unit} less than last time"),
    gettext_noop("Read it once more, and look at the unit."),
    gettext_noop("Alone at {place}, back by {time}"),
    gettext_noop("Give a time to come, within the next twelve hours."),
    gettext_noop(
        "Kept on this phone, and not with the office: nobody looks for you before this "
        "phone has signal. Agree on a time by voice. When you are back, press “I am all "
        "right” above."
    ),
    gettext_noop("All right, {place}"),
    gettext_noop("Kept on this phone."),
    gettext_noop("Did you mean {value}?"),
    gettext_noop("Yes, {value}"),
    gettext_noop("I looked again: {value} is right"),
    gettext_noop("I cannot tell: the office may ask"),
    gettext_noop("How did the old filter look? Choose one."),
    gettext_noop("Say what the outlet did when you pressed the test button."),
    gettext_noop("Say what you saw: was it done as reported?"),
    gettext_noop("Type the number on the nameplate, or tick that nobody can read it."),
    gettext_noop("Was it running when you came?"),
    gettext_noop(
        "The test stopped the system. Reset the outlet and see it run, or leave it off and say why."
    ),
    gettext_noop("Is it running as you leave? This must be answered."),
    gettext_noop(
        "An outlet that fails its test protects nobody: leave the system unplugged, "
        "answer no, and a licensed electrician is called."
    ),
    gettext_noop("Say why it stays off. The office is told at once."),
    gettext_noop("You found it off. Leave it off, or name the manager who approved the start."),
    gettext_noop("Enter the value, or say below why it was not read."),
    gettext_noop("“{text}” can be read in two ways. Write it without a comma."),
    gettext_noop("“{text}” is not a number. Write digits only, such as 6.5."),
    gettext_noop("This must lie between {low} and {high} {unit}. Look again, and check the unit."),
    gettext_noop("Read the caution on starting, and tick it."),
    gettext_noop("Answer the question, whichever way."),
    gettext_noop("Choose what you did."),
    gettext_noop("Choose what you saw."),
    gettext_noop("Choose what it is."),
    gettext_noop("Say why it was not done."),
    gettext_noop("You found it off: answer no here."),
    gettext_noop("What waits on this phone"),
    gettext_noop("Recorded by {who}. It is sent when {who} signs in on this phone."),
    gettext_noop(
        "Kept on this phone, {time}. The office knows nothing of it yet: nobody looks for"
        " you before this phone has signal."
    ),
    gettext_noop("Received; still to send: {photos}"),
    gettext_noop("Received"),
    gettext_noop("Kept on this phone, {time}, {photos}"),
    gettext_noop("Kept on this phone, {time}"),
    gettext_noop("Set its times by the office's clock"),
    gettext_noop("Mend it"),
    gettext_noop("Send it again"),
    gettext_noop("Throw it away"),
    gettext_noop("Throw this away for good? Nobody has received it."),
    gettext_noop("I am all right"),
    gettext_noop("Photo: {says}"),
    gettext_noop(
        "The clock of this phone is {by} ahead. Set it right; the office sees both times."
    ),
    gettext_noop(
        "The clock of this phone is {by} behind. Set it right; the office sees both times."
    ),
    gettext_noop("Waiting to send"),
    gettext_noop("The office has it."),
    gettext_noop(
        "This browser keeps nothing for this site. So these pages cannot work without "
        "signal: what you send goes at once, or not at all."
    ),
    gettext_noop("Kept on this phone"),
    gettext_noop(
        "{what}. It is sent by itself as soon as there is signal, while these pages are open."
    ),
    gettext_noop("Back to the stop"),
    gettext_noop("My day"),
    gettext_noop(
        "Nothing was kept, nothing was sent: this phone has no room ({fault}). Leave this"
        " page open, make room or take photos off, and press again."
    ),
    gettext_noop("Photo {number}"),
    gettext_noop("Take it off"),
    gettext_noop(
        "{file} cannot be read as a photo. Take it again, or set the camera to the most "
        "compatible format."
    ),
    gettext_noop("What you entered here since {time} is here again."),
    gettext_noop("Start afresh"),
    gettext_noop("Signing out needs signal."),
    gettext_noop("Kept on this phone. The office hears of it as soon as there is signal."),
    gettext_noop("No signal: this cannot be done from here now."),
    gettext_noop("All of today is on this phone."),
    gettext_noop(
        "{kept} of {of} pages of today are on this phone. Open this list again with signal."
    ),
    gettext_noop("Fetching today: {kept} of {of} pages."),
    gettext_noop("Without signal: this page is as it was at {time}."),
    gettext_noop("You are {far} from {name}. Is this the right pond? You may go on all the same."),
    gettext_noop("This is the place, as far as the phone can tell."),
    gettext_noop("The phone cannot tell where it is."),
    gettext_noop("Is this the right pond?"),
    gettext_noop(
        "This browser cannot keep what you record. So these pages cannot work without "
        "signal: what you send goes at once, or not at all."
    ),
    gettext_noop(
        "This address is opened without HTTPS. So these pages cannot work without signal:"
        " what you send goes at once, or not at all."
    ),
)
COUNTED = (
    lambda n: ngettext(
        "{n} minute",
        "{n} minutes",
        n,
    ),
    lambda n: ngettext(
        "{n} hour",
        "{n} hours",
        n,
    ),
    lambda n: ngettext(
        "{n} day",
        "{n} days",
        n,
    ),
    lambda n: ngettext(
        "{n} photo",
        "{n} photos",
        n,
    ),
    lambda n: ngettext(
        "{n} waiting to send, {refused} not taken: look at it",
        "{n} waiting to send, {refused} not taken: look at it",
        n,
    ),
    lambda n: ngettext(
        "{n} waiting to send, of somebody else",
        "{n} waiting to send, of somebody else",
        n,
    ),
    lambda n: ngettext(
        "{n} waiting to send. No signal; it goes by itself",
        "{n} waiting to send. No signal; it goes by itself",
        n,
    ),
    lambda n: ngettext(
        "{n} waiting to send",
        "{n} waiting to send",
        n,
    ),
    lambda n: ngettext(
        "Sign in to send {n} waiting",
        "Sign in to send {n} waiting",
        n,
    ),
    lambda n: ngettext(
        "{n} closing waits on this phone. Nothing is lost, and nothing is sent until "
        "you sign in here again. Sign out?",
        "{n} closings wait on this phone. Nothing is lost, and nothing is sent until "
        "you sign in here again. Sign out?",
        n,
    ),
)


@register.simple_tag
def phone_words():
    """An element for the scripts, where the reader's language says anything otherwise."""
    said = {words: gettext(words) for words in SAID}
    for counted in COUNTED:
        with override(None):
            one, many = counted(1), counted(2)
        forms = {kind: counted(number) for kind, number in FORMS.items()}
        said[one] = forms if set(forms.values()) - {one, many} else one
    told = {words: other for words, other in said.items() if other != words}
    return json_script(told, "words") if told else ""
