"""The readings of a visit: those typed, those a task asks for, and why one was left out.

Beside them what was seen, heard or smelt.
"""

from datetime import datetime

from customers.models import Pond
from equipment.actions import readings
from equipment.kinds import Moment, PositionKind, Quantity, Sign
from equipment.models import Position, System
from servicedesk.actions.visits.payload import Node

LATER = "later"  # the answer of somebody who cannot tell whether an odd value is right
# Asked for once a system; the others are taken line by line, or at the pond, where one can.
OF_A_SYSTEM = {
    Quantity.PRESSURE,
    Quantity.FLOW,
    Quantity.CURRENT,
    Quantity.VOLTAGE,
    Quantity.CABINET_AIR,
    Quantity.OUTSIDE_AIR,
    Quantity.HEAD_TEMPERATURE,
}


def asked_of(system: System, tasks) -> list[str]:
    """Keys of the readings that these tasks ask for at a system, in the order of the tasks."""
    words = dict.fromkeys(word for task in tasks for word in task.readings)
    keys = [word for word in words if word in OF_A_SYSTEM]
    if Quantity.RUN_HOURS in words:
        meters = Position.objects.filter(system=system, kind=PositionKind.METER).order_by("pk")
        keys += [f"{Quantity.RUN_HOURS}:{meter.pk}" for meter in meters]
    return keys


def system_readings(node: Node, system: System, sent) -> dict[Moment, list[readings.Typed]]:
    """What was measured at a system, as found and as left."""
    return {
        Moment.AS_FOUND: readings_at(node.child("found"), system, sent.arrived_at, away=sent.away),
        Moment.AS_LEFT: readings_at(node.child("left"), system, sent.done_at, away=sent.away),
    }


def signs_seen(node: Node) -> dict[Sign, bool]:
    """What was looked for: True where it was there. A sign that nobody looked for stays out."""
    child, seen = node.child("seen"), {}
    for word in child.data:
        answer = child.text(word)
        if word in list(Sign) and answer in {"yes", "no"}:
            seen[Sign(word)] = answer == "yes"
        elif answer:
            child.fault(word, "Choose one of the answers offered.")
    return seen


def fill_gaps(check, tasks) -> None:
    """Put the given reason to every reading that was asked for and not taken, or note the gap."""
    if check.left_running is False:
        return  # nothing to read on a system that stands still
    entries = [entry for moment in check.readings.values() for entry in moment]
    taken = {entry.key for entry in entries}
    reason = check.node.text("skipped_because", 160)
    for key in asked_of(check.system, tasks):
        if key in taken:
            continue
        if reason:
            quantity, _, position = key.partition(":")
            entry = readings.Typed(
                quantity,
                position=_position(position, check.system) if position else None,
                skipped_because=reason,
            )
            check.readings[Moment.AS_LEFT].append(entry)
        else:
            field = check.node.child("left").child(key)
            field.fault("typed", "Enter the value, or say below why it was not read.")


def readings_at(
    node: Node, place: System | Pond, at: datetime, *, away: bool
) -> list[readings.Typed]:
    """The readings typed at one place; a faulty one is noted at its field.

    away: whoever read them has left, and cannot look again; what is odd is kept as doubtful.
    """
    entries, names = [], {}
    for key, child in [(key, node.child(key)) for key in node.data]:
        quantity, _, number = key.partition(":")
        text, reason = child.text("typed", 40), child.text("skipped_because", 160)
        if quantity not in list(Quantity) or not (text or reason):
            continue
        position = _position(number, place) if number else None
        if number and position is None:
            child.fault("typed", "There is no such place at this system. Open the ticket again.")
            continue
        unit, confirmed = _answered(child)
        unsure = away or child.text("answer") == LATER
        entry = readings.Typed(quantity, text, unit, position, reason, confirmed, unsure)
        entries.append(entry)
        names[entry.key] = entry, child
    for key, fault in readings.faults_of(place, entries, taken_at=at).items():
        entry, child = names[key]
        if not (fault.question and entry.unsure):
            child.fault("typed", fault)
    return entries


def _answered(child):
    """The unit, and whether the question about an odd value was answered."""
    answer = child.text("answer", 30)  # "right", or "unit:kPa" where another unit was meant
    if answer.startswith("unit:"):
        return answer.removeprefix("unit:"), True
    return child.text("unit", 20), answer == "right" or child.yes("confirmed")


def _position(number, place):
    if not number.isdecimal() or len(number) > 9 or not isinstance(place, System):
        return None
    return Position.objects.filter(pk=number, system=place).first()
