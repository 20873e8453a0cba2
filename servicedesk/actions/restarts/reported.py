"""What is reported of a pond while its air is brought up: gasping fish stop every ramp there."""

from datetime import datetime

from customers.models import Contact, Site
from equipment.models import System
from servicedesk.actions.restarts.run import stop_ramp
from servicedesk.kinds import DefectSign
from servicedesk.models import RampHold, Restart
from servicedesk.planning.restart.stops import GASPING, WORDS


def stop_on_report(
    sign: str, site: Site | None, system: System | None, *, contact: Contact | None, now: datetime
) -> list[RampHold]:
    """Hold the ramps of a system, or of all at a site, when fish gasp; managers are woken."""
    if sign != DefectSign.FISH_GASPING or site is None:
        return []
    found = Restart.objects.under_way().filter(system__site=site)
    found = found.filter(system=system) if system else found
    return [
        stop_ramp(restart, [WORDS[GASPING]], contact=contact, now=now)
        for restart in found.select_related("system__site").order_by("pk")
    ]
