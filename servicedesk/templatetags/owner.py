"""What owners press, in their words."""

from datetime import date

from django import template
from django.utils.translation import gettext

from customers.kinds import MailTopic
from servicedesk.forms.owner import SIGNS
from servicedesk.kinds import AnswerKind
from servicedesk.templatetags.house import day, words

register = template.Library()

UNSAID = {"topic", "systems", "pond"}  # the kind of answer and its place say that already


@register.filter
def ask_words(kind):
    """A kind of answer, before it is given."""
    return {
        AnswerKind.CONFIRM: gettext("Yes, come on that day"),
        AnswerKind.ANOTHER_DAY: gettext("Another day"),
        AnswerKind.DID_IT_MYSELF: gettext("I did it myself"),
        AnswerKind.PROBLEM: gettext("Report a problem"),
        AnswerKind.STOP_REMINDERS: gettext("Stop these reminders"),
        AnswerKind.CALL_ME: gettext("Call me"),
        AnswerKind.OFF_ON_PURPOSE: gettext("I turned it off on purpose"),
        AnswerKind.ALREADY_REPLACED: gettext("It has been replaced already"),
        AnswerKind.REMIND_LATER: gettext("Remind me in a week"),
        AnswerKind.WILL_WATCH: gettext("I will watch"),
        AnswerKind.CANNOT_WATCH: gettext("I cannot"),
        AnswerKind.WINTER_SHALLOW: gettext("A: run, plates moved to shallow water"),
        AnswerKind.WINTER_SHUT: gettext("B: shut down and drain"),
        AnswerKind.WINTER_DEEP: gettext("C: keep running deep"),
        AnswerKind.NOTICE_READ: gettext("I have read this and told my household"),
        AnswerKind.NEED_SIGNS: gettext("I need signs"),
        AnswerKind.ICE_IS_USED: gettext("Someone uses the ice"),
    }[kind]


@register.filter
def said_words(kind):
    """A kind of answer, once it is given."""
    return {
        AnswerKind.CONFIRM: gettext("You confirmed the visit."),
        AnswerKind.ANOTHER_DAY: gettext("You asked for another day."),
        AnswerKind.DID_IT_MYSELF: gettext("You did it yourself."),
        AnswerKind.PROBLEM: gettext("You reported a problem."),
        AnswerKind.STOP_REMINDERS: gettext("You get no more of these reminders."),
        AnswerKind.CALL_ME: gettext("You asked us to call."),
        AnswerKind.OFF_ON_PURPOSE: gettext("You turned it off on purpose."),
        AnswerKind.ALREADY_REPLACED: gettext("You say that it has been replaced already."),
        AnswerKind.REMIND_LATER: gettext("We remind you once more in a week."),
        AnswerKind.WILL_WATCH: gettext("You watch the pond while the air is brought up."),
        AnswerKind.CANNOT_WATCH: gettext("You cannot watch. We look for somebody else."),
        AnswerKind.WINTER_SHALLOW: gettext("You wish A: run, plates moved to shallow water."),
        AnswerKind.WINTER_SHUT: gettext("You wish B: shut down and drain."),
        AnswerKind.WINTER_DEEP: gettext("You wish C: keep running deep."),
        AnswerKind.NOTICE_READ: gettext("You have read the notice and told your household."),
        AnswerKind.NEED_SIGNS: gettext("You asked for signs."),
        AnswerKind.ICE_IS_USED: gettext("You told us that someone uses the ice."),
    }[kind]


@register.filter
def stop_words(topic):
    """What stops, when a kind of mail is stopped."""
    return {
        MailTopic.VISIT_PROPOSED: gettext("You will get no more mails about planned visits."),
        MailTopic.VISIT_REMINDER: gettext("You will get no more reminders just before a visit."),
        MailTopic.OWNER_TASK_DUE: gettext("You will get no more reminders of what you do."),
        MailTopic.OWNER_RHYTHM: gettext("You will get no more reminders of your own checks."),
        MailTopic.HEAT_ADVISORY: gettext("You will get no more mails about heat and oxygen."),
    }[topic]


@register.filter
def said_lines(answer):
    """What an owner gave with an answer: (its name, its words), for him and for the office."""
    names = {
        "visit": gettext("Visit"),
        "half_day": gettext("Part of the day"),
        "first_day": gettext("A day that suits"),
        "second_day": gettext("Another day that suits"),
        "words": gettext("In own words"),
        "text": gettext("In own words"),
        "note": gettext("Noticed"),
        "sign": gettext("Seen"),
        "done_on": gettext("Done on"),
        "job": gettext("Job"),
        "part": gettext("Part"),
        "phone": gettext("Phone"),
        "off_on": gettext("Off since"),
        "replaced_on": gettext("Replaced on"),
        "place": gettext("Water"),
        "name": gettext("Name typed"),
        "version": gettext("Words of the notice"),
    }
    return [
        (names.get(name, words(name)), _in_words(name, str(said)))
        for name, said in answer.said.items()
        if said and name not in UNSAID
    ]


def _in_words(name, said):
    if name == "sign":
        return dict(SIGNS).get(said.replace(" ", "_"), said)
    try:
        return day(date.fromisoformat(said))
    except ValueError:
        return said
