"""A firm with people and tickets in the week of 23 November 2026."""

from datetime import UTC, date, datetime, timedelta

from servicedesk.models import Ticket
from tests import make

MONDAY = date(2026, 11, 23)
TUESDAY = MONDAY + timedelta(days=1)
BEFORE = datetime(2026, 11, 19, 16, tzinfo=UTC)  # the Thursday before
TODAY = BEFORE.date()


def clock():
    return BEFORE


def firm():
    return make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)


def ticket(east=0.0, **fields):
    """A filter change at a site of its own, some degrees east of 93 degrees west."""
    where = fields.pop("site", None) or make.site(lat=44.95, lon=-93.0 + east)
    return make.ticket(
        at=make.filter_position(make.system(site=where)), **{"due_when_opened_on": MONDAY} | fields
    )


def for_two(**fields):
    return ticket(task=make.task(crew=2, minutes=60), **fields)


def places():
    """(technician, day, number, ticket) of everything that stands on a route."""
    rows = Ticket.objects.filter(stops__isnull=False).values_list(
        "stops__route__technician", "stops__route__day", "stops__number", "pk"
    )
    return sorted(rows)
