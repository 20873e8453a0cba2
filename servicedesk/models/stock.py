"""What lies in the vans and on the shelf, as moves, and what is on order."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from customers.kinds import choices
from equipment.models import Part
from servicedesk import kinds
from servicedesk.models.routes import Technician
from servicedesk.models.tickets import Ticket


def stock_move_kinds():
    return choices(kinds.StockMoveKind)


class StockMove(models.Model):
    """One line of the ledger of a van, or of the shelf where no technician is named.

    What was used at a visit (PartUsed) and what arrived (PartOrder) are lines of it, too; they
    stand in their own rows and are counted from there.
    """

    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    kind = models.CharField(max_length=10, choices=stock_move_kinds)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    technician = models.ForeignKey(
        Technician,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Whose van; empty: the shelf.",
    )
    quantity = models.IntegerField(help_text="Counted: what lay there. Else more or less.")
    at = models.DateTimeField()
    entered_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        indexes = [models.Index(fields=["part", "technician", "at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind=kinds.StockMoveKind.COUNTED, quantity__gte=0)
                | (~Q(kind=kinds.StockMoveKind.COUNTED) & ~Q(quantity=0)),
                name="stock_move_moves_something",
            )
        ]


class StockLevel(models.Model):
    """How many of a part a van, or the shelf, should hold at least."""

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="+")
    technician = models.ForeignKey(
        Technician, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    least = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["part", "technician"],
                condition=Q(technician__isnull=False),
                name="one_least_number_per_part_and_van",
            ),
            models.UniqueConstraint(
                fields=["part"],
                condition=Q(technician=None),
                name="one_least_number_per_part_on_the_shelf",
            ),
        ]


class PartOrderQuerySet(models.QuerySet):
    def awaited(self):
        """Ordered, not here and not called off."""
        return self.filter(arrived_at=None, cancelled_at=None)


class PartOrder(models.Model):
    """Parts on order: for the shelf, or for a ticket that waits for them."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveSmallIntegerField(default=1)
    ticket = models.ForeignKey(
        Ticket, on_delete=models.PROTECT, null=True, blank=True, related_name="part_orders"
    )
    ordered_on = models.DateField()
    expected_on = models.DateField(null=True, blank=True, help_text="Empty: nobody knows.")
    arrived_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=160, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = PartOrderQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["arrived_at", "cancelled_at"])]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=1), name="order_of_at_least_one"),
            models.CheckConstraint(
                condition=Q(arrived_at=None) | Q(cancelled_at=None),
                name="order_that_came_is_not_called_off",
            ),
        ]

    def __str__(self):
        return f"{self.quantity} x {self.part}"
