"""How to get in at a site: who must be home, whose power it is, and days agreed with the owner."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db import transaction

from customers.models import OwnerHours, Site, Trail, User
from servicedesk.models import Ticket

FIELDS = [
    "way_in",
    "vehicle_note",
    "notice_h",
    "owner_present",
    "power_from",
    "power_phone",
]
AGREE_FIRST = "The owner has to be there: agree on a day first."

Hours = tuple[int, time, time]  # weekday, from, until


class WayInRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def save_way_in(
    site: Site, said: Mapping, hours: Iterable[Hours], *, by: User, now: datetime
) -> None:
    """Keep how to get in, and the hours in which the owner is there."""
    before = _as_kept(site)
    for name in FIELDS:
        setattr(site, name, said[name])
    site.save(update_fields=FIELDS)
    OwnerHours.objects.filter(site=site).delete()
    OwnerHours.objects.bulk_create(
        OwnerHours(site=site, weekday=weekday, comes=comes, leaves=leaves)
        for weekday, comes, leaves in hours
    )
    after = _as_kept(site)
    if after != before:
        about = f"site:{site.pk}"
        Trail.objects.create(
            at=now, by=by, did="way in changed", about=about, before=before, after=after
        )


def _as_kept(site):
    rows = OwnerHours.objects.filter(site=site).order_by("weekday", "comes")
    kept = {name: getattr(site, name) for name in FIELDS}
    return kept | {"owner_hours": [f"{r.weekday} {r.comes} {r.leaves}" for r in rows]}


@transaction.atomic
def agree_visit(
    site: Site, *, day: date, comes: time, leaves: time, by: User, now: datetime
) -> int:
    """Hold a time that was agreed with the owner for all open work of a site; how much it is."""
    zone = ZoneInfo(site.time_zone)
    begins, ends = (datetime.combine(day, at, tzinfo=zone) for at in (comes, leaves))
    if ends <= begins:
        raise WayInRefused("The time ends before it begins. Check both.")
    if ends <= now:
        raise WayInRefused("That time is over. Agree on one that is still to come.")
    agreed = Ticket.objects.open().filter(site=site)
    pks = list(agreed.values_list("pk", flat=True))
    if not pks:
        raise WayInRefused("No ticket is open here, so there is nothing to come for.")
    agreed.update(promised_from=begins, promised_until=ends)
    Trail.objects.create(
        at=now,
        by=by,
        did="visit agreed",
        about=f"site:{site.pk}",
        after={"from": begins.isoformat(), "until": ends.isoformat(), "tickets": pks},
    )
    return len(pks)


def why_agree_first(*, now: datetime) -> dict[int, str]:
    """Open tickets whose owner must be home and named neither hours nor a day. One query."""
    waiting = Ticket.objects.open().filter(site__owner_present=True, site__owner_hours=None)
    waiting = waiting.exclude(promised_until__gt=now)
    return dict.fromkeys(waiting.values_list("pk", flat=True), AGREE_FIRST)


def must_agree_first(ticket: Ticket, day: date) -> bool:
    """Whether nobody may be sent there on a day, because the owner has not agreed to it."""
    site = ticket.site
    if not site.owner_present or OwnerHours.objects.filter(site=site).exists():
        return False
    if ticket.promised_from is None:
        return True
    return ticket.promised_from.astimezone(ZoneInfo(site.time_zone)).date() != day
