"""Until when a unit is under warranty, and what a unit given in its place has."""

from datetime import date
from typing import NamedTuple

from equipment.kinds import ReplacementWarranty
from servicedesk.planning.calendar import add_months


class Warranty(NamedTuple):
    """From a day, for so many calendar months; without either nobody knows."""

    from_on: date | None = None
    months: int | None = None

    @property
    def until(self) -> date | None:
        """The first day without it."""
        return warranty_until(self.from_on, self.months)


def warranty_until(from_on: date | None, months: int | None) -> date | None:
    """The first day on which a warranty is over.

    from_on: its first day; None: not known.
    months: how long it runs [calendar months], 1 or more; None: not known.
    Returns the day, at the month's end where that month is shorter; None where one is not known.
    Source: dateutil's relativedelta; that a warranty ends before that day is our own rule, the
        maker's terms decide.
    """
    if from_on is None or not months:
        return None
    return add_months(from_on, months)


def of_replacement(
    rule: str, old: Warranty, new_months: int | None, replaced_on: date
) -> Warranty | None:
    """The warranty of a unit that was given in place of another under warranty.

    rule: what the maker grants: restarts, inherits, or unknown.
    old: the warranty of the unit taken out.
    new_months: what the maker grants on a new unit of this model [calendar months]; None: as
        long as the old unit's ran.
    replaced_on: the day of the exchange.
    Returns a warranty from that day on where it restarts, the old one where it is inherited;
        None where the maker has to be asked.
    Source: our own rule; the maker's terms decide.
    """
    if rule == ReplacementWarranty.RESTARTS:
        return Warranty(replaced_on, new_months or old.months)
    if rule == ReplacementWarranty.INHERITS:
        return old
    return None
