"""One task due at one place, and what the office has to do."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from customers.models import Contact, Site
from servicedesk import kinds
from servicedesk.models.places import AtPlace
from servicedesk.models.tasks import Task


def ticket_ends():
    return choices(kinds.TicketEnd)


def office_task_kinds():
    return choices(kinds.OfficeTaskKind)


class TicketQuerySet(models.QuerySet):
    def open(self):
        return self.filter(closed_at=None)

    def due_by(self, day):
        return self.filter(due_when_opened_on__lte=day)

    def visible_to(self, user):
        """Staff may read every ticket; closing is decided in servicedesk/access.py."""
        return self if user.is_active else self.none()


class Ticket(AtPlace):
    """One task at one place, from the day its window opens until accepted work closes it."""

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="tickets")
    occasion = models.CharField(max_length=40, blank=True, default="")
    opened_at = models.DateTimeField()
    due_when_opened_on = models.DateField(null=True, blank=True)
    because = models.TextField(blank=True, help_text="Why it was opened.")
    closed_at = models.DateTimeField(null=True, blank=True)
    end = models.CharField(max_length=20, choices=ticket_ends, blank=True)
    end_note = models.CharField(max_length=250, blank=True)
    no_charge = models.BooleanField(default=False)
    promised_from = models.DateTimeField(null=True, blank=True)
    promised_until = models.DateTimeField(null=True, blank=True)

    objects = TicketQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["place_key", "task", "occasion"],
                condition=Q(closed_at=None),
                name="one_open_ticket_per_task",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, end="") | (Q(closed_at__isnull=False) & ~Q(end="")),
                name="closed_ticket_says_how_it_ended",
            ),
            models.CheckConstraint(
                condition=Q(promised_from=None, promised_until=None)
                | Q(promised_until__gt=models.F("promised_from")),
                name="promised_window_has_two_ends",
            ),
        ]

    def __str__(self):
        return f"{self.task} ({self.pk})"


class OfficeTask(models.Model):
    """Phone this owner, mend this access note: what no technician can do at a pond."""

    kind = models.CharField(max_length=20, choices=office_task_kinds)
    text = models.TextField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, blank=True)
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True)
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, null=True, blank=True)
    key = models.CharField(
        max_length=80, unique=True, null=True, blank=True, help_text="So that it is made once."
    )
    urgent = models.BooleanField(default=False)
    opened_at = models.DateTimeField()
    due_on = models.DateField(null=True, blank=True)
    handled_at = models.DateTimeField(null=True, blank=True)
    handled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    handled_note = models.CharField(max_length=250, blank=True)
