"""Whether a mail about a start is still owed to its reader."""

from collections.abc import Sequence
from datetime import datetime

from customers.actions import Receivers
from servicedesk.emails.rows import ponds_of_systems
from servicedesk.models import Reminder, Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.restart.states import RestartState

OVER = frozenset({RestartState.CLOSED, RestartState.DONE})


def why_untrue_of_restarts(lines: Sequence[Reminder], *, now: datetime) -> dict[int, str]:
    """Why lines about starts are not owed any more, by their id."""
    wanted = {line.facts["restart"] for line in lines}
    found = Restart.objects.select_related("system__site").in_bulk(wanted)
    sites = {one.system.site_id: one.system.site for one in found.values()}
    days = {pk: site_date(now, site.time_zone) for pk, site in sites.items()}
    receivers = {
        day: Receivers([pk for pk, of in days.items() if of == day], on=day)
        for day in set(days.values())
    }
    ponds = ponds_of_systems({one.system_id for one in found.values()}) if found else {}
    reasons = {}
    for line in lines:
        one = found.get(line.facts["restart"])
        if one is None or one.state in OVER:
            reasons[line.pk] = "the start is over or given up"
            continue
        site, of = one.system.site, receivers[days[one.system.site_id]]
        having = {
            contact.pk
            for pond in ponds.get(one.system_id) or [None]
            for contact in of.of(site.pk, pond, warning=True)
        }
        if line.contact_id not in having:
            reasons[line.pk] = "the place is no longer theirs to hear about"
    return reasons
