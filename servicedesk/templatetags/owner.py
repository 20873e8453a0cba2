"""What owners press, in their words."""

from django import template
from django.utils.translation import gettext

from customers.kinds import MailTopic
from servicedesk.kinds import AnswerKind

register = template.Library()


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
    }[kind]


@register.filter
def stop_words(topic):
    """What stops, when a kind of mail is stopped."""
    return {
        MailTopic.VISIT_PROPOSED: gettext("You will get no more mails about planned visits."),
        MailTopic.VISIT_REMINDER: gettext("You will get no more reminders just before a visit."),
        MailTopic.OWNER_TASK_DUE: gettext("You will get no more reminders of what you do."),
    }[topic]
