"""When each task falls due (derived), and what people decided about it."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from customers.kinds import choices
from servicedesk import kinds
from servicedesk.models.places import AtPlace
from servicedesk.models.tasks import Task


def decision_kinds():
    return choices(kinds.DecisionKind)


class DueItem(AtPlace):
    """The next undone occasion of a task at a place. Derived: never edited by hand."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="due_items")
    occasion = models.CharField(max_length=40, blank=True, default="")
    opens_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True, db_index=True)
    closes_on = models.DateField(null=True, blank=True)
    because = models.TextField()
    basis = models.JSONField(default=dict)
    estimated = models.BooleanField(default=False)
    paused = models.BooleanField(default=False, help_text="Its clock stands still.")
    verify = models.BooleanField(default=False, help_text="Rests on work nobody of ours has seen.")

    class Meta:
        indexes = [models.Index(fields=["site", "due_on"])]
        constraints = [
            models.UniqueConstraint(
                fields=["place_key", "task", "occasion"], name="one_due_item_per_place_and_task"
            ),
            models.CheckConstraint(
                condition=Q(due_on=None) | Q(opens_on__lte=F("due_on"), closes_on__gte=F("due_on")),
                name="due_day_lies_in_its_window",
            ),
        ]


class DecisionQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(withdrawn_at=None)


class Decision(AtPlace):
    """A dated decision over a due day, with a name and a reason."""

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="decisions")
    occasion = models.CharField(max_length=40, blank=True, default="")
    kind = models.CharField(max_length=20, choices=decision_kinds)
    from_on = models.DateField(help_text="The day it is about.")
    until_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=250)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    decided_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = DecisionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="decision_has_a_reason"),
            models.CheckConstraint(
                condition=Q(until_on=None) | Q(until_on__gte=F("from_on")),
                name="decision_ends_after_it_begins",
            ),
        ]
