"""Open a recall, list every unit it is about, and write down what became of each."""

import re
from collections import Counter
from collections.abc import Collection
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db import transaction
from django.db.models import Q

from customers.actions import Receivers
from customers.kinds import MailTopic
from customers.models import Contact, Trail, User
from equipment.kinds import ComponentState, PositionKind
from equipment.models import Component, ComponentType
from servicedesk.actions.climates import climate_of
from servicedesk.actions.due import lock_sites
from servicedesk.actions.recalls.places import whereabouts
from servicedesk.actions.reminders import owe
from servicedesk.emails import rows
from servicedesk.kinds import OfficeTaskKind, RecallOutcome, RecallStood, TicketEnd
from servicedesk.models import (
    OfficeTask,
    RecallCampaign,
    RecallUnit,
    Reminder,
    Task,
    Ticket,
    place_of,
)
from servicedesk.planning.calendar import site_date
from servicedesk.planning.ice import ice_possible
from servicedesk.planning.recalls import Standing, refuse_range, serial_standing

CHECK, LOOK, IN_WATER = "recall_check", "recall_look", "recall_in_water"
TASKS = (CHECK, LOOK, IN_WATER)
LIES_IN_WATER = {PositionKind.DIFFUSER, PositionKind.AIRLINE}
CALMLY = timedelta(days=30)  # judgement: within a month where nothing has to stop at once
PROMISE = re.compile(r"\bsafe(ly|ty)?\b", re.IGNORECASE)


class RecallRefused(Exception):
    """Nothing was written; the text says why and what to do."""


@transaction.atomic
def open_recall(
    *,
    name: str,
    notice: str,
    what_to_do: str,
    types: Collection[ComponentType],
    by: User,
    now: datetime,
    serial_from: str = "",
    serial_to: str = "",
    stop_at_once: bool = False,
    free_of_charge: bool = True,
) -> RecallCampaign:
    """Open a recall of some models, or of a range of their serial numbers, both ends within it.

    Every unit in the register is looked at, wherever it stands. Raises RecallRefused.
    """
    if not types:
        raise RecallRefused("Choose the models that are recalled.")
    if Task.objects.filter(slug__in=TASKS).count() < len(TASKS):
        raise RecallRefused("The tasks of a recall are missing. Run `manage.py prepare` first.")
    if PROMISE.search(f"{name} {what_to_do}"):
        raise RecallRefused(
            "Owners read these words, and the word safe promises too much. Say what is done."
        )
    _refuse_range(serial_from, serial_to)
    campaign = RecallCampaign.objects.create(
        name=name,
        notice=notice,
        what_to_do=what_to_do,
        stop_at_once=stop_at_once,
        free_of_charge=free_of_charge,
        serial_from=serial_from.strip(),
        serial_to=serial_to.strip(),
        opened_at=now,
        opened_by=by,
    )
    campaign.types.set(types)
    _trail("opened a recall", campaign, by, now, {"range": [serial_from, serial_to]})
    list_units(campaign, now=now)
    return campaign


@transaction.atomic
def list_units(campaign: RecallCampaign, *, now: datetime) -> int:
    """Put every unit on the list that is not there yet; how many are new. Twice changes nothing."""
    RecallCampaign.objects.select_for_update().get(pk=campaign.pk)
    listed = RecallUnit.objects.filter(campaign=campaign).values("component")
    unlisted = Component.objects.exclude(pk__in=listed)
    wanted = _meant(unlisted, campaign.types.all(), campaign.serial_from, campaign.serial_to)
    places = whereabouts([unit for unit, _look in wanted], now=now)
    lock_sites({p.fitting.position.system.site_id for p in places.values() if p.fitting})
    units = RecallUnit.objects.bulk_create(
        [_unit(campaign, unit, look, places[unit.pk], now) for unit, look in wanted],
        batch_size=500,
    )
    served = [unit for unit in units if places[unit.component_id].served]
    _open_tickets(campaign, [unit for unit in served if unit.position_id], now)
    _tell_owners(campaign, units, now)
    _tell_office(campaign, units, [unit for unit in units if unit not in served], now)
    return len(units)


