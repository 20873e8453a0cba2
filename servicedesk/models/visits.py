"""Stays at a site, and the work done there."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from customers.kinds import choices
from customers.models import Contact, Site
from equipment.models import Part, Position, ReadingSet, System
from servicedesk import kinds
from servicedesk.models.commissioning import Commissioning
from servicedesk.models.places import AtPlace
from servicedesk.models.routes import Stop
from servicedesk.models.tasks import Task
from servicedesk.models.tickets import Ticket


def outcomes():
    return choices(kinds.Outcome)


def not_done_reasons():
    return choices(kinds.NotDoneReason)


def done_bys():
    return choices(kinds.DoneBy)


def work_states():
    return choices(kinds.WorkState)


def defect_signs():
    return choices(kinds.DefectSign)


def photo_kinds():
    return choices(kinds.PhotoKind)


def left_off_reasons():
    return choices(kinds.LeftOffReason)


class Struck(models.Model):
    """A row that was wrong stays on record: struck out, by whom and why, and counts no more."""

    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    struck_because = models.CharField(max_length=250, blank=True)

    class Meta:
        abstract = True


class StruckQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(struck_at=None)


class Visit(models.Model):
    """One stay of one technician at one site, as sent by his phone or typed in later."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, help_text="Made at the tap.")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="visits")
    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="visits"
    )
    helpers = models.ManyToManyField(
        settings.AUTH_USER_MODEL,
        blank=True,
        related_name="helped_visits",
        help_text="Who else of ours was there.",
    )
    stop = models.ForeignKey(Stop, on_delete=models.SET_NULL, null=True, blank=True)
    arrived_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField(help_text="When the server got it.")
    accepted_at = models.DateTimeField(null=True, blank=True)
    phone_clock_off_s = models.FloatField(
        null=True, blank=True, help_text="Phone clock less server clock."
    )
    note = models.TextField(blank=True)
    reading_sets = models.ManyToManyField(ReadingSet, blank=True, related_name="visits")
    report_owed_at = models.DateTimeField(
        null=True, blank=True, db_index=True, help_text="Its report is to be written, or anew."
    )

    class Meta:
        indexes = [models.Index(fields=["site", "arrived_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(left_at=None) | Q(left_at__gte=F("arrived_at")),
                name="visit_ends_after_it_begins",
            )
        ]


class WorkQuerySet(models.QuerySet):
    def counting(self):
        """Those that reset clocks: accepted and done, in the order in which they happened."""
        return self.filter(state=kinds.WorkState.ACCEPTED, outcome=kinds.Outcome.DONE)


class Work(AtPlace):
    """That a task was done, or was not. The only fact that resets a clock."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, help_text="Made at the tap.")
    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="works")
    occasion = models.CharField(max_length=40, blank=True, default="")
    ticket = models.ForeignKey(
        Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="works"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="works"
    )
    done_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    outcome = models.CharField(max_length=10, choices=outcomes)
    not_done_reason = models.CharField(max_length=20, choices=not_done_reasons, blank=True)
    done_by = models.CharField(max_length=20, choices=done_bys)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True)
    verified = models.BooleanField(default=True, help_text="Seen by one of our people.")
    state = models.CharField(max_length=10, choices=work_states, default=kinds.WorkState.ACCEPTED)
    reviewed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    reviewed_at = models.DateTimeField(null=True, blank=True)
    found = models.JSONField(default=dict, blank=True, help_text="Checks and conditions found.")
    note = models.TextField(blank=True)

    objects = WorkQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["place_key", "task", "done_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome=kinds.Outcome.DONE, not_done_reason="")
                | (Q(outcome=kinds.Outcome.NOT_DONE) & ~Q(not_done_reason="")),
                name="work_not_done_has_a_reason",
            ),
            models.UniqueConstraint(
                fields=["ticket"],
                condition=Q(
                    state=kinds.WorkState.ACCEPTED,
                    outcome=kinds.Outcome.DONE,
                    ticket__isnull=False,
                ),
                name="one_accepted_work_closes_a_ticket",
            ),
        ]


class SystemCheck(models.Model):
    """Whether a system ran when the technician came and when he left. Leaving must be answered."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="system_checks")
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="checks")
    found_running = models.BooleanField(null=True, help_text="Empty: could not tell.")
    left_running = models.BooleanField()
    left_off_reason = models.CharField(max_length=20, choices=left_off_reasons, blank=True)
    left_off_note = models.CharField(max_length=250, blank=True)
    off_since_at = models.DateTimeField(null=True, blank=True)
    start_approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True
    )
    caution_read = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["visit", "system"], name="one_check_per_system"),
            models.CheckConstraint(
                condition=Q(left_running=True, left_off_reason="")
                | (Q(left_running=False) & ~Q(left_off_reason="")),
                name="system_left_off_has_a_reason",
            ),
            models.CheckConstraint(
                condition=~Q(found_running=False, left_running=True)
                | Q(start_approved_by__isnull=False, caution_read=True),
                name="start_after_found_off_is_approved",
            ),
        ]


class PartUsed(Struck):
    """A part taken from the van and used up at a visit."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="parts_used"
    )
    work = models.ForeignKey(
        Work, on_delete=models.PROTECT, null=True, blank=True, related_name="parts_used"
    )
    part = models.ForeignKey(Part, on_delete=models.PROTECT)
    quantity = models.PositiveSmallIntegerField(default=1)

    objects = StruckQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=1), name="part_used_at_least_once"),
            models.CheckConstraint(
                condition=Q(visit__isnull=False) | Q(work__isnull=False),
                name="part_used_somewhere",
            ),
        ]


class Photo(models.Model):
    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    visit_key = models.UUIDField(
        null=True, blank=True, db_index=True, help_text="Of its visit, which may come later."
    )
    work = models.ForeignKey(
        Work, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    commissioning = models.ForeignKey(
        Commissioning, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    kind = models.CharField(max_length=20, choices=photo_kinds, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    file = models.FileField(upload_to="photos/")
    caption = models.CharField(max_length=160, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()


class Defect(Struck):
    """Something to mend, with the sign by which it was seen."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    system = models.ForeignKey(
        System, on_delete=models.PROTECT, null=True, blank=True, related_name="defects"
    )
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="defects")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True)
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="defects"
    )
    contact = models.ForeignKey(Contact, on_delete=models.PROTECT, null=True, blank=True)
    sign = models.CharField(max_length=20, choices=defect_signs)
    text = models.TextField(blank=True)
    urgent = models.BooleanField(default=False)
    seen_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    mended_at = models.DateTimeField(null=True, blank=True)
    mended_by_work = models.ForeignKey(
        Work, on_delete=models.PROTECT, null=True, blank=True, related_name="mended"
    )

    objects = StruckQuerySet.as_manager()
