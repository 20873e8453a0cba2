"""Photos of a visit: each comes by itself, under its own number, before or after its visit."""

import hashlib
from datetime import datetime, timedelta
from typing import BinaryIO
from uuid import UUID, uuid5

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from customers.models import User
from servicedesk.actions.reports import owe_report
from servicedesk.actions.visits.payload import NotYours
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import OfficeTask, Photo, Visit
from servicedesk.photos import cleaned

LOST = "lost-photos:"
LOST_AFTER = timedelta(days=3)  # our judgement: a phone may lie in a van over a weekend


def keep_visit_photo(
    uuid: UUID, visit_key: UUID, file: BinaryIO, size: int, *, by: User, now: datetime
) -> tuple[Photo, bool]:
    """Keep one photo of a visit, made small and freed of where it was taken; whether it is new.

    The same one sent again, however often and at once, is kept once. Its visit may come later.
    Raises NotAPhoto, NotYours.
    """
    if known := _known(uuid, by):
        return known, False
    if Visit.objects.filter(uuid=visit_key).exclude(technician=by).exists():
        raise NotYours("This photo belongs to a visit that somebody else made.")
    photo = Photo(uuid=uuid, visit_key=visit_key, by=by, received_at=now)
    photo.file.save(f"{uuid}.jpg", ContentFile(cleaned(file, size)), save=False)
    try:
        with transaction.atomic():
            photo.save(force_insert=True)
    except IntegrityError:  # the same one, sent twice at once
        photo.file.delete(save=False)
        return _known(uuid, by), False
    for visit in Visit.objects.filter(uuid=visit_key):
        join_photos(visit, now=now)
    return photo, True


def photo_key(visit_key: UUID, file: BinaryIO) -> UUID:
    """The number of a photo that came with a form: the same picture of a visit is one photo."""
    digest = hashlib.file_digest(file, "sha256").hexdigest()
    file.seek(0)
    return uuid5(visit_key, digest)


def join_photos(visit: Visit, *, now: datetime) -> None:
    """Photos that came before their visit, now that it is here; its report shows them."""
    waiting = Photo.objects.filter(visit_key=visit.uuid, visit=None, by=visit.technician_id)
    if waiting.update(visit=visit):
        owe_report(visit, now=now)
        told = OfficeTask.objects.filter(key=f"{LOST}{visit.uuid}", handled_at=None)
        told.update(handled_at=now, handled_note="The visit came.")


def tell_of_lost_photos(*, now: datetime) -> int:
    """Tell the office of photos whose visit has not come for days, once a visit. How many anew."""
    found = lost_photos(now=now).select_related("by").order_by("received_at", "pk")
    of_visit: dict[UUID, list[Photo]] = {}
    for photo in found:
        of_visit.setdefault(photo.visit_key, []).append(photo)
    told = 0
    for key, photos in of_visit.items():
        first = photos[0]
        _task, new = OfficeTask.objects.get_or_create(
            key=f"{LOST}{key}",
            defaults={
                "kind": OfficeTaskKind.OTHER,
                "text": f"Photos without their visit: {first.by} sent {len(photos)} on "
                f"{first.received_at:%d %b %Y}, and the closing did not follow. It may still wait "
                "on his phone: ask him to open his day there with signal, or to close the ticket "
                "once more.",
                "opened_at": now,
            },
        )
        told += new
    return told


def lost_photos(*, now: datetime):
    """Photos that came days ago, and whose visit did not."""
    waiting = Photo.objects.filter(visit=None, visit_key__isnull=False)
    return waiting.filter(received_at__lte=now - LOST_AFTER)


def _known(uuid, by):
    photo = Photo.objects.filter(uuid=uuid).first()
    if photo and photo.by_id != by.pk:
        raise NotYours("Somebody else sent a photo with this number. Take it again.")
    return photo