class Counted(NamedTuple):
    """How many units a recall would list, by where they stand; `look` of them to be looked at."""

    stood: Counter
    look: int


def count_units(
    types: Collection[ComponentType], serial_from: str, serial_to: str, *, now: datetime
) -> Counted:
    """What a recall would list, before it is opened. Raises RecallRefused for a faulty range."""
    _refuse_range(serial_from, serial_to)
    wanted = _meant(Component.objects.all(), types, serial_from, serial_to)
    places = whereabouts([unit for unit, _look in wanted], now=now)
    stood = Counter(place.stood for place in places.values())
    return Counted(stood, sum(look for _unit, look in wanted))


def _refuse_range(serial_from, serial_to):
    try:
        refuse_range(serial_from, serial_to)
    except ValueError as fault:
        raise RecallRefused(str(fault)) from None


def _meant(units, types, serial_from, serial_to):
    """The units that a range is about, each with whether it has to be looked at first."""
    found = []
    for unit in units.filter(type__in=types).select_related("type").order_by("pk"):
        standing = serial_standing(unit.serial, serial_from, serial_to)
        if standing != Standing.OUT:
            found.append((unit, standing == Standing.LOOK))
    return found


def look_again(*, now: datetime) -> int:
    """Units that came into the register after a recall was opened; how many were found."""
    open_ = RecallCampaign.objects.filter(closed_at=None).order_by("pk")
    for unit in RecallUnit.objects.filter(
        campaign__in=open_, must_look=True, handled_at=None, ticket__end=TicketEnd.DONE
    ).select_related("campaign", "component__type", "site"):
        text = f"Recall {unit.campaign}: somebody looked at {unit.component}. Enter the serial "
        text += "number that was read, or what became of the unit, on the list of the recall."
        _office(f"recall-read:{unit.pk}", text, now, site=unit.site)
    return sum(list_units(campaign, now=now) for campaign in open_)


@transaction.atomic
def record_outcome(
    unit: RecallUnit, outcome: str, *, by: User, now: datetime, note: str = ""
) -> None:
    """Write down what became of a unit without a closing at the pond; its ticket ends with it."""
    if outcome not in set(RecallOutcome):
        raise RecallRefused("Choose what became of the unit.")
    if unit.site_id:
        lock_sites([unit.site_id])
    waiting = RecallUnit.objects.filter(pk=unit.pk, handled_at=None, campaign__closed_at=None)
    if not waiting.update(outcome=outcome, note=note[:250], handled_by=by, handled_at=now):
        raise RecallRefused("This unit is dealt with, or its recall is closed. Nothing is changed.")
    _trail("recall outcome", unit.campaign, by, now, {"unit": unit.pk, "outcome": outcome})
    Ticket.objects.open().filter(pk=unit.ticket_id).update(
        closed_at=now,
        end=TicketEnd.NOT_NEEDED,
        end_note=f"{by}: {outcome.replace('_', ' ')}. {note}"[:250],
    )


