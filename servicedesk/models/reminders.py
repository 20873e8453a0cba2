"""Lines owed to owners, the mails that carry them, and what owners answered."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Contact, SignedLink
from customers.models.parties import mail_topics
from servicedesk import kinds
from servicedesk.models.recalls import RecallUnit
from servicedesk.models.tickets import Ticket
from servicedesk.models.visits import Visit, Work


def message_states():
    return choices(kinds.MessageState)


def answer_kinds():
    return choices(kinds.AnswerKind)


class Message(models.Model):
    """The frozen bytes that go out; the only place with sending state, lease and attempts."""

    State = kinds.MessageState

    message_id = models.CharField(max_length=120, unique=True)
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="messages")
    topic = models.CharField(max_length=30, choices=mail_topics)
    to_address = models.CharField(max_length=254)
    subject = models.CharField(max_length=250)
    frozen = models.BinaryField(null=True, blank=True)
    text = models.TextField(blank=True, help_text="The plain body, for reading here.")
    html = models.TextField(blank=True)
    state = models.CharField(
        max_length=12, choices=message_states, default=kinds.MessageState.QUEUED
    )
    made_at = models.DateTimeField()
    not_before = models.DateTimeField()
    give_up_at = models.DateTimeField()
    attempts = models.PositiveIntegerField(default=0)
    unsure_attempts = models.PositiveSmallIntegerField(
        default=0, help_text="How often nobody could tell whether it was taken."
    )
    day_on = models.DateField(
        null=True, blank=True, help_text="The reader's day; empty for mail about danger."
    )
    lease_by = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    data_at = models.DateTimeField(null=True, blank=True, help_text="Set just before the bytes.")
    sent_at = models.DateTimeField(null=True, blank=True)
    last_code = models.PositiveSmallIntegerField(null=True, blank=True)
    last_error = models.CharField(max_length=250, blank=True)

    class Meta:
        indexes = [models.Index(fields=["state", "not_before"])]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state=kinds.MessageState.SENT) | Q(sent_at__isnull=False),
                name="sent_message_says_when",
            ),
            models.CheckConstraint(
                condition=~Q(state=kinds.MessageState.SENDING) | Q(lease_until__isnull=False),
                name="message_being_sent_has_a_lease",
            ),
            models.UniqueConstraint(
                fields=["to_address", "day_on"],
                condition=Q(day_on__isnull=False)
                & ~Q(
                    state__in=[
                        kinds.MessageState.CANCELLED,
                        kinds.MessageState.FAILED,
                        kinds.MessageState.SUPPRESSED,
                    ]
                ),
                name="one_ordinary_mail_per_address_and_day",
            ),
        ]


class Reminder(models.Model):
    """One line owed to one contact about one topic; owed once, whatever happens."""

    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="reminders")
    topic = models.CharField(max_length=30, choices=mail_topics)
    period = models.CharField(max_length=60)  # such as "ticket:118", never a due date
    ticket = models.ForeignKey(
        Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="reminders"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="reminders"
    )
    recall_unit = models.ForeignKey(
        RecallUnit, on_delete=models.PROTECT, null=True, blank=True, related_name="reminders"
    )
    facts = models.JSONField(default=dict, blank=True)
    owed_at = models.DateTimeField()
    not_before = models.DateTimeField()
    message = models.ForeignKey(
        Message, on_delete=models.PROTECT, null=True, blank=True, related_name="reminders"
    )
    dropped_at = models.DateTimeField(null=True, blank=True)
    dropped_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["contact", "topic", "period"], name="one_reminder_per_topic_and_period"
            )
        ]


class OwnerAnswerQuerySet(models.QuerySet):
    def standing(self):
        """Those that the owner has not taken back."""
        return self.filter(undone_at=None)

    def unhandled(self):
        """What still waits for somebody of the firm, most urgent and oldest first."""
        return self.standing().filter(handled_at=None).order_by("-urgent", "recorded_at", "pk")


class OwnerAnswer(models.Model):
    """What an owner pressed or wrote; stands on the first page until somebody handled it."""

    uuid = models.UUIDField(unique=True)
    link = models.ForeignKey(SignedLink, on_delete=models.PROTECT, null=True, blank=True)
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, related_name="answers")
    kind = models.CharField(max_length=20, choices=answer_kinds)
    ticket = models.ForeignKey(
        Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="answers"
    )
    work = models.ForeignKey(Work, on_delete=models.PROTECT, null=True, blank=True)
    said = models.JSONField(default=dict, blank=True)
    urgent = models.BooleanField(default=False)
    recorded_at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)
    handled_at = models.DateTimeField(null=True, blank=True)
    handled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    handled_note = models.CharField(max_length=250, blank=True)

    objects = OwnerAnswerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["ticket", "contact", "kind"],
                condition=Q(undone_at=None, ticket__isnull=False)
                & Q(kind__in=[kinds.AnswerKind.CONFIRM, kinds.AnswerKind.DID_IT_MYSELF]),
                name="one_standing_answer_per_ticket_and_kind",
            )
        ]
