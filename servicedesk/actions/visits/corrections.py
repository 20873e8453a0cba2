"""A reading of a visit that was typed wrong: a new row over it, and the owner's report anew."""

from datetime import datetime

from django.db import transaction

from customers.models import User
from equipment.actions.readings import correct_reading
from equipment.models import Reading
from servicedesk.actions.reports import owe_report
from servicedesk.models import Visit


@transaction.atomic
def correct_visit_reading(
    visit: Visit,
    wrong: Reading,
    *,
    text: str,
    unit: str,
    by: User,
    now: datetime,
    confirmed: bool = False,
) -> Reading:
    """Correct one reading of a visit, and owe its owner the next version of the report.

    Raises ReadingsRefused.
    """
    new = correct_reading(wrong, text=text, unit=unit, by=by, entered_at=now, confirmed=confirmed)
    owe_report(visit, now=now)
    return new
