"""Mails to owners: what waits, what went, and what a person has to decide."""

import django_filters
import django_tables2
from django.db.models import Q
from django.utils.html import format_html
from django.utils.translation import gettext_lazy as _

from customers.models.parties import mail_topics
from servicedesk.actions.alarms import GIVE_UP_AFTER
from servicedesk.kinds import MessageState
from servicedesk.models import Alarm, Message
from servicedesk.templatetags import house

STATES = {  # the words on screen, and the shape beside them
    MessageState.QUEUED: ("rest", _("Waiting")),
    MessageState.SENDING: ("drift", _("Going out")),
    MessageState.SENT: ("ok", _("Sent")),
    MessageState.FAILED: ("late", _("Failed")),
    MessageState.UNSURE: ("due", _("Unsure, decide")),
    MessageState.CANCELLED: ("rest", _("Cancelled")),
    MessageState.SUPPRESSED: ("rest", _("Settled")),
}


def state_tag(state):
    shape, words = STATES[state]
    return house.tag(shape, words)


ALARMS_SHOWN = 20


def alarms_shown(now):
    """The newest mails about danger to our own people, each with what became of it."""
    found = Alarm.objects.select_related("office_task__site").order_by("-made_at", "-pk")
    return [
        {"alarm": alarm, "tag": _alarm_tag(alarm, now), "site": alarm.office_task.site}
        for alarm in found[:ALARMS_SHOWN]
    ]


def _alarm_tag(alarm, now):
    if alarm.sent_at:
        return house.tag("ok", _("Sent"))
    if alarm.made_at <= now - GIVE_UP_AFTER:
        return house.tag("late", _("Never went out"))
    return house.tag("late", _("Not taken yet")) if alarm.attempts else state_tag("queued")


class MessageFilter(django_filters.FilterSet):
    text = django_filters.CharFilter(method="by_text", label=_("Reader, address or subject"))
    state = django_filters.ChoiceFilter(
        label=_("State"),
        choices=[(state.value, words) for state, (_shape, words) in STATES.items()],
        empty_label=_("All"),
    )
    topic = django_filters.ChoiceFilter(label=_("About"), choices=mail_topics, empty_label=_("All"))

    class Meta:
        model = Message
        fields = ["text", "state", "topic"]

    def by_text(self, found, _name, text):
        return found.filter(
            Q(contact__name__icontains=text)
            | Q(to_address__icontains=text)
            | Q(subject__icontains=text)
        )


class MessageTable(django_tables2.Table):
    subject = django_tables2.Column(verbose_name=_("Mail"), empty_values=())
    contact = django_tables2.Column(verbose_name=_("To"), order_by=("contact__name",))
    state = django_tables2.Column(verbose_name=_("State"))
    when = django_tables2.Column(
        verbose_name=_("When"), accessor="not_before", order_by=("sent_at", "not_before")
    )

    caption = _("Mails to owners")

    class Meta:
        empty_text = _("No mail fits this. Mails are made by themselves when something is owed.")

    def render_subject(self, record):
        words = record.subject or record.get_topic_display()
        return format_html('<a href="/messages/{}/">{}</a>', record.pk, words)

    def render_contact(self, record):
        return format_html(
            '{} <span class="quiet">{}</span>', record.contact.name, record.to_address
        )

    def render_state(self, value, record):
        said = record.last_error if value != MessageState.SENT else ""
        return format_html('{} <span class="quiet">{}</span>', state_tag(record.state), said)

    def render_when(self, record):
        return house.moment(record.sent_at or record.not_before)
