"""Each clock of a system: the facts that it rests on, and what would change it."""

from dataclasses import dataclass
from datetime import date

from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from equipment.models import Fitting, Position, System
from servicedesk.kinds import Clock, Who
from servicedesk.models import DueItem, Override, Rhythm
from servicedesk.planning.standing import Standing, standing
from servicedesk.templatetags import house

CLOCKS = {
    Clock.RUN: gettext_lazy("Running hours"),
    Clock.OP: gettext_lazy("Days in operation"),
    Clock.CAL: gettext_lazy("Days of the calendar"),
    Clock.SEASON: gettext_lazy("A season"),
    Clock.EVENT: gettext_lazy("Something that happened"),
    Clock.COND: gettext_lazy("The readings"),
}
CHANGES = {  # besides the work itself, a decision, and another figure
    Clock.RUN: gettext_lazy("A reading of the hour meter, another schedule, or a day at rest."),
    Clock.OP: gettext_lazy("A day at rest: record the state from its day on."),
    Clock.CAL: gettext_lazy("Only work or a decision: it counts every day, also at rest."),
    Clock.SEASON: gettext_lazy("The usual days of the region, or the winter mode of the system."),
    Clock.EVENT: gettext_lazy("Striking out the state that called for it."),
    Clock.COND: gettext_lazy("Readings that are in order again."),
}


@dataclass(frozen=True)
class Shown:
    """One due item as the page of clocks tells it."""

    item: DueItem
    standing: Standing
    clock: str
    facts: list[tuple[str, str]]
    changes: str
    figures: list[tuple[str, str, str]]  # the interval in words, its mark, the note
    own: list[Override]


def clocks_of(system: System, today: date) -> list[Shown]:
    """Every clock of a system and of its site, those with the nearest day first."""
    units = Fitting.objects.filter(position__system=system, to_on=None).values("component")
    waters = Position.objects.lying().filter(system=system).values("pond")
    at_site = Q(site=system.site_id, system=None, component=None)
    at_site &= Q(pond=None) | Q(pond__in=waters)
    here = Q(system=system) | at_site | Q(system=None, component__in=units)
    items = DueItem.objects.filter(here).select_related("task", "position", "component")
    items = list(items.order_by("paused", F("due_on").asc(nulls_last=True), "pk"))
    tasks = {item.task_id for item in items}
    rhythms, own = {}, {}
    for rhythm in Rhythm.objects.filter(task__in=tasks, who=Who.TECHNICIAN).order_by("number"):
        rhythms.setdefault(rhythm.task_id, []).append(rhythm)
    scope = Q(site=None, system=None) | Q(site=system.site_id) | Q(system=system)
    figures = Override.objects.filter(scope, task__in=tasks).select_related("by", "component_type")
    for row in figures.order_by("-from_on", "-pk"):
        own.setdefault(row.task_id, []).append(row)
    return [_shown(i, rhythms.get(i.task_id, []), own.get(i.task_id, []), today) for i in items]


def _shown(item, rhythms, own, today):
    clock = Clock(item.basis["clock"]) if item.basis.get("clock") in set(Clock) else None
    window = {name: getattr(item, name) for name in ("opens_on", "due_on", "closes_on", "paused")}
    return Shown(
        item=item,
        standing=standing(today, **window),
        clock=CLOCKS.get(clock, ""),
        facts=list(_facts(item)),
        changes=_changes(clock, item.basis),
        figures=[(house.rhythm_words(r), r.mark, r.mark_note) for r in rhythms],
        own=own,
    )


def _changes(clock, basis):
    if "anchor" in basis:
        return _("Only a decision or another figure: it keeps its day, however early it is done.")
    return CHANGES.get(clock, "")


DAYS = {  # of a basis, with the name of each
    "since": gettext_lazy("Counts from"),
    "anchor": gettext_lazy("Keeps the day of"),
    "metered_until": gettext_lazy("Hour meter read until"),
    "found_on": gettext_lazy("Found on"),
    "blocked_until": gettext_lazy("Held until"),
}


def _facts(item):
    """What the due day rests on, as it was kept with it; each as name and words."""
    basis = item.basis
    yield from ((name, _day(basis[key])) for key, name in DAYS.items() if basis.get(key))
    yield from _hours(item)
    if basis.get("window"):
        yield _("Season"), _("%s to %s") % tuple(_day(on) for on in basis["window"])
    if basis.get("decision"):
        yield _("Decision"), house.words(basis["decision"])
    if basis.get("blocked"):
        yield _("Held because"), basis["blocked"]
    for other in basis.get("others", ()):
        if other.get("clock") in set(Clock):
            yield _("Its other clock"), _other(other)


def _hours(item):
    basis = item.basis
    if basis.get("hours_per_day") is not None:
        said = _("%s h, estimated from the schedule") if item.estimated else _("%s h, metered")
        yield _("Runs a day"), said % f"{basis['hours_per_day']:g}"
    if basis.get("hours_before"):
        yield _("Ran before it was fitted"), f"{basis['hours_before']:,.0f} h"
    if basis.get("paused_days"):
        yield (
            _("At rest meanwhile"),
            ", ".join(_paused(*row) for row in basis["paused_days"].items()),
        )


def _other(other):
    on = _day(other["on"]) if other.get("on") else _("no day, it stands still")
    return f"{CLOCKS[Clock(other['clock'])]}: {on}"


def _paused(state, days):
    return _("%(days)s days %(state)s") % {"days": f"{days:g}", "state": house.words(state)}


def _day(iso):
    return house.day(date.fromisoformat(iso))
