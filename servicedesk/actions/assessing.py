"""Judge systems by their readings: at once after a visit, all of them in turn every night.

The round takes a piece at a time and calls the next, so that mails and the beat come between.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping
from datetime import UTC, datetime, timedelta

from equipment.actions import assessment
from equipment.condition.history import Change, Changed
from equipment.models import System
from servicedesk.actions import due
from servicedesk.models import JobBeat, Work
from servicedesk.planning.calendar import site_date
from servicedesk.wakeups import wake

JOB = "servicedesk.tasks.assess_systems"
BEAT = "assess"
NEVER = datetime(1970, 1, 1, tzinfo=UTC)
STALE = timedelta(hours=12)
PIECE = 100
TURN = timedelta(seconds=2)  # then other jobs have theirs; a piece is always finished
CHANGES = {  # work after which earlier readings are no longer comparable
    "membrane_cleaning": Change.CLEANED,
    "membrane_replacement": Change.MEMBRANES,
    "piston_service": Change.COMPRESSOR,
    "diaphragm_service": Change.COMPRESSOR,
    "vane_replacement": Change.COMPRESSOR,
}


def changes_of(system_ids: Collection[int], *, now: datetime) -> dict[int, list[Changed]]:
    """Work at each system that starts its series of readings anew."""
    rows = Work.objects.counting().filter(
        system__in=system_ids, task__slug__in=CHANGES, done_at__lte=now
    )
    found = defaultdict(list)
    for pk, slug, at, zone, label in rows.order_by("done_at").values_list(
        "system_id", "task__slug", "done_at", "site__time_zone", "position__label"
    ):
        what = CHANGES[slug]
        at_plate = label if what == Change.MEMBRANES else None
        found[pk].append(Changed(site_date(at, zone), what, at_plate))
    return found


def assess(system_ids: Collection[int], *, now: datetime, mass: Mapping | None = None) -> set[int]:
    """Judge some systems and keep what is new; the systems of which something new is said."""
    mass = assessment.patterns_at(now) if mass is None else mass
    changes = changes_of(system_ids, now=now)
    return assessment.keep(assessment.judge(system_ids, now=now, changes=changes, mass=mass))


def today_bands(system_ids: Collection[int], *, now: datetime) -> dict[int, dict]:
    """What each of some systems should read today, by quantity and label of the line."""
    changes = changes_of(system_ids, now=now)
    return assessment.bands_today(system_ids, now=now, changes=changes)


def assess_in_turn(*, clock: Callable[[], datetime]) -> int:
    """Go on with the round that is under way, or begin one when the last was long ago.

    Returns how many systems say something new. At its end, those of a region that moved
    together are looked at again.
    """
    begun_at, changed = clock(), set()
    while (piece := _next_piece(now=clock())) is not None:
        changed |= assess(piece, now=clock()) if piece else _moved_together(now=clock())
        if not piece:
            break
        if clock() - begun_at >= TURN:
            wake(JOB)
            break
    if changed:
        due.refresh_systems(changed, now=clock())
    return len(changed)


def _next_piece(*, now):
    """The systems of the next piece; empty at the end of a round, None where another has it.

    None between rounds, too.
    """
    beat, _ = JobBeat.objects.get_or_create(name=BEAT, defaults={"beat_at": NEVER})
    if not beat.reached and beat.beat_at > now - STALE:
        return None
    ids = System.objects.filter(pk__gt=beat.reached).order_by("pk")
    piece = list(ids.values_list("pk", flat=True)[:PIECE])
    mine = JobBeat.objects.filter(name=BEAT, reached=beat.reached, beat_at=beat.beat_at)
    begins = beat.beat_at if beat.reached else now
    taken = mine.update(reached=piece[-1] if piece else 0, beat_at=begins)
    return piece if taken else None


def _moved_together(*, now):
    mass = assessment.patterns_at(now)
    systems = {pk for patterns in mass.values() for one in patterns for pk in one.systems}
    return assess(systems, now=now, mass=mass) if systems else set()
