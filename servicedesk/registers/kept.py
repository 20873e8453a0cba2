"""Keeps an uploaded register in the data folder between the look at it and the load of it."""

import hashlib
from datetime import datetime, timedelta

from django.conf import settings

FOLDER = settings.DATA / "registers"
AGE = timedelta(days=1)  # it may hold gate codes, so it is not kept longer than needed


def keep(content: bytes, *, now: datetime) -> str:
    """Store a file under its own hash; returns the hash. What lay there for a day is removed."""
    FOLDER.mkdir(mode=0o700, exist_ok=True)
    for path in FOLDER.iterdir():
        if path.stat().st_mtime < (now - AGE).timestamp():
            path.unlink(missing_ok=True)
    digest = hashlib.sha256(content).hexdigest()
    path = FOLDER / digest
    path.touch(mode=0o600)
    path.write_bytes(content)
    return digest


def kept(digest: str) -> bytes | None:
    """The file with this hash, unaltered; None when it is gone or another."""
    path = FOLDER / digest
    if not path.is_file():
        return None
    content = path.read_bytes()
    return content if hashlib.sha256(content).hexdigest() == digest else None


def forget(digest: str) -> None:
    (FOLDER / digest).unlink(missing_ok=True)
