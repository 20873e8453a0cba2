"""How often one thing may be asked for within an hour.

Counted by each process for itself: no page hangs on another server, and two processes let twice
as much through.
"""

from datetime import datetime
from hashlib import sha256

from django.core.cache import caches

HOUR_S = 3600


def too_often(what: str, *, most: int, now: datetime) -> bool:
    """Count this once; whether that is more than `most` times in this hour of the clock."""
    counts = caches["pace"]
    key = sha256(f"{now.timestamp() // HOUR_S} {what}".encode()).hexdigest()
    counts.add(key, 0, HOUR_S)
    try:
        return counts.incr(key) > most
    except ValueError:  # thrown out in between, where very much is counted
        return False
