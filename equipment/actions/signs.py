"""Keep what somebody saw, heard or smelt beside a set of readings."""

from collections.abc import Mapping

from equipment.kinds import Sign
from equipment.models import ReadingSet, SignSeen


def record_signs(of: ReadingSet, seen: Mapping[Sign, bool]) -> None:
    """Keep each sign that was looked for: True where it was there, False where it was not.

    The same signs sent again change nothing.
    """
    SignSeen.objects.bulk_create(
        (SignSeen(set=of, sign=sign, present=present) for sign, present in seen.items()),
        ignore_conflicts=True,
    )
