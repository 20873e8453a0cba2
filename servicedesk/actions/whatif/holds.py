"""Days on which nobody may come, and ways that are closed, in the weeks that are simulated."""

from datetime import date

from customers.models import Site
from servicedesk.kinds import HoldKind
from servicedesk.models import Hold
from servicedesk.planning.routing.barriers import barrier_of, is_within
from servicedesk.planning.whatif.world import ClosedWay, Days


class Holds:
    """Holds on record that stand on some day from one to another. One query."""

    def __init__(self, begins_on: date, until: date):
        rows = Hold.objects.filter(lifted_at=None, from_on__lt=until, to_on__gte=begins_on)
        rows = rows.exclude(kind=HoldKind.HEAT)  # it keeps nobody away
        self.held, self.ways = [], []
        for hold in rows.order_by("pk"):
            if hold.kind == HoldKind.NO_GO_AREA and hold.area:
                way = barrier_of(hold.area, hold.way_round_km)
                self.ways.append(ClosedWay(way, hold.from_on, hold.to_on))
            elif hold.site_id or hold.region_id:
                self.held.append(hold)

    def days(self, site: Site) -> tuple[Days, ...]:
        """Spans of days on which nobody comes to a site, as the planner of a real week reads it."""
        spans = {
            (hold.from_on, hold.to_on)
            for hold in self.held
            if hold.site_id == site.pk or (hold.region_id and hold.region_id == site.region_id)
        }
        spans |= {
            (way.from_on, way.to_on)
            for way in self.ways
            if site.lat is not None and is_within(way.barrier, site.lat, site.lon)
        }
        return tuple(sorted(spans))
