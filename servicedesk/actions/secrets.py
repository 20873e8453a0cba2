"""Look at a gate code; every look is kept."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q

from customers.models import SecretLook, Site, SiteSecret, User


@transaction.atomic
def look_at(site: Site, *, by: User, at: datetime, today: date) -> list[SiteSecret]:
    """The site's codes and keys of this day. The caller has asked whether `by` may see them."""
    secrets = list(_held(site, today))
    SecretLook.objects.bulk_create(SecretLook(secret=secret, by=by, at=at) for secret in secrets)
    return secrets


def looked_at(site: Site, *, by: User, today: date) -> list[SiteSecret]:
    """What this person has looked at today already: it stays on his phone until the day is over.

    The caller has asked as for look_at.
    """
    begun = datetime.combine(today, time(), tzinfo=ZoneInfo(site.time_zone))
    seen = SecretLook.objects.filter(by=by, at__gte=begun).values("secret")
    return list(_held(site, today).filter(pk__in=seen))


def _held(site, today):
    held = Q(until_on=None) | Q(until_on__gte=today)
    return SiteSecret.objects.filter(held, site=site).order_by("kind", "pk")
