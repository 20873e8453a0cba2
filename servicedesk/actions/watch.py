"""Watch for running systems of which nobody has heard anything for too long."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Max

from customers.models import Firm
from equipment.kinds import RUNNING, Certainty
from equipment.models import ReadingSet, StateChange, System
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import DueItem, OfficeTask, SystemCheck, Work
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day
from servicedesk.planning.silence import interval_days, silent_after_days

KEY = "silent"


def watch_silence(*, now: datetime) -> int:
    """Tell the office of each system that has fallen silent, once for each silence.

    A task whose system was seen since, or does not run any more, goes. Returns the new ones.
    """
    firm = Firm.objects.first()
    factor = firm.silent_after_intervals if firm else Firm().silent_after_intervals
    found = {
        _key(system, last): (system, last, days) for system, last, days in _silent(factor, now)
    }
    open_ = OfficeTask.objects.filter(kind=OfficeTaskKind.SILENT, handled_at=None)
    open_.exclude(key__in=found).update(
        handled_at=now, handled_note="It was seen since, or does not run any more."
    )
    told = set(OfficeTask.objects.filter(key__in=found).values_list("key", flat=True))
    fresh = [
        OfficeTask(
            kind=OfficeTaskKind.SILENT,
            key=key,
            text=_sentence(system, last, days, factor),
            site_id=system.site_id,
            opened_at=now,
        )
        for key, (system, last, days) in found.items()
        if key not in told
    ]
    OfficeTask.objects.bulk_create(fresh, batch_size=500, ignore_conflicts=True)
    return len(fresh)


def _silent(factor, now) -> Iterable[tuple[System, datetime | None, int]]:
    """Running systems with their last sign of life and the days that may pass without one."""
    seen, intervals = _last_seen(now), _intervals()
    running = System.objects.with_state(now).filter(state_now__in=RUNNING).select_related("site")
    for system in running.order_by("pk"):
        last, today = seen.get(system.pk), site_date(now, system.site.time_zone)
        since = site_date(last, system.site.time_zone) if last else system.installed_on
        days = silent_after_days(intervals.get(system.pk, ()), factor)
        if today - since > timedelta(days=days):
            yield system, last, days


def _last_seen(now):
    """The newest sign of life by system: a look, work, a reading, a state that somebody saw.

    An owner's word that he did something counts: he was there, and it ran.
    """
    signs = [
        SystemCheck.objects.filter(visit__arrived_at__lte=now)
        .values_list("system")
        .annotate(Max("visit__arrived_at")),
        Work.objects.counting()
        .filter(done_at__lte=now, system__isnull=False)
        .values_list("system")
        .annotate(Max("done_at")),
        ReadingSet.objects.filter(taken_at__lte=now, system__isnull=False)
        .values_list("system")
        .annotate(Max("taken_at")),
        StateChange.objects.standing()
        .filter(at__lte=now, certainty=Certainty.OBSERVED)
        .values_list("system")
        .annotate(Max("at")),
    ]
    newest = {}
    for rows in signs:
        for system, at in rows.order_by():
            newest[system] = max(at, newest.get(system, at))
    return newest


def _intervals():
    """The intervals of what technicians do, in days, by system."""
    found = defaultdict(list)
    rows = DueItem.objects.filter(system__isnull=False)
    parts = ["basis__clock", "basis__every", "basis__unit", "basis__hours_per_day"]
    for system, clock, every, unit, rate in rows.values_list("system", *parts).iterator():
        if days := interval_days(clock, every, unit, rate):
            found[system].append(days)
    return found


def _key(system, last):
    return f"{KEY}:{system.pk}:{last:%Y%m%dT%H%M%S}" if last else f"{KEY}:{system.pk}:never"


def _sentence(system, last, days, factor):
    if last:
        seen = f"since {day(site_date(last, system.site.time_zone))}"
    else:
        seen = "since it was installed"
    return (
        f"{system}, {system.key}, runs as far as we know, but nobody has seen it {seen}. That is "
        f"longer than {days} days, {factor:g} times its shortest interval. Phone, or send somebody."
    )
