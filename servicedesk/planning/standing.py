"""Where a due day stands today, in words: in order, due, late within tolerance, overdue."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Standing:
    """A status as it is shown, and how late it is in shares of its tolerance."""

    shape: str  # ok, due, late or rest, as the style sheet draws them
    words: str
    lateness: float  # 0 on the day, 1 where the tolerance ends; negative before


def standing(
    today: date,
    *,
    opens_on: date | None,
    due_on: date | None,
    closes_on: date | None,
    paused: bool = False,
) -> Standing:
    """How a due day stands on a day.

    today: the day at the site.
    opens_on: the first day on which the work counts; None: the due day.
    due_on: the due day; None where there is none.
    closes_on: the last day that is still within tolerance; None: the due day.
    paused: its clock stands still.
    Returns shape, words and lateness relative to the tolerance; a tolerance of no days counts
    as one day, so that a day late without tolerance ranks as 1.
    Source: our own rule.
    """
    if paused:
        return Standing("rest", "At rest", float("-inf"))
    if due_on is None:
        return Standing("rest", "No due day", float("-inf"))
    late = (today - due_on).days
    tolerance = max(1, ((closes_on or due_on) - due_on).days)
    lateness = late / tolerance
    if today > (closes_on or due_on):
        return Standing("late", f"Overdue {_days(late)}", lateness)
    if late > 0:
        return Standing("due", f"{_days(late)} late, within tolerance", lateness)
    if late == 0:
        return Standing("due", "Due today", lateness)
    if today >= (opens_on or due_on):
        return Standing("due", f"Due in {_days(-late)}", lateness)
    return Standing("ok", f"In order, due in {_days(-late)}", lateness)


def _days(count):
    return "1 day" if count == 1 else f"{count} days"
