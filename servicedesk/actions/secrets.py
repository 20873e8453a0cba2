"""Look at a gate code; every look is kept."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from customers.models import SecretLook, Site, SiteSecret, User


@transaction.atomic
def look_at(site: Site, *, by: User, at: datetime, today: date) -> list[SiteSecret]:
    """The site's codes and keys of this day. The caller has asked whether `by` may see them."""
    held = Q(until_on=None) | Q(until_on__gte=today)
    secrets = list(SiteSecret.objects.filter(held, site=site).order_by("kind", "pk"))
    SecretLook.objects.bulk_create(SecretLook(secret=secret, by=by, at=at) for secret in secrets)
    return secrets
