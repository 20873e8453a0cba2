"""Comparing two settings in the background: ask, hold under a lease, collect, give up.

Each setting is one side, played by one child process. Leases are compared with the database's own
time, so that no two machines have to agree on theirs.
"""

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import DateTimeField, ExpressionWrapper, Q
from django.db.models.functions import Now

from customers.models import User
from servicedesk.kinds import PlanState
from servicedesk.models import WhatIf, WhatIfSide
from servicedesk.planning.whatif.months import Months, Rates
from servicedesk.planning.whatif.settings import Settings
from servicedesk.planning.whatif.year import ITERATIONS, WEEKS
from servicedesk.wakeups import wake

START = "servicedesk.tasks.start_what_ifs"
COLLECT = "servicedesk.tasks.collect_what_ifs"
UNDER_WAY = [PlanState.QUEUED, PlanState.RUNNING]
MOST_AT_ONCE = 2  # sides: the cores of a small machine
START_S = 60  # a child that has not taken its side by then is given up
LEASE_S = 120  # reading 200 sites, or making a week of a large firm ready, takes less
DEAD = "Its process ended before the year was over."


@transaction.atomic
def ask_what_if(
    name: str,
    a: Settings,
    b: Settings,
    *,
    by: User | None,
    now: datetime,
    words: tuple[list[str], list[str]] = ([], []),
    weeks: int = WEEKS,
    iterations: int = ITERATIONS,
    seed: int = 1,
    rates: Rates | None = None,
) -> WhatIf:
    """Write down what is to be compared, and wake the jobs that do it."""
    rates = rates or Rates()
    asked = WhatIf.objects.create(
        name=name,
        weeks=weeks,
        iterations=iterations,
        seed=seed,
        per_km=rates.per_km,
        per_hour=rates.per_hour,
        asked_at=now,
        asked_by=by,
    )
    WhatIfSide.objects.bulk_create(
        WhatIfSide(what_if=asked, side=side, changes=changes.as_data(), words=said)
        for side, changes, said in zip("ab", (a, b), words, strict=True)
    )
    wake(START)
    return asked


def start_what_ifs(*, launch: Callable[[WhatIfSide], None]) -> int:
    """Launch a child process for each side that waits for one, two at a time; how many."""
    count = 0
    for side in WhatIfSide.objects.filter(state=PlanState.QUEUED).order_by("what_if", "side"):
        running = WhatIfSide.objects.filter(state=PlanState.RUNNING, lease_until__gte=Now())
        if running.count() >= MOST_AT_ONCE:
            break
        claimed = WhatIfSide.objects.filter(pk=side.pk, state=PlanState.QUEUED).update(
            state=PlanState.RUNNING, lease_until=_in_seconds(START_S)
        )
        if claimed:
            queued = WhatIf.objects.filter(pk=side.what_if_id, state=PlanState.QUEUED)
            queued.update(state=PlanState.RUNNING)
            launch(side)
            count += 1
    return count


def take_side(pk: int, side: str) -> WhatIfSide | None:
    """Take a side for this process; None if another has it or it is over."""
    mine = WhatIfSide.objects.filter(what_if=pk, side=side, state__in=UNDER_WAY).filter(
        Q(lease_by=None) | Q(lease_until__lt=Now())
    )
    taken = mine.update(
        state=PlanState.RUNNING, lease_by=uuid.uuid4(), lease_until=_in_seconds(LEASE_S)
    )
    if not taken:
        return None
    return WhatIfSide.objects.select_related("what_if").get(what_if=pk, side=side)


def go_on(side: WhatIfSide, *, read_percent: int = 100, months: Months | None = None) -> bool:
    """Keep what there is so far and the lease; False if it was lost or somebody asked to stop."""
    fields = {"read_percent": read_percent, "lease_until": _in_seconds(LEASE_S)}
    if months:
        fields |= {"done_weeks": months.weeks_done, "result": months.as_data()}
    kept = _held(side).update(**fields)
    stop_asked = WhatIf.objects.filter(pk=side.what_if_id, cancel_asked_at__isnull=False)
    return bool(kept) and not stop_asked.exists()


def finish_side(side: WhatIfSide, months: Months) -> bool:
    """Hand in a side, if this process still holds it; wakes the collector and the next side."""
    with transaction.atomic():
        handed_in = _held(side).update(
            state=PlanState.CANCELLED if months.cancelled else PlanState.DONE,
            done_weeks=months.weeks_done,
            result=months.as_data(),
            lease_until=None,
        )
        wake(COLLECT)
        wake(START)
    return bool(handed_in)


def fail_side(side: WhatIfSide, because: str) -> None:
    """Say why a side came to nothing; what it has so far is kept."""
    _held(side).update(state=PlanState.FAILED, says=because[:250], lease_until=None)


@transaction.atomic
def cancel_what_if(asked: WhatIf, *, now: datetime) -> None:
    """Ask a comparison to stop; the months that are done are kept."""
    WhatIf.objects.filter(pk=asked.pk, state__in=UNDER_WAY, cancel_asked_at=None).update(
        cancel_asked_at=now
    )
    asked.sides.filter(state=PlanState.QUEUED).update(state=PlanState.CANCELLED)
    if not asked.sides.filter(state__in=UNDER_WAY).exists():
        _end(asked.pk, now)  # no child will ever report
    wake(COLLECT)


def collect_what_ifs(*, clock: Callable[[], datetime]) -> int:
    """End the comparisons whose sides are over, dead ones among them; how many ended."""
    dead = WhatIfSide.objects.filter(state=PlanState.RUNNING, lease_until__lt=Now())
    dead.update(state=PlanState.FAILED, says=DEAD, lease_until=None)
    over = WhatIf.objects.filter(state__in=UNDER_WAY).exclude(sides__state__in=UNDER_WAY)
    return sum(_end(pk, clock()) for pk in over.values_list("pk", flat=True))


@transaction.atomic
def _end(pk: int, now: datetime) -> bool:
    asked = WhatIf.objects.select_for_update().filter(pk=pk, state__in=UNDER_WAY).first()
    if asked is None:
        return False  # another collector was quicker
    sides = list(asked.sides.order_by("side").defer("result"))
    failed = [side for side in sides if side.state == PlanState.FAILED]
    if failed:
        asked.state = PlanState.FAILED
        asked.says = _why(failed)
    elif asked.cancel_asked_at:
        asked.state = PlanState.CANCELLED
        asked.says = "Stopped by hand; what both settings have done is compared."
    elif all(side.state == PlanState.DONE for side in sides):
        asked.state = PlanState.DONE
    else:
        asked.state = PlanState.CANCELLED
        asked.says = "The program was stopped before the year was over. Ask again."
    asked.ended_at = now
    asked.save(update_fields=["state", "says", "ended_at"])
    return True


def _why(failed: list[WhatIfSide]) -> str:
    """Each reason once, with the setting it belongs to where only one has it."""
    reasons = dict.fromkeys(side.says for side in failed)
    if len(failed) > 1 and len(reasons) == 1:
        return failed[0].says[:250]
    return " ".join(f"Setting {side.side.upper()}: {side.says}" for side in failed)[:250]


def _held(side: WhatIfSide):
    return WhatIfSide.objects.filter(pk=side.pk, lease_by=side.lease_by, state=PlanState.RUNNING)


def _in_seconds(seconds: int):
    return ExpressionWrapper(Now() + timedelta(seconds=seconds), output_field=DateTimeField())
