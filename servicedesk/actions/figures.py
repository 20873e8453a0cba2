"""The firm's own figures over the defaults of the trade, from a day on and for good reason."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from customers.models import User
from servicedesk.actions import due
from servicedesk.models import DueItem, JobBeat, Override, Rhythm, Task
from servicedesk.wakeups import wake

SITES_LOOKED_AT = 200  # more would keep the manager waiting; the page says how many it was
DAYS_AT_MOST = 3650


class FigureRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@dataclass(frozen=True)
class Figure:
    """What is to hold: a field of a task or of one of its rhythms, where, and from when.

    `where` is empty for the whole firm, else one of system_id, site_id, component_type_id.
    """

    task: Task
    field: str  # every, early_days, late_days or active
    value: float
    from_on: date
    where: dict
    rhythm: Rhythm | None = None


@dataclass(frozen=True)
class Moved:
    """How many due days of a task a figure would move."""

    sites: int
    of_sites: int
    looked_at: int
    earlier: int
    later: int
    gone: int


def moved_by(figure: Figure, *, by: User, today: date, now: datetime) -> Moved:
    """What the figure would do to the due days that stand now, were it in force today."""
    _refuse_faults(figure, today)
    sites = _sites_of(figure)
    sample = sites[:SITES_LOOKED_AT]
    before = _days(figure.task, sample, now)
    with transaction.atomic():
        _row(figure, by, "preview", now, from_on=today).save()
        after = _days(figure.task, sample, now)
        transaction.set_rollback(True)
    pairs = [(day, after.get(key)) for key, day in before.items()]
    return Moved(
        sites=len(sample),
        of_sites=len(sites),
        looked_at=len(before),
        earlier=sum(1 for old, new in pairs if old and new and new < old),
        later=sum(1 for old, new in pairs if old and new and new > old),
        gone=sum(1 for old, new in pairs if old and not new),
    )


@transaction.atomic
def set_figure(figure: Figure, *, by: User, reason: str, today: date, now: datetime) -> Override:
    """Let a figure hold from its day on; due days follow at once, or by the next job."""
    _refuse_faults(figure, today)
    if not reason.strip():
        raise FigureRefused("Give the reason: it stands beside the figure from now on.")
    row = _row(figure, by, reason.strip()[:250], now)
    row.save()
    sites = _sites_of(figure)
    if len(sites) <= SITES_LOOKED_AT:
        due.refresh_sites(sites, now=now)
    else:
        JobBeat.objects.filter(name=due.BEAT).update(beat_at=due.NEVER)
        wake("servicedesk.tasks.refresh_due")
    return row


def _refuse_faults(figure, today):
    if figure.from_on < today:
        raise FigureRefused(
            "A figure holds from today on or later: nothing becomes overdue backwards."
        )
    if figure.field == "every" and not 0 < figure.value <= 200_000:
        raise FigureRefused("An interval must be more than 0 and no more than 200000.")
    if figure.field == "active" and figure.value not in {0, 1}:
        raise FigureRefused("Write 1 where the task is done and 0 where it is not.")
    in_days = figure.field.endswith("_days")
    if in_days and not (0 <= figure.value <= DAYS_AT_MOST and figure.value == int(figure.value)):
        raise FigureRefused(f"Write whole days from 0 to {DAYS_AT_MOST}.")


def _row(figure, by, reason, now, *, from_on=None):
    return Override(
        task=figure.task,
        rhythm=figure.rhythm,
        field=figure.field,
        value=figure.value,
        from_on=from_on or figure.from_on,
        by=by,
        reason=reason,
        entered_at=now,
        **figure.where,
    )


def _sites_of(figure):
    """Sites where the task falls due and the figure may hold."""
    items = DueItem.objects.filter(task=figure.task)
    where = dict(figure.where)
    if kind := where.pop("component_type_id", None):
        where["system__positions__fittings__component__type"] = kind
    return list(items.filter(**where).order_by("site").values_list("site", flat=True).distinct())


def _days(task, sites, now):
    return {
        (found.place["place_key"], found.due.occasion): found.due.on
        for found in due.occasions(sites, now=now)
        if found.task.pk == task.pk
    }
