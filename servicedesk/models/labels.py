"""The labels on cabinets, and what somebody reported who scanned one."""

from django.db import models
from django.db.models import Q

from equipment.models import System
from servicedesk.models.tickets import OfficeTask
from servicedesk.models.visits import Defect, Photo, defect_signs


class LabelQuerySet(models.QuerySet):
    def standing(self):
        """Those whose code still opens a page; one a system at most."""
        return self.filter(ended_at=None)


class Label(models.Model):
    """A code that cannot be guessed; a new one for the same cabinet ends the old one."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="labels")
    code = models.CharField(max_length=16, unique=True)
    made_at = models.DateTimeField()
    printed_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = LabelQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["system"], condition=Q(ended_at=None), name="one_standing_label_per_system"
            )
        ]

    def __str__(self):
        return self.code


class LabelReport(models.Model):
    """What somebody sent from the page of a label; nobody knows who it was."""

    uuid = models.UUIDField(unique=True, help_text="Made with the form.")
    label = models.ForeignKey(Label, on_delete=models.PROTECT, related_name="reports")
    sign = models.CharField(max_length=20, choices=defect_signs)
    text = models.TextField(blank=True)
    name = models.CharField(max_length=80, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    sender = models.CharField(
        max_length=64, help_text="A keyed digest of the address it came from, to count by."
    )
    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, null=True, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True)
    office_task = models.OneToOneField(
        OfficeTask, on_delete=models.PROTECT, related_name="label_report", null=True, blank=True
    )
    sent_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["label", "sent_at"])]
