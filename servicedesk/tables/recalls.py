"""The list of a recall: every unit, where it stood, who was told, and what became of it."""

from collections import defaultdict

from django.db.models import Count, Prefetch, Q
from django.utils.translation import gettext_lazy as _

from equipment.models import System
from servicedesk.actions.recalls.campaigns import told_of
from servicedesk.kinds import Outcome, TicketEnd
from servicedesk.models import RecallCampaign, RecallUnit, Work
from servicedesk.tables.systems import ponds_of_systems
from servicedesk.templatetags import house

STANDS = {  # as the sheet says it
    "installed": _("fitted"),
    "loaner": _("loaner"),
    "shop": _("in the shop"),
    "spare": _("spare"),
    "stock": _("in stock"),
    "moved": _("fitted, moved before"),
    "sold": _("fitted, the place was sold since"),
    "taken_off": _("taken off, not found"),
    "scrapped": _("scrapped"),
}


def recalls_listed():
    """Recalls, the open ones first, with how many units each has and how many wait."""
    done = Q(units__ticket__end=TicketEnd.DONE, units__must_look=False)
    return (
        RecallCampaign.objects.select_related("opened_by")
        .annotate(
            all_units=Count("units"),
            waiting=Count("units", filter=Q(units__handled_at=None))
            - Count("units", filter=Q(units__handled_at=None) & done),
        )
        .order_by("closed_at", "-opened_at", "pk")
    )


def units_shown(campaign: RecallCampaign) -> list[RecallUnit]:
    """Every unit with `standing`, `attempts`, `told`; what still waits comes first."""
    units = list(
        RecallUnit.objects.filter(campaign=campaign)
        .select_related("component__type", "site", "position", "ticket", "handled_by")
        .prefetch_related(Prefetch("system", System.objects.prefetch_related(ponds_of_systems())))
        .order_by("pk")
    )
    works = defaultdict(list)
    of_tickets = Work.objects.filter(ticket__in=[u.ticket_id for u in units if u.ticket_id])
    for work in of_tickets.select_related("user").order_by("done_at", "pk"):
        works[work.ticket_id].append(work)
    told = told_of(campaign)
    for unit in units:
        mine = works.get(unit.ticket_id, [])
        unit.ponds = [place.pond for place in unit.system.in_water] if unit.system else []
        unit.stood_words = STANDS[unit.stood]
        unit.attempts = len(mine)
        unit.told = told.get(unit.pk, [])
        unit.done = next((work for work in mine if work.outcome == Outcome.DONE), None)
        unit.said = unit.note or (unit.done.note if unit.done else "")
        unit.standing, unit.words = _standing(unit)
        unit.waits = unit.standing != "ok"
    return sorted(units, key=lambda unit: (not unit.waits, unit.pk))


def _standing(unit):
    """Shape and words of what became of a unit."""
    if unit.handled_at:
        return "ok", unit.get_outcome_display().capitalize()
    if unit.ticket is None:
        return "due", _("To be dealt with")
    if unit.ticket.end == TicketEnd.DONE and not unit.must_look:
        on = house.local_day(unit.done.done_at if unit.done else unit.ticket.closed_at)
        return "ok", _("Done on %s") % on
    if unit.ticket.end == TicketEnd.DONE:
        return "due", _("Looked at: enter the number")
    if unit.ticket.closed_at:
        return "late", _("Its ticket ended without the work")
    return "due", _("To be looked at") if unit.must_look else _("To be dealt with")


COLUMNS = [
    "maker",
    "model",
    "serial",
    "must look",
    "stood",
    "site",
    "system",
    "position",
    "outcome",
    "note",
    "attempts",
    "told",
    "handled by",
]


def sheet_of(units: list[RecallUnit]) -> list[list]:
    """The same as rows of cells, with a heading."""
    return [COLUMNS, *(_cells(unit) for unit in units)]


def _cells(unit):
    done_by = unit.done.user if unit.done else ""
    return [
        unit.component.type.maker,
        unit.component.type.model,
        unit.component.serial,
        "yes" if unit.must_look else "",
        unit.get_stood_display(),
        unit.site or "",
        f"{unit.system.key} {unit.system}" if unit.system else "",
        unit.position or "",
        unit.words,
        unit.said,
        unit.attempts,
        "; ".join(_told(line) for line in unit.told),
        unit.handled_by or done_by or "",
    ]


def _told(line):
    sent_at = line.message.sent_at if line.message else None
    state = f"{sent_at:%Y-%m-%d %H:%M} UTC" if sent_at else line.dropped_because or "waiting"
    return f"{line.contact.name}: {state}"
