"""A closed bridge and a muddy lane, both invented: what every plan of the demo firm knows."""

from datetime import date, datetime, timedelta

from customers.models import Firm, Site
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.holds import enter_hold, set_days_without_van
from servicedesk.kinds import HoldKind
from servicedesk.planning.routing.barriers import Area, area_polygon


def close_ways(crew: Crew, *, today: date, now: datetime) -> None:
    """From next week on, so that the days that are told to owners already stay as they are."""
    firm = Firm.objects.get()
    enter_hold(
        HoldKind.NO_GO_AREA,
        from_on=today + timedelta(days=7),
        to_on=today + timedelta(days=35),
        reason="Bridge works on the mill road",
        by=crew.manager,
        now=now,
        area=area_polygon(Area(firm.shop_lat + 0.06, firm.shop_lon - 0.08, 0.8)),
        way_round_km=14,
    )
    lane = Site.objects.filter(hazards__kind="soft_ground").order_by("key").first()
    if lane is not None:
        set_days_without_van(
            lane, "03-01", "04-30", "Mud and road limits in spring", by=crew.manager, now=now
        )
