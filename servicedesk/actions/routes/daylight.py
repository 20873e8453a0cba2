"""Windows of a site cut to the light of its days, for work from a boat."""

from collections.abc import Iterable
from dataclasses import replace

from customers.models import Site
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.planning.daylight import daylight
from servicedesk.planning.routing.problem import Job, Window


def in_daylight(
    week: WeekOfRecords, site: Site, windows: Iterable[Window], jobs: Iterable[Job]
) -> tuple[Window, ...]:
    """The windows, with sunrise and sunset at the site where a boat goes out.

    From sunrise to sunset is our judgement: the dusk after it is kept for coming ashore.
    """
    if not any(job.boat for job in jobs):
        return tuple(windows)
    return tuple(_cut(week, site, window) for window in windows)


def _cut(week: WeekOfRecords, site: Site, window: Window) -> Window:
    light = daylight(site.lat, site.lon, week.day(window.day))
    if light.sunrise is None or light.sunset is None:
        return window if light.is_up_all_day else replace(window, boat_until_min=0)
    rises = week.minute(light.sunrise, window.day) + 1  # a begun minute is not light yet
    return replace(
        window, boat_from_min=rises, boat_until_min=week.minute(light.sunset, window.day)
    )