@transaction.atomic
def record_serial(unit: RecallUnit, serial: str, *, by: User, now: datetime) -> Standing:
    """A serial number that somebody could read after all: into the register, and what follows.

    In the range the unit is to be dealt with; outside it the recall is not about it.
    Raises RecallRefused for a number that still says nothing.
    """
    campaign, component = unit.campaign, unit.component
    standing = serial_standing(serial, campaign.serial_from, campaign.serial_to)
    if standing == Standing.LOOK:
        raise RecallRefused("This number does not tell whether the unit is meant. Read it again.")
    if not RecallUnit.objects.filter(pk=unit.pk, must_look=True, handled_at=None).exists():
        raise RecallRefused("The number of this unit is known. Correct it in the register.")
    before = component.serial
    Component.objects.filter(pk=component.pk).update(serial=serial.strip())
    after = {"serial": serial.strip(), "was": before, "component": component.pk}
    _trail("read a serial number", campaign, by, now, after)
    if standing == Standing.OUT:
        note = f"serial {serial.strip()} is outside the range"
        record_outcome(unit, RecallOutcome.NOT_AFFECTED, by=by, now=now, note=note)
        return standing
    Ticket.objects.open().filter(pk=unit.ticket_id, task__slug=LOOK).update(
        closed_at=now, end=TicketEnd.NOT_NEEDED, end_note="The serial number was read."
    )
    RecallUnit.objects.filter(pk=unit.pk).update(must_look=False)
    unit.must_look = False
    if unit.position_id:
        _open_tickets(campaign, [unit], now)
        _tell_owners(campaign, [unit], now)
    return standing


@transaction.atomic
def close_recall(campaign: RecallCampaign, *, by: User, now: datetime) -> None:
    """Close a recall of which every unit is dealt with. Raises RecallRefused while one is not."""
    RecallCampaign.objects.select_for_update().get(pk=campaign.pk)
    left = waiting_units(campaign).count()
    if left:
        raise RecallRefused(f"Units not dealt with: {left}. Write down what became of each first.")
    open_ = RecallCampaign.objects.filter(pk=campaign.pk, closed_at=None)
    if open_.update(closed_at=now, closed_by=by):
        _trail("closed a recall", campaign, by, now, {})


def waiting_units(campaign: RecallCampaign):
    """Units without an outcome and without accepted work that closed their ticket."""
    done = Q(ticket__end=TicketEnd.DONE, must_look=False)
    return RecallUnit.objects.filter(campaign=campaign, handled_at=None).exclude(done)


def _unit(campaign, component, look, place, now):
    position = place.fitting.position if place.fitting else None
    gone = place.stood == RecallStood.SCRAPPED
    return RecallUnit(
        campaign=campaign,
        component=component,
        stood=place.stood,
        must_look=look,
        site=position.system.site if position else None,
        system=position.system if position else None,
        position=position,
        listed_at=now,
        outcome=RecallOutcome.OUT_OF_USE if gone else "",
        note="Scrapped before the recall." if gone else "",
        handled_at=now if gone else None,
    )


def _open_tickets(campaign, units, now):
    """One ticket for each fitted unit: what the notice asks, or first a look at its number."""
    tasks = {task.slug: task for task in Task.objects.filter(slug__in=TASKS)}
    for unit in units:
        task = tasks[_task_of(unit)]
        wait = timedelta() if campaign.stop_at_once else CALMLY
        words = "Its serial number is not in the register: read it." if unit.must_look else ""
        unit.ticket, _new = Ticket.objects.get_or_create(
            place_key=place_of(unit.position)["place_key"],
            task=task,
            occasion=campaign.occasion,
            closed_at=None,
            defaults={
                **place_of(unit.position),
                "opened_at": now,
                "due_when_opened_on": site_date(now, unit.site.time_zone) + wait,
                "because": f"Recall {campaign}, unit {unit.component}. {words}".strip(),
                "no_charge": campaign.free_of_charge,
            },
        )
    RecallUnit.objects.bulk_update(units, ["ticket"], batch_size=500)


def _task_of(unit):
    if unit.position.kind in LIES_IN_WATER:
        return IN_WATER
    return LOOK if unit.must_look else CHECK


