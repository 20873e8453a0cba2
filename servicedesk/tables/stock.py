"""What lies where as tables: the whole firm, one van, and what is on order."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Max, Q, Sum
from django.utils.translation import gettext as _

from equipment.models import Part
from servicedesk.actions.stock import HELD_BY, stock_now
from servicedesk.kinds import NotDoneReason, Outcome, StockMoveKind, WorkState
from servicedesk.models import PartOrder, StockLevel, StockMove, Technician, Work
from servicedesk.planning.stock import SHELF

RECENT = 20


@dataclass(frozen=True)
class Pieces:
    """How many of a part lie in one place, and what is to be said of it."""

    pieces: int | None
    least: int | None

    @property
    def says(self) -> tuple[str, str] | None:
        """(shape, words), or None where all is well."""
        if self.pieces is not None and self.pieces < 0:
            return "late", _("count again")
        if self.least and (self.pieces or 0) < self.least:
            return "due", _("below %(least)d") % {"least": self.least}
        return None


@dataclass
class Holder:
    """A van or the shelf."""

    pk: int
    name: str
    address: str
    kept: bool
    counted_at: datetime | None = None
    again: int = 0
    below: int = 0


class Stock:
    """All places and parts. Eight queries, whatever the size."""

    def __init__(self):
        self.pieces, self.kept = stock_now()
        self.least = {
            (row.technician_id or SHELF, row.part_id): row.least for row in StockLevel.objects.all()
        }
        self.vans = list(
            Technician.objects.filter(Q(active=True) | Q(pk__in=self.kept))
            .select_related("user")
            .order_by("user__first_name", "pk")
        )
        self.on_order = dict(
            PartOrder.objects.awaited().values_list("part_id").annotate(Sum("quantity")).order_by()
        )
        self.parts = list(Part.objects.order_by("number"))

    def at(self, holder: int, part: int) -> Pieces:
        key = (holder, part)
        return Pieces(self.pieces.get(key), self.least.get(key))

    def holders(self) -> list[Holder]:
        counted = dict(
            StockMove.objects.filter(kind=StockMoveKind.COUNTED)
            .annotate(holder=HELD_BY)
            .values_list("holder")
            .annotate(Max("at"))
            .order_by()
        )
        places = [Holder(SHELF, _("The shelf"), "shelf", SHELF in self.kept)]
        places += [
            Holder(van.pk, str(van), van.user.get_username(), van.pk in self.kept)
            for van in self.vans
        ]
        for place in places:
            said = [self.at(place.pk, part.pk).says for part in self.parts]
            place.counted_at = counted.get(place.pk)
            place.again = sum(one is not None and one[0] == "late" for one in said)
            place.below = sum(one is not None and one[0] == "due" for one in said)
        return places

    def rows(self, holders: list[Holder]) -> list[dict]:
        """A row a part that lies somewhere, should lie somewhere or is on order."""
        known = {part for _holder, part in [*self.pieces, *self.least]} | set(self.on_order)
        return [
            {
                "part": part,
                "places": [(place, self.at(place.pk, part.pk)) for place in holders],
                "on_order": self.on_order.get(part.pk, 0),
            }
            for part in self.parts
            if part.pk in known
        ]

    def here(self, holder: int) -> tuple[list[Part], list[Part]]:
        """Parts that belong to a place, and all others."""
        mine, others = [], []
        for part in self.parts:
            known = (holder, part.pk) in self.pieces or (holder, part.pk) in self.least
            (mine if known else others).append(part)
        return mine, others


def orders_listed(today: date) -> tuple[list[PartOrder], list[PartOrder]]:
    """(awaited, the last that came or were called off); the most pressing first."""
    rows = PartOrder.objects.select_related("part", "ticket__task", "ticket__site", "by")
    awaited = sorted(
        rows.awaited(), key=lambda one: (one.expected_on is None, one.expected_on or today, one.pk)
    )
    over = rows.exclude(arrived_at=None, cancelled_at=None).order_by("-ordered_on", "-pk")
    return awaited, list(over[:RECENT])


def kit_misses(today: date) -> tuple[int, int]:
    """How often a part was not on the van: (this month, in twelve months)."""
    missed = Work.objects.filter(
        outcome=Outcome.NOT_DONE, not_done_reason=NotDoneReason.PART_MISSING
    ).exclude(state=WorkState.REFUSED)
    first = today.replace(day=1)
    year = first.replace(year=first.year - 1)
    counted = missed.filter(done_at__date__gte=year).aggregate(
        month=Count("pk", filter=Q(done_at__date__gte=first)), year=Count("pk")
    )
    return counted["month"], counted["year"]


def last_moves(holder: Technician | None) -> list[dict]:
    """What was written down of a place last: one line a press."""
    rows = StockMove.objects.filter(technician=holder).select_related("part", "by")
    presses = defaultdict(list)
    for row in rows.order_by("-entered_at", "part__number")[: 3 * RECENT]:
        presses[row.entered_at, row.kind, row.by].append(row)
    return [
        {"at": at, "kind": kind, "by": by, "rows": those}
        for (at, kind, by), those in list(presses.items())[:RECENT]
    ]
