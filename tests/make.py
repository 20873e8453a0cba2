"""Builds the smallest valid object of each kind; what a test cares about, it names."""

import itertools
import uuid
from datetime import UTC, date, datetime, timedelta

from customers.kinds import ContactRoleKind, Role
from customers.models import (
    Contact,
    ContactRole,
    Customer,
    Firm,
    Ownership,
    Pond,
    Region,
    Site,
    User,
)
from equipment.kinds import CompressorKind, PositionKind, SystemState
from equipment.models import (
    Component,
    ComponentType,
    Fitting,
    Part,
    PartFor,
    Position,
    Schedule,
    StateChange,
    System,
)
from servicedesk import kinds
from servicedesk.models import (
    DueItem,
    Message,
    OwnerAnswer,
    Rhythm,
    Route,
    Shift,
    Stop,
    StopTicket,
    Task,
    Technician,
    Ticket,
    Visit,
    WinterDecision,
    Work,
    place_of,
)

MORNING = datetime(2026, 6, 1, 15, 0, tzinfo=UTC)  # 10:00 at a site in Chicago's zone
TODAY = date(2026, 6, 1)
LONG_AGO = date(2024, 1, 1)
numbers = itertools.count(1)


def firm(**fields):
    start = {"name": "Alder & Rill Pond Air", "phone": "+1 202 555 0100"}
    start |= {"reply_to": "office@example.com", "shop_lat": 44.9, "shop_lon": -93.2}
    return Firm.objects.update_or_create(only=True, defaults=start | fields)[0]


def user(role=Role.TECHNICIAN, **fields):
    number = next(numbers)
    start = {"username": f"person{number}", "first_name": "Dario", "last_name": f"Lund {number}"}
    new = User(**start | {"role": role} | fields)
    new.set_password("a long enough one")
    new.save()
    return new


def manager(**fields):
    return user(Role.MANAGER, **{"first_name": "Priya", "last_name": "Nand"} | fields)


def technician(*, shifts=True, **fields):
    new = Technician.objects.create(**{"user": fields.pop("user", None) or user()} | fields)
    if shifts:
        for weekday in range(1, 6):
            Shift.objects.create(
                technician=new, weekday=weekday, starts="07:30", ends="16:00", from_on=LONG_AGO
            )
    return new


def region(**fields):
    start = {"name": f"Region {next(numbers)}", "ice_on_typical": "12-05"}
    start |= {"ice_on_earliest": "11-20", "ice_out_typical": "04-05"}
    start |= {"layering_typical": "05-20", "mixing_typical": "09-25"}
    return Region.objects.create(**start | fields)


def customer(**fields):
    number = next(numbers)
    return Customer.objects.create(**{"key": f"C{number}", "name": f"Halvorsen {number}"} | fields)


def contact(*, role=ContactRoleKind.OWNER, **fields):
    start = {"name": "Ines Halvorsen", "email": f"ines{next(numbers)}@example.com"}
    if "customer" not in fields:
        start["customer"] = customer()
    new = Contact.objects.create(**start | fields)
    if role:
        ContactRole.objects.create(contact=new, role=role, from_on=LONG_AGO)
    return new


def site(*, owner=None, **fields):
    number = next(numbers)
    start = {"key": f"S{number}", "name": f"Mill Lane {number}", "lat": 45.0, "lon": -93.0}
    new = Site.objects.create(**start | fields)
    if owner:
        Ownership.objects.create(customer=owner, site=new, from_on=LONG_AGO)
    return new


def pond(**fields):
    number = next(numbers)
    start = {"key": f"P{number}", "name": f"Mill Pond {number}"}
    return Pond.objects.create(**start | {"site": fields.pop("site", None) or site()} | fields)


def system(*, state=SystemState.RUNNING, since=None, hours_per_day=24, **fields):
    """A system that has run since it was installed, unless `state` says otherwise (or None)."""
    number = next(numbers)
    start = {"key": f"A{number}", "name": f"Cabinet {number}", "installed_on": date(2025, 1, 1)}
    start |= {"commissioned_on": date(2025, 1, 1), "site": fields.pop("site", None) or site()}
    new = System.objects.create(**start | fields)
    since = since or datetime(2025, 1, 1, 18, tzinfo=UTC)
    if state:
        StateChange.objects.create(system=new, at=since, state=state, entered_at=since)
    Schedule.objects.create(system=new, from_on=new.installed_on, hours_per_day=hours_per_day)
    return new


def compressor_type(**fields):
    start = {"kind": PositionKind.COMPRESSOR, "maker": "Brookmade"}
    start |= {"model": f"P{next(numbers)}", "compressor_kind": CompressorKind.PISTON}
    return ComponentType.objects.create(**start | fields)


def part(**fields):
    number = next(numbers)
    return Part.objects.create(**{"number": f"F-{number}", "name": "Filter element"} | fields)


def part_for(component_type, role, **fields):
    start = {"part": fields.pop("part", None) or part()}
    return PartFor.objects.create(component_type=component_type, role=role, **start | fields)


