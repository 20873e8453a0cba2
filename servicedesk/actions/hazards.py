"""What may hurt whoever comes to a site: noted as facts, with a day on which it ends."""

from datetime import date, datetime

from django.db import transaction

from customers.kinds import HazardKind
from customers.models import Hazard, Site, Trail, User


@transaction.atomic
def note_hazard(
    site: Site, kind: HazardKind, note: str, *, until_on: date | None, by: User, now: datetime
) -> Hazard:
    """Write down a hazard for whoever comes next; the same one again is kept once."""
    known = Hazard.objects.filter(site=site, kind=kind, note=note, until_on=until_on).first()
    if known:
        return known
    hazard = Hazard.objects.create(site=site, kind=kind, note=note, until_on=until_on)
    _trail(hazard, "hazard noted", by, now)
    return hazard


def _trail(hazard, did, by, now):
    until = hazard.until_on.isoformat() if hazard.until_on else ""
    said = {"kind": hazard.kind, "note": hazard.note, "until": until}
    Trail.objects.create(at=now, by=by, did=did, about=f"site:{hazard.site_id}", after=said)
