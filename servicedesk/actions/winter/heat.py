"""Tell owners of hot, still weather, when a manager presses for a region or a site."""

from datetime import datetime

from django.db import transaction

from customers.actions import Receivers
from customers.kinds import MailTopic, Role
from customers.models import Site, Trail, User
from servicedesk.actions.reminders.owe import owe
from servicedesk.actions.winter.blocking import WinterRefused
from servicedesk.kinds import HoldKind
from servicedesk.models import DueItem, Hold
from servicedesk.planning.calendar import site_date


@transaction.atomic
def tell_of_heat(hold: Hold, *, by: User, now: datetime) -> int:
    """One line for each site under a heat hold and each of its owners; how many are new."""
    if by.role != Role.MANAGER:
        raise WinterRefused("Only a manager writes to owners about heat.")
    if hold.kind != HoldKind.HEAT or hold.lifted_at or hold.to_on < now.date():
        raise WinterRefused("This is no heat that stands today or later.")
    sites = Site.objects.filter(pk__in=DueItem.objects.values("site"))
    sites = sites.filter(region=hold.region) if hold.region_id else sites.filter(pk=hold.site_id)
    owed = 0
    for site in sites.order_by("name", "pk"):
        facts = {"hold": hold.pk, "site": site.pk}
        period = f"heat:{hold.pk}:{site.pk}"
        on = site_date(now, site.time_zone)
        for contact in Receivers([site.pk], on=on).of(site.pk, warning=True):
            owed += owe(contact, MailTopic.HEAT_ADVISORY, period, now=now, facts=facts)
    Trail.objects.create(
        at=now, by=by, did="told of heat", about=f"hold:{hold.pk}", after={"lines": owed}
    )
    return owed