def component(**fields):
    start = {"serial": f"44{next(numbers):02d}"}
    if "type" not in fields:
        start["type"] = compressor_type()
    return Component.objects.create(**start | fields)


def position(kind=PositionKind.COMPRESSOR, **fields):
    start = {"kind": kind, "label": f"{kind} {next(numbers)}"}
    if "system" not in fields:
        start["system"] = system()
    return Position.objects.create(**start | fields)


def filter_position(of=None, **fields):
    """A filter at a compressor that has a unit fitted."""
    compressor = position(system=of or system())
    fit(component(), compressor)
    return position(
        PositionKind.FILTER, **{"system": compressor.system, "serves": compressor} | fields
    )


def fit(unit, at, **fields):
    start = {"from_on": at.system.installed_on, "entered_at": MORNING}
    return Fitting.objects.create(component=unit, position=at, **start | fields)


def task(*, clock=kinds.Clock.OP, every=120, unit="d", **fields):
    """A filter change by running days, unless told otherwise."""
    number = next(numbers)
    start = {"slug": f"filter-change-{number}", "name": "Filter change"}
    start |= {"owner_name": "a new air filter", "place_kind": kinds.PlaceKind.POSITION}
    start |= {"position_kind": PositionKind.FILTER, "harm": kinds.Harm.ASSET, "minutes": 8}
    start |= {"skill": kinds.Skill.TRAINED, "early_days": 21, "late_days": 14}
    start |= {"mark": kinds.Mark.COMMON_PRACTICE}
    new = Task.objects.create(**start | fields)
    Rhythm.objects.create(task=new, clock=clock, every=every, unit=unit, mark=new.mark)
    return new


def ticket(**fields):
    start = {"opened_at": MORNING, "due_when_opened_on": TODAY}
    if "task" not in fields:
        start["task"] = task()
    place = place_of(fields.pop("at", None) or filter_position())
    return Ticket.objects.create(**place | start | fields)


def route(**fields):
    """A published route of one day."""
    start = {"day": TODAY, "published_at": MORNING}
    if "technician" not in fields:
        start["technician"] = technician(shifts=False)
    return Route.objects.create(**start | fields)


def stop(*tickets, **fields):
    """A stop for these tickets, on a route of its own unless one is given."""
    start = {"number": next(numbers), "arrive_at": MORNING, "leave_at": MORNING}
    start["site"] = fields.get("site") or (tickets[0].site if tickets else site())
    if "route" not in fields:
        start["route"] = route()
    new = Stop.objects.create(**start | fields)
    StopTicket.objects.bulk_create(StopTicket(stop=new, ticket=ticket) for ticket in tickets)
    return new


def visit(**fields):
    start = {"arrived_at": MORNING, "received_at": MORNING, "accepted_at": MORNING}
    if "site" not in fields:
        start["site"] = site()
    if "technician" not in fields:
        start["technician"] = user()
    return Visit.objects.create(**start | fields)


def work(at, of, **fields):
    """Done and accepted work of a task at a place, written straight to the table."""
    start = {"uuid": uuid.uuid4(), "done_at": MORNING, "entered_at": MORNING}
    start |= {"outcome": kinds.Outcome.DONE, "done_by": kinds.DoneBy.TECHNICIAN}
    return Work.objects.create(task=of, **place_of(at) | start | fields)


def message(**fields):
    start = {"message_id": f"<{uuid.uuid4()}@example.com>", "topic": "visit_reminder"}
    start |= {"subject": "Mill Pond: visit on Tuesday", "text": "We come on Tuesday.\n"}
    start |= {"made_at": MORNING, "not_before": MORNING}
    start |= {"give_up_at": MORNING + timedelta(days=3)}
    if "contact" not in fields:
        start["contact"] = contact()
    start["to_address"] = (fields.get("contact") or start["contact"]).email
    new = start | fields
    if new.get("state") == kinds.MessageState.SENDING:
        new.setdefault("lease_until", MORNING + timedelta(minutes=1))
        new.setdefault("lease_by", uuid.uuid4())
    return Message.objects.create(**new)


def due_item(of, **fields):
    """What is due at the place of a ticket, on its day unless told otherwise."""
    start = {"opens_on": of.due_when_opened_on, "due_on": of.due_when_opened_on}
    start |= {"closes_on": of.due_when_opened_on, "because": "120 running days"}
    same = {"task": of.task, "occasion": of.occasion} | of.place
    return DueItem.objects.create(**same | start | fields)


def answer(by, kind, **fields):
    start = {"uuid": uuid.uuid4(), "recorded_at": MORNING}
    return OwnerAnswer.objects.create(contact=by, kind=kind, **start | fields)


def winter_decision(system, **fields):
    """What was decided of the winter of a system, by the day of `MORNING` unless told otherwise."""
    start = {"year": 2025, "permit": "not_needed", "pointed_because": "x", "recorded_at": MORNING}
    if fields.get("decided"):
        start |= {"pointed_to": fields["decided"], "decided_by": "Ines H.", "decided_on": TODAY}
        start |= {"recorded_by": fields.get("recorded_by") or manager()}
    return WinterDecision.objects.create(**{"system": system} | start | fields)
