"""Count, move, order and receive parts; what lies where, and what waits for a delivery."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import BigIntegerField, Exists, F, Max, Min, OuterRef, Q
from django.db.models.functions import Coalesce

from customers.models import User
from equipment.models import Part
from servicedesk.actions.needs import needs_of
from servicedesk.kinds import DoneBy, Outcome, StockMoveKind, WorkState
from servicedesk.models import PartOrder, PartUsed, StockLevel, StockMove, Technician, Ticket
from servicedesk.planning.stock import SHELF, Arrival, Holding, Move, Wait, stock_of, waits_of

HELD_BY = Coalesce("technician_id", SHELF, output_field=BigIntegerField())
USED_BY = Coalesce(
    "work__user__technician__pk",
    "work__visit__stop__route__technician_id",
    SHELF,
    output_field=BigIntegerField(),
)

LOADINGS = UUID("5b9a3c52-6f0e-4c07-9d0b-3f6f2a4b8a11")


class StockRefused(Exception):
    """Nothing was written; the text says why and what to do."""


def stock_now() -> tuple[dict[Holding, int], set[int]]:
    """What lies where, and the holders whose stock somebody keeps. Four queries.

    Only lines after the last count of a part are read.
    """
    opened = _opened()
    if not opened:
        return {}, set()
    return stock_of([*_entered(), *_arrived(), *_used(min(opened.values()))]), set(opened)


def is_kept() -> bool:
    """Whether anybody keeps stock in this firm."""
    return StockMove.objects.exists()


def _opened() -> dict[int, datetime]:
    rows = StockMove.objects.annotate(holder=HELD_BY).values_list("holder")
    opened = dict(rows.annotate(Min("at")).order_by())
    first = PartOrder.objects.aggregate(first=Min("arrived_at"))["first"]
    if first:
        opened[SHELF] = min(first, opened.get(SHELF, first))
    return opened


def _counted_after(holder, part, at, *, lookup="at__gt"):
    counts = StockMove.objects.filter(kind=StockMoveKind.COUNTED, part=OuterRef(part))
    counts = counts.annotate(holder=HELD_BY)
    return Exists(counts.filter(holder=OuterRef(holder), **{lookup: OuterRef(at)}))


def _entered() -> list[Move]:
    rows = StockMove.objects.annotate(holder=HELD_BY)
    rows = rows.filter(~_counted_after("holder", "part_id", "at"))
    fields = ("holder", "part_id", "quantity", "at", "kind")
    return [
        Move(holder, part, quantity, at, counted=kind == StockMoveKind.COUNTED)
        for holder, part, quantity, at, kind in rows.values_list(*fields)
    ]


def _arrived() -> list[Move]:
    rows = PartOrder.objects.filter(arrived_at__isnull=False)
    counted = StockMove.objects.filter(
        kind=StockMoveKind.COUNTED,
        technician=None,
        part=OuterRef("part_id"),
        at__gte=OuterRef("arrived_at"),
    )
    rows = rows.filter(~Exists(counted)).values_list("part_id", "quantity", "arrived_at")
    return [Move(SHELF, part, quantity, at) for part, quantity, at in rows]


def _used(since: datetime) -> list[Move]:
    """Out of the van of whoever did the work; work that was refused has used nothing."""
    rows = (
        PartUsed.objects.standing()
        .filter(
            work__state=WorkState.ACCEPTED,
            work__outcome=Outcome.DONE,
            work__done_by=DoneBy.TECHNICIAN,
            work__done_at__gte=since,
        )
        .annotate(holder=USED_BY)
        .exclude(holder=SHELF)
    )
    rows = rows.filter(~_counted_after("holder", "part_id", "work__done_at", lookup="at__gte"))
    return [
        Move(holder, part, -quantity, at, opens=False)
        for holder, part, quantity, at in rows.values_list(
            "holder", "part_id", "quantity", "work__done_at"
        )
    ]


@transaction.atomic
def count_stock(
    technician: Technician | None,
    counted: Mapping[Part, int],
    *,
    key: UUID,
    by: User,
    at: datetime,
    now: datetime,
) -> None:
    """Write down what lies in a van, or on the shelf; it holds whatever was thought before.

    `key` is made in the page: the same count sent twice is kept once.
    """
    lines = [(part, technician, pieces) for part, pieces in counted.items()]
    _keep(StockMoveKind.COUNTED, lines, key=key, by=by, at=at, now=now)


@transaction.atomic
def move_stock(
    source: Technician | None,
    target: Technician | None,
    parts: Mapping[Part, int],
    *,
    key: UUID,
    by: User,
    now: datetime,
) -> None:
    """From the shelf into a van, back again, or from van to van; the same `key` moves once."""
    if source == target:
        raise StockRefused("Choose two different places.")
    moved = [(part, pieces) for part, pieces in parts.items() if pieces]
    lines = [(part, source, -pieces) for part, pieces in moved]
    lines += [(part, target, pieces) for part, pieces in moved]
    _keep(StockMoveKind.MOVED, lines, key=key, by=by, at=now, now=now)


@contextmanager
def loading(van: Technician) -> Iterator[None]:
    """One press at a time for a van: what is read inside is what is moved inside."""
    with transaction.atomic():
        Technician.objects.select_for_update().get(pk=van.pk)
        yield


def load_key(van: Technician, along: Mapping[Part, int], days: Sequence[date]) -> UUID:
    """The name of one loading: the same in every tab that shows the same list of the same van.

    Once it was loaded, or something was put back, the list has another name.
    """
    last = StockMove.objects.filter(technician=van).aggregate(Max("pk"))["pk__max"]
    parts = sorted((part.pk, pieces) for part, pieces in along.items())
    return uuid5(LOADINGS, f"{van.pk} {days} {parts} {last}")


@transaction.atomic
def buy_stock(part: Part, quantity: int, *, key: UUID, by: User, now: datetime) -> None:
    """Parts that came to the shelf without an order."""
    _keep(StockMoveKind.BOUGHT, [(part, None, quantity)], key=key, by=by, at=now, now=now)


def _keep(kind, lines, *, key, by, at, now):
    """Rows of one press, each under a name of its own that a second press makes again."""
    StockMove.objects.bulk_create(
        (
            StockMove(
                uuid=uuid5(key, f"{holder.pk if holder else 'shelf'} {part.pk}"),
                kind=kind,
                part=part,
                technician=holder,
                quantity=pieces,
                at=at,
                entered_at=now,
                by=by,
            )
            for part, holder, pieces in lines
        ),
        ignore_conflicts=True,
    )


@transaction.atomic
def set_least(technician: Technician | None, least: Mapping[Part, int | None]) -> None:
    """How many a van or the shelf should hold at least; None takes the figure away."""
    StockLevel.objects.filter(technician=technician, part__in=least).delete()
    StockLevel.objects.bulk_create(
        StockLevel(technician=technician, part=part, least=number)
        for part, number in least.items()
        if number
    )


def order_part(
    part: Part,
    quantity: int,
    *,
    uuid: UUID,
    ordered_on: date,
    expected_on: date | None,
    by: User,
    ticket: Ticket | None = None,
    note: str = "",
) -> PartOrder:
    """Put a part on order, for the shelf or for a ticket that waits for it."""
    if expected_on and expected_on < ordered_on:
        raise StockRefused("It cannot come before it was ordered. Check both days.")
    if ticket and ticket.closed_at:
        raise StockRefused("This ticket is closed. Order for the shelf instead.")
    order, _ = PartOrder.objects.get_or_create(
        uuid=uuid,
        defaults={
            "part": part,
            "quantity": quantity,
            "ticket": ticket,
            "ordered_on": ordered_on,
            "expected_on": expected_on,
            "note": note,
            "by": by,
        },
    )
    return order


def expect_order(order: PartOrder, on: date | None) -> None:
    """The day on which it is now said to come."""
    if on and on < order.ordered_on:
        raise StockRefused("It cannot come before it was ordered. Check both days.")
    if not PartOrder.objects.awaited().filter(pk=order.pk).update(expected_on=on):
        raise StockRefused("It is here already, or was called off. Load the page again.")


def arrive_order(order: PartOrder, *, now: datetime) -> None:
    """It came, and lies on the shelf."""
    PartOrder.objects.awaited().filter(pk=order.pk).update(arrived_at=now)


def cancel_order(order: PartOrder, *, now: datetime) -> None:
    """It is not wanted any more; what waited for it waits no longer."""
    PartOrder.objects.awaited().filter(pk=order.pk).update(cancelled_at=now)


def reopen_order(order: PartOrder) -> None:
    """Ticked by mistake: it is on order again, and what lay on the shelf with it does not."""
    PartOrder.objects.filter(pk=order.pk).update(arrived_at=None, cancelled_at=None)


def arrivals(*, today: date) -> list[Arrival]:
    """What is on order for the shelf; a day that has passed says nothing any more."""
    rows = PartOrder.objects.awaited().filter(ticket=None)
    return [_arrival(one, today) for one in rows]


def _arrival(order: PartOrder, today: date) -> Arrival:
    on = order.expected_on
    return Arrival(order.part_id, order.quantity, on if on and on >= today else None)


def waits_for_parts(*, today: date) -> dict[int, Wait]:
    """Open tickets that wait for parts: for their own order, or for what the shelf waits for.

    A ticket with an order of its own waits for it, whatever lies in the vans: somebody said so.
    One query where nothing is on order, nine where something is.
    """
    orders = list(PartOrder.objects.awaited().filter(_of_open_tickets()).order_by("pk"))
    if not orders:
        return {}
    own = defaultdict(list)
    for order in orders:
        if order.ticket_id:
            own[order.ticket_id].append(_arrival(order, today))
    waits = {pk: _wait_of(those) for pk, those in own.items()}
    shelf = [_arrival(order, today) for order in orders if not order.ticket_id]
    if shelf:
        waits = _waits_for_shelf(shelf, today) | waits
    return waits


def _of_open_tickets():
    return Q(ticket=None) | Q(ticket__closed_at=None)


def _wait_of(those: list[Arrival]) -> Wait:
    days = [one.on for one in those]
    on = None if None in days else max(day for day in days if day)
    return Wait(on, tuple((one.part, one.quantity) for one in those))


def _waits_for_shelf(shelf: list[Arrival], today: date) -> dict[int, Wait]:
    stock, kept = stock_now()
    if not kept:
        return {}
    tickets = Ticket.objects.open().exclude(task__part_roles=[])
    tickets = tickets.select_related("task", "position").defer("because")
    tickets = tickets.order_by(F("due_when_opened_on").asc(nulls_last=True), "pk")
    awaited = {one.part for one in shelf}
    wanted = []
    for ticket, needs in needs_of(list(tickets), today).items():
        parts = defaultdict(int)
        for need in needs:
            if need.part and need.part.pk in awaited:
                parts[need.part.pk] += need.quantity
        if parts:
            wanted.append((ticket.pk, parts))
    on_hand = defaultdict(int)
    for (_holder, part), pieces in stock.items():
        on_hand[part] += max(0, pieces)
    return waits_of(wanted, on_hand, shelf)


def wait_words(wait: Wait, parts: Mapping[int, Part], *, late: bool = False) -> str:
    """Why the work waits, for the manager."""
    what = ", ".join(f"{pieces} x {parts[part]}" for part, pieces in wait.parts)
    if wait.on:
        return f"Parts come {wait.on:%A} {wait.on.day} {wait.on:%B}: {what}."
    if late:
        return f"The day on which its parts were to come has passed: {what}. Ask the supplier."
    return f"Waits for parts, and nobody knows the day: {what}. Ask the supplier."


def why_waiting(*, today: date) -> dict[int, str]:
    """What is said of each ticket that waits for parts. Two queries beside those of the waits."""
    waits = waits_for_parts(today=today)
    if not waits:
        return {}
    parts = Part.objects.in_bulk({part for wait in waits.values() for part, _ in wait.parts})
    passed = set(
        PartOrder.objects.awaited().filter(expected_on__lt=today).values_list("part_id", flat=True)
    )
    return {
        pk: wait_words(wait, parts, late=any(part in passed for part, _ in wait.parts))
        for pk, wait in waits.items()
    }