def _tell_owners(campaign, units, now):
    """A line to each owner of today about each unit that is certainly meant; else by phone."""
    told = [unit for unit in units if unit.site_id and not unit.must_look]
    for unit, contacts in zip(told, receivers_of(told, now=now), strict=True):
        today = site_date(now, unit.site.time_zone)
        ice = campaign.stop_at_once and ice_possible(climate_of(unit.site), today)
        for contact in contacts:
            facts = {"immediate": campaign.stop_at_once, "ice": ice}
            period = f"recall:{unit.pk}"
            owe(contact, MailTopic.RECALL, period, now=now, recall_unit=unit, facts=facts)
        if not contacts:
            text = f"Nobody at {unit.site} can be reached by mail. Phone: recall {campaign}."
            _office(f"recall-unreachable:{unit.pk}", text, now, site=unit.site, urgent=True)


def receivers_of(units: Collection[RecallUnit], *, now: datetime) -> list[list[Contact]]:
    """Whom a recall is told for each unit at a site: the owners of today of its waters.

    Where it has to stop at once, everybody near too.
    """
    ponds = rows.ponds_of_systems({unit.system_id for unit in units})
    days = {unit.site_id: site_date(now, unit.site.time_zone) for unit in units}
    by_day = {
        day: Receivers([pk for pk, of in days.items() if of == day], on=day)
        for day in set(days.values())
    }
    found = []
    for unit in units:
        contacts = {}
        for pond in ponds.get(unit.system_id) or [None]:
            warning = unit.campaign.stop_at_once
            having = by_day[days[unit.site_id]].of(unit.site_id, pond, warning=warning)
            contacts |= {contact.pk: contact for contact in having}
        found.append(list(contacts.values()))
    return found


def _tell_office(campaign, units, unserved, now):
    """What no ticket reaches: units in our own hands, taken off, and at systems handed over."""
    ours = [u for u in units if not u.position_id and u.stood != RecallStood.SCRAPPED]
    lost = [u for u in ours if u.stood == RecallStood.TAKEN_OFF]
    if at_home := [u for u in ours if u not in lost]:
        words = ", ".join(sorted(u.component.serial or "not readable" for u in at_home))
        text = f"Recall {campaign}: set these aside, fit none of them, write down each: {words}"
        _office(f"{campaign.occasion}:at-home:{at_home[0].pk}", text, now, urgent=True)
    for unit in lost:
        text = f"Recall {campaign}: {unit.component} was taken off and is nowhere. Find out where."
        if unit.component.state == ComponentState.WITH_OWNER:
            text = f"Recall {campaign}: {unit.component} was taken off and left with the owner of "
            text += "its last place. Phone: it must not be used."
        _office(f"recall-lost:{unit.pk}", text, now, urgent=campaign.stop_at_once)
    for unit in unserved:
        text = f"Recall {campaign}: {unit.component} is at a system that another firm looks after."
        text += " The owner was written to. Phone, and agree who does it."
        _office(f"recall-elsewhere:{unit.pk}", text, now, site=unit.site, urgent=True)
    if campaign.stop_at_once and any(unit.position_id for unit in units):
        text = f"Recall {campaign}: units have to stop at once. Phone their owners today; the list "
        text += "of the recall names them."
        _office(f"{campaign.occasion}:phone:{units[0].pk}", text, now, urgent=True)


def _office(key, text, now, *, site=None, urgent=False):
    OfficeTask.objects.get_or_create(
        key=key,
        defaults={
            "kind": OfficeTaskKind.RECALL,
            "text": text,
            "site": site,
            "urgent": urgent,
            "opened_at": now,
        },
    )


def _trail(did, campaign, by, now, after):
    Trail.objects.create(at=now, by=by, did=did, about=campaign.occasion, after=after)


def told_of(campaign: RecallCampaign) -> dict[int, list[Reminder]]:
    """The lines that owners were owed about each unit of a recall, by unit."""
    found: dict[int, list[Reminder]] = {}
    lines = Reminder.objects.filter(recall_unit__campaign=campaign, topic=MailTopic.RECALL)
    for line in lines.select_related("contact", "message").order_by("pk"):
        found.setdefault(line.recall_unit_id, []).append(line)
    return found
