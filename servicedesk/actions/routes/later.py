"""What altered the days of a change by hand since: it is to be taken back first."""

from collections.abc import Sequence

from servicedesk.kinds import PlanState
from servicedesk.models import HandChange, PlanRun, Repair


def altered_since(changes: Sequence[HandChange]) -> dict[int, str]:
    """By number of a change of one week, the newest thing that altered its days since, in words.

    A later change that was taken back altered nothing. Three queries, however many changes.
    """
    if not changes:
        return {}
    monday, first = changes[0].monday_on, min(changes, key=lambda change: change.pk)
    later = HandChange.objects.filter(monday_on=monday, pk__gt=first.pk)
    hands = {change.pk: change for change in later.only("says", "at", "after", "undoes_id")}
    repairs = Repair.objects.filter(monday_on=monday, accepted_at__gt=first.at, undone_at=None)
    others = [(repair.accepted_at, repair.says) for repair in repairs.only("accepted_at", "says")]
    done = [PlanState.DONE, PlanState.CANCELLED]
    plans = PlanRun.objects.filter(monday_on=monday, ended_at__gt=first.at, state__in=done)
    others += [
        (at, "The week was planned again.") for at in plans.values_list("ended_at", flat=True)
    ]
    return {change.pk: newest for change in changes if (newest := _newest(change, hands, others))}


def _newest(change: HandChange, hands: dict[int, HandChange], others: list) -> str:
    found = [row for row in others if row[0] > change.at]
    found += [
        (other.at, other.says)
        for other in hands.values()
        if other.pk > change.pk
        and _days(other) & _days(change)
        and _counts(other, change.pk, hands)
    ]
    return max(found, default=("", ""))[1]


def _days(change: HandChange) -> set[tuple[int, str]]:
    return {(day["technician"], day["day"]) for day in change.after}


def _counts(change: HandChange, since: int, hands: dict[int, HandChange]) -> bool:
    """Whether a change still tells: it stands, and does not merely take back another later one."""
    if any(other.undoes_id == change.pk for other in hands.values()):
        return False
    links, number = 1, change.undoes_id
    while number is not None and number > since:
        links += 1
        number = hands[number].undoes_id if number in hands else None
    return links % 2 == 1
