"""Reports on visits, as lists that lead to them."""

from customers import access
from servicedesk.models import ServiceReport

ROWS = 24


def papers_of(user, visits, *, rows=ROWS):
    """The reports that stand on visits, newest first, one for each; to a technician his own."""
    found = ServiceReport.objects.current().filter(visit__in=visits)
    if not access.is_office(user):
        found = found.filter(visit__technician=user)
    found = found.select_related("visit__technician").defer("facts")
    found = found.order_by("-visit__arrived_at", "-visit_id", "pk")
    first = {}
    for report in found[: 3 * rows]:  # some visits are told in two languages or units
        first.setdefault(report.visit_id, report)
    return list(first.values())[:rows]
