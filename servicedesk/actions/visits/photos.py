"""Photos of a visit: each comes by itself, under its own number, before or after its visit."""

import hashlib
from datetime import datetime
from typing import BinaryIO
from uuid import UUID, uuid5

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from customers.models import User
from servicedesk.actions.reports import owe_report
from servicedesk.actions.visits.payload import NotYours
from servicedesk.models import Photo, Visit
from servicedesk.photos import cleaned


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


def _known(uuid, by):
    photo = Photo.objects.filter(uuid=uuid).first()
    if photo and photo.by_id != by.pk:
        raise NotYours("Somebody else sent a photo with this number. Take it again.")
    return photo
