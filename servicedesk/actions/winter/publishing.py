"""A visit that starts a winter run is published only where nothing bars that winter."""

from collections.abc import Iterable
from datetime import datetime

from equipment.models import System
from servicedesk.actions.winter.blocking import still_blocked
from servicedesk.actions.winter.known import with_sites
from servicedesk.models import Route, StopTicket

STARTS = ("winter_shallow", "winter_deep")  # tasks that leave a system running under ice


def winter_faults(routes: Iterable[Route], *, now: datetime) -> list[str]:
    """Why visits on these routes may not be published, in sentences.

    What the visit itself does is left to it: looking for leaks and people, and putting signs up.
    """
    joined = StopTicket.objects.filter(
        stop__route__in=[route.pk for route in routes],
        ticket__task__slug__in=STARTS,
        ticket__closed_at=None,
    ).values_list("ticket__system_id", flat=True)
    systems = list(with_sites(System.objects.filter(pk__in=set(joined))).order_by("site", "pk"))
    blocked = still_blocked(systems, now=now, visit_to_come=True)
    return [
        f"{system} at {system.site} may not be prepared to run this winter: "
        + " ".join(block.says for block in blocked[system.pk])
        + " Settle it on the page of winters, or take the job off the day."
        for system in systems
        if blocked[system.pk]
    ]
