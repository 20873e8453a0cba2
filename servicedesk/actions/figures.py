"""The firm's own figures over the defaults of the trade, from a day on and for good reason."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from customers.models import User
from servicedesk.actions import due
from servicedesk.actions.facts import facts_of
from servicedesk.actions.rules import Rules
from servicedesk.models import DueItem, JobBeat, Override, Rhythm, Task, place_of
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.engine import due as next_due
from servicedesk.wakeups import wake

SITES_AT_ONCE = 200  # whose due days follow while the manager waits; others by the next job
SITES_LOOKED_AT = 1_000  # more would keep the manager waiting; the page says how many it was
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
    """How many due days of a task a figure would move, and how many it makes due at once."""

    sites: int
    of_sites: int
    looked_at: int
    earlier: int
    later: int
    gone: int
    come_due: int  # due by the day from which the figure holds, and not before it


def moved_by(figure: Figure, *, by: User, today: date, now: datetime) -> Moved:
    """What the figure would do to due days on the day from which it is to hold.

    Nothing is written, and facts are read once: for the figures as they are and as they would be.
    """
    _refuse_faults(figure, today)
    sites = _sites_of(figure)
    sample = sites[:SITES_LOOKED_AT]
    rules = Rules.read(now)
    as_is = rules.only(figure.task, figure.from_on)
    as_asked = rules.only(figure.task, figure.from_on, _row(figure, by, "preview", now))
    pairs = list(_pairs(sample, as_is, as_asked, now))
    dated = [(old, new) for old, new in pairs if old and new]
    return Moved(
        sites=len(sample),
        of_sites=len(sites),
        looked_at=len(pairs),
        earlier=sum(1 for old, new in dated if new < old),
        later=sum(1 for old, new in dated if new > old),
        gone=sum(1 for old, new in pairs if old and not new),
        come_due=sum(1 for old, new in dated if new <= figure.from_on < old),
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
    if len(sites) <= SITES_AT_ONCE:
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


def _row(figure, by, reason, now):
    return Override(
        task=figure.task,
        rhythm=figure.rhythm,
        field=figure.field,
        value=figure.value,
        from_on=figure.from_on,
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


def _pairs(sites, as_is, as_asked, now):
    """The due day of each place, as it is and as it would be."""
    for start in range(0, len(sites), due.CHUNK):
        for facts in facts_of(sites[start : start + due.CHUNK], now=now):
            today = site_date(now, facts.site.time_zone)
            new = _days(as_asked, facts, today)
            yield from ((day, new.get(key)) for key, day in _days(as_is, facts, today).items())


def _days(rules, facts, today):
    return {
        (place_of(thing, site=facts.site)["place_key"], found.occasion): found.on
        for _, thing, rule, place in rules.places(facts, today)
        if (found := next_due(rule, place, today))
    }
