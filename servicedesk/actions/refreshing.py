"""The nightly refresh of all due items: a round in parts, one at a time for each worker.

A job takes a part under a lease, works on it for a few seconds and calls the next, so that mails
and the beat have their turn between. A part whose worker was killed goes on where it stopped.
"""

import gc
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import Count, DateTimeField, ExpressionWrapper, F
from django.db.models.functions import Now

from customers.models import Site
from equipment.models import System
from servicedesk.actions import due, marks
from servicedesk.models import JobBeat, RefreshPart
from servicedesk.wakeups import wake

JOB = "servicedesk.tasks.refresh_due"
PART_SYSTEMS = 1_000
TURN = timedelta(seconds=5)  # then other jobs have theirs; a chunk is always finished
LEASE = timedelta(seconds=120)  # for one chunk, on a machine that is very busy
WORKERS = 4  # that share a round where the database lets them; more would hold up the mails


def refresh_in_turn(*, clock: Callable[[], datetime]) -> bool:
    """Begin a round when one is due, and work on a part of it; whether that ended the round."""
    begin_round(now=clock())
    part = take_part()
    if part is None:
        return False
    work_on(part, clock=clock)
    if RefreshPart.objects.filter(lease_until__gte=Now(), done_at=None).count() < WORKERS:
        wake(JOB)  # this worker or another goes on, after the jobs that wait by now
    return part.done_at is not None and not RefreshPart.objects.under_way().exists()


@transaction.atomic
def begin_round(*, now: datetime) -> int:
    """Cut all sites into parts of equal work, if the last round is over and was long ago."""
    if RefreshPart.objects.under_way().exists():
        return 0
    JobBeat.objects.get_or_create(name=due.BEAT, defaults={"beat_at": due.NEVER})
    stale = JobBeat.objects.filter(name=due.BEAT, beat_at__lte=now - due.STALE)
    if not stale.update(beat_at=now):
        return 0
    RefreshPart.objects.all().delete()
    parts = [
        RefreshPart(round_at=now, number=number, first_site=first, last_site=last, next_site=first)
        for number, (first, last) in enumerate(_cuts(), start=1)
    ]
    RefreshPart.objects.bulk_create(parts, batch_size=500)
    workers = WORKERS if connection.features.has_select_for_update_skip_locked else 1
    for _ in range(min(len(parts), workers) - 1):
        wake(JOB)
    return len(parts)


def _cuts() -> Iterator[tuple[int, int]]:
    counts = System.objects.order_by().values_list("site").annotate(Count("pk"))
    systems = dict(counts)
    first, weight, site = None, 0, None
    for site in Site.objects.order_by("pk").values_list("pk", flat=True):
        first = site if first is None else first
        weight += systems.get(site, 0)
        if weight >= PART_SYSTEMS:
            yield first, site
            first, weight = None, 0
    if first is not None:
        yield first, site


@transaction.atomic
def take_part() -> RefreshPart | None:
    """Take the next free part for this worker, under a lease by the database's own clock."""
    skip = connection.features.has_select_for_update_skip_locked
    free = RefreshPart.objects.free().select_for_update(skip_locked=skip)
    part = free.order_by("number").first()
    if part is None:
        return None
    owner = uuid.uuid4()
    mine = RefreshPart.objects.filter(pk=part.pk)
    mine.update(lease_by=owner, lease_until=_lease(), tries=F("tries") + 1)
    return mine.get()


def work_on(part: RefreshPart, *, clock: Callable[[], datetime]) -> None:
    """Refresh the sites of a part until it is done, its turn is over, or another has it."""
    with _collector_resting():
        _work_on(part, clock)


@contextmanager
def _collector_resting():
    """A turn makes objects by the hundred thousand and hardly a cycle: looking for them took a
    fifth of its time. What little there is waits for the end of the turn."""
    was_at_work = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_at_work:
            gc.enable()


def _work_on(part, clock):
    now = clock()
    sites = Site.objects.filter(pk__gte=part.next_site, pk__lte=part.last_site)
    ids = list(sites.order_by("pk").values_list("pk", flat=True))
    seen = marks.look_at(ids, now=now, between=(part.next_site, part.last_site))
    passed_by = marks.standing(seen, now=now)
    left = [site for site in ids if site not in passed_by]
    for start in range(0, len(left), due.CHUNK):
        chunk = left[start : start + due.CHUNK]
        with transaction.atomic():
            refreshed, days = due.refresh_watched(chunk, now=now)
            marks.mark(days, seen, now=now)
            part.next_site = chunk[-1] + 1
            part.looked_at += refreshed.systems
            part.written += refreshed.written
            if not _keep(part):
                transaction.set_rollback(True)
                return
        if clock() - now >= TURN and chunk[-1] != left[-1]:
            _keep(part, lease_by=None, lease_until=None, tries=0)
            return
    part.done_at = clock()
    if not _keep(part, done_at=part.done_at, lease_by=None, lease_until=None):
        part.done_at = None


def _keep(part, **fields):
    """Write how far it got, and hold it longer; False where another worker has taken it."""
    mine = RefreshPart.objects.filter(pk=part.pk, lease_by=part.lease_by)
    progress = {name: getattr(part, name) for name in ("next_site", "looked_at", "written")}
    return mine.update(**{"lease_until": _lease()} | progress | fields) == 1


def _lease():
    return ExpressionWrapper(Now() + LEASE, output_field=DateTimeField())
