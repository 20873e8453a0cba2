"""Somebody alone at a pond who said when he will be back, and mails about danger to our people."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from customers.models import Site
from servicedesk.models.routes import Stop
from servicedesk.models.tickets import OfficeTask


class CheckInQuerySet(models.QuerySet):
    def under_way(self):
        return self.filter(ended_at=None)


class CheckIn(models.Model):
    """Alone at a site, back by a time that he named; the office is alarmed once if he is not."""

    uuid = models.UUIDField(unique=True, help_text="Made with the page.")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="check_ins"
    )
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="check_ins")
    stop = models.ForeignKey(Stop, on_delete=models.SET_NULL, null=True, blank=True)
    begun_at = models.DateTimeField()
    back_by = models.DateTimeField()
    alarmed_at = models.DateTimeField(null=True, blank=True)
    office_task = models.OneToOneField(
        OfficeTask, on_delete=models.PROTECT, related_name="check_in", null=True, blank=True
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    end_note = models.CharField(max_length=250, blank=True)

    objects = CheckInQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["ended_at", "back_by"])]
        constraints = [
            models.UniqueConstraint(
                fields=["user"], condition=Q(ended_at=None), name="one_check_in_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(back_by__gt=F("begun_at")), name="check_in_ends_after_it_begins"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_by__isnull=False),
                name="ended_check_in_says_by_whom",
            ),
        ]


class Alarm(models.Model):
    """A mail about danger to one of our own mailboxes: sent at once, at night as well."""

    office_task = models.ForeignKey(OfficeTask, on_delete=models.PROTECT, related_name="alarms")
    to_address = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField()
    message_id = models.CharField(max_length=120, unique=True)
    made_at = models.DateTimeField()
    try_at = models.DateTimeField(help_text="Not before; while one is being sent, its lease.")
    attempts = models.PositiveIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=250, blank=True)

    class Meta:
        indexes = [models.Index(fields=["sent_at", "try_at"])]
        constraints = [
            models.UniqueConstraint(
                fields=["office_task", "to_address"], name="one_alarm_per_task_and_address"
            )
        ]
