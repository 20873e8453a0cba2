"""Keep a photo of a system that is handed over."""

import uuid
from datetime import datetime
from typing import BinaryIO

from django.core.files.base import ContentFile
from django.db import transaction

from customers.models import User
from servicedesk.actions.commissioning.said import lock
from servicedesk.actions.commissioning.sheet import Sheet
from servicedesk.kinds import PhotoKind
from servicedesk.models import Photo
from servicedesk.photos import cleaned


@transaction.atomic
def keep_photo(
    sheet: Sheet, kind: PhotoKind, file: BinaryIO, size: int, *, by: User, now: datetime
) -> Photo:
    """Keep one photo, made small and freed of where it was taken. Raises NotAPhoto."""
    record = lock(sheet)
    photo = Photo(uuid=uuid.uuid4(), commissioning=record, kind=kind, by=by, received_at=now)
    photo.file.save(f"{photo.uuid}.jpg", ContentFile(cleaned(file, size)), save=True)
    return photo
