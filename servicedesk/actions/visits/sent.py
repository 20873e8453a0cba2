"""A visit as it was sent, checked as a whole before anything is written.

The payload, from the page's form (names joined with points) and from the phone (JSON) alike:

    uuid, stop or site, arrived_at, left_at, phone_at, pass, note
    away yes                 sent long after it was made: nobody can look again
    helpers.PERSON yes       who else of ours was there
    works.TICKET             or works.filter_change@position:17 where there was no ticket
        .outcome done | not_done    .not_done_reason    .note
        .found.condition    .found.trip    .found.serial    .found.unreadable yes
        .found.claim as_told | not_so    .parts.PART = quantity    .many.PART = another quantity
        .other_part    .other_quantity
    extras.N                 .what = filter_change@position:17, and the rest as in works
    systems.SYSTEM
        .found_running yes | no | unclear    .off_since_on
        .left_running yes | no    .left_off_reason    .left_off_note
        .approved_by MANAGER    .caution_read yes    .skipped_because
        .found.KEY and .left.KEY  with .typed .unit .answer .skipped_because
        .seen.SIGN yes | no  what was looked for and there, or not there; left out: not looked for
    ponds.POND.KEY           the same; KEY is pressure, or run_hours:17 at a position
        .KEY.answer right | unit:kPa | later
    defects.N                .sign .text .urgent .system
    hazards.N                .kind .note .until_on
"""

import uuid
from datetime import datetime, timedelta

from customers.kinds import HazardKind
from customers.models import Pond, Site, User
from equipment.kinds import FilterCondition, PositionKind
from equipment.models import Part, Position, System
from servicedesk import access
from servicedesk.actions.visits import measured
from servicedesk.actions.visits.looks import note_look
from servicedesk.actions.visits.payload import Node, NotYours, VisitRefused
from servicedesk.actions.visits.shapes import (
    SentCheck,
    SentDefect,
    SentHazard,
    SentVisit,
    SentWork,
)
from servicedesk.kinds import DefectSign, LeftOffReason, NotDoneReason, Outcome
from servicedesk.models import Stop, Task, Ticket, place_of
from servicedesk.planning.calendar import site_date

TRIP_TEST = "gfci_test"  # the task whose test stops the system
TRIPS = ["tripped", "did_not_trip", "no_reset"]
RUNNING_WHEN_FOUND = {"yes": True, "no": False, "unclear": None}
CLOCK_SLACK = timedelta(minutes=5)
LONGEST_STAY = timedelta(hours=24)
LONGEST_OPEN = timedelta(hours=8)  # a page left open over night says nothing of an arrival
LATEST_ENTRY = timedelta(days=366)


def visit_key(payload) -> uuid.UUID:
    """The UUID made in the page. Raises VisitRefused where there is none."""
    faults = {}
    node = Node(payload, faults)
    key = node.uuid("uuid")
    if key is None:
        node.fault("uuid", "This closing has no number of its own. Load the page again.")
        raise VisitRefused(faults)
    return key


def site_of(node: Node) -> tuple[Site, Stop | None]:
    """The site of the visit: of its stop, or named, or of its first ticket."""
    stop = Stop.objects.select_related("site", "route").filter(uuid=node.uuid("stop")).first()
    if stop:
        return stop.site, stop
    if number := node.number("site"):
        site = Site.objects.filter(pk=number).first()
    else:
        keys = [int(k) for k in node.child("works").data if k.isdecimal() and len(k) < 10]
        ticket = Ticket.objects.select_related("site").filter(pk__in=keys).first()
        site = ticket.site if ticket else None
    if site is None:
        node.fault("site", "Which site is this about? Open the ticket again from your day.")
        raise VisitRefused(node.faults)
    return site, None


def read_visit(payload, *, user: User, now: datetime) -> tuple[SentVisit, Node]:
    """What was sent, and the payload with a sentence at each field that cannot be taken.

    Raises NotYours where the visit belongs to somebody else's day, VisitRefused where not even
    the site is known.
    """
    node = Node(payload, {})
    site, stop = site_of(node)
    sent = _times(node, site, stop, now=now)
    if not _may(user, sent, node, now=now):
        raise NotYours(
            f"{site} is not on your route of that day. Only the technician of the day and the "
            "office can close its tickets; ask the office to put it on your route."
        )
    sent.works = [w for key, n in node.children("works") if (w := _work(key, n, sent))]
    sent.works += [w for _, n in node.children("extras") if (w := _extra(n, sent))]
    sent.checks = [c for key, n in node.children("systems") if (c := _check(key, n, sent))]
    sent.pond_readings = [p for key, n in node.children("ponds") if (p := _pond(key, n, sent))]
    sent.defects = [d for key, n in node.children("defects") if (d := _defect(key, n, sent))]
    sent.hazards = [h for _, n in node.children("hazards") if (h := _hazard(n, sent))]
    sent.helpers = _helpers(node.child("helpers"), user)
    if not sent.works and not any(check.looked for check in sent.checks) and not node.faults:
        node.fault("works", "Say for at least one ticket whether it is done.")
    return sent, node


def _may(user, sent, node, *, now):
    days = {site_date(at, sent.site.time_zone) for at in [now, sent.arrived_at]}
    token = node.text("pass", 400)
    return access.may_work_at(user, sent.site, *days) or access.holds_day_pass(
        user, sent.site, token
    )


def _times(node, site, stop, *, now):
    arrived_at = node.instant("arrived_at", site.time_zone)
    left_at = node.instant("left_at", site.time_zone)
    if arrived_at is None and node.yes("late"):
        node.fault("arrived_at", "Say when you were here.")
    if arrived_at is None:  # closed on the spot: from the opening of the page until now
        opened_at = node.instant("opened_at", site.time_zone)
        here = opened_at is not None and timedelta() <= now - opened_at <= LONGEST_OPEN
        arrived_at, left_at = (opened_at if here else now), left_at or now
    phone_at = node.instant("phone_at", site.time_zone)
    sent = SentVisit(
        uuid=visit_key(node.data),
        site=site,
        stop=stop,
        arrived_at=arrived_at,
        left_at=left_at,
        clock_off_s=(phone_at - now).total_seconds() if phone_at else None,
        note=node.text("note", 4000),
        away=node.yes("away"),
    )
    _refuse_impossible_times(node, sent, now=now)
    return sent


def _refuse_impossible_times(node, sent, *, now):
    clock = "Check the date and the clock of your phone, or enter the time by hand."
    if sent.arrived_at > now + CLOCK_SLACK:
        node.fault("arrived_at", f"This lies in the future. {clock}")
    if sent.arrived_at < now - LATEST_ENTRY:
        node.fault("arrived_at", f"This is more than a year ago. {clock}")
    first = System.objects.filter(site=sent.site).order_by("installed_on").first()
    if first and site_date(sent.arrived_at, sent.site.time_zone) < first.installed_on:
        node.fault("arrived_at", f"Nothing stood here before {first.installed_on}. {clock}")
    if sent.left_at is None:
        return
    if sent.left_at > now + CLOCK_SLACK:
        node.fault("left_at", f"This lies in the future. {clock}")
    if sent.left_at < sent.arrived_at:
        node.fault("left_at", "You cannot leave before you come. Check both times.")
    if sent.left_at - sent.arrived_at > LONGEST_STAY:
        node.fault("left_at", "This stay would be longer than a day. Check both times.")


def _work(key, node, sent):
    outcome = node.choice("outcome", Outcome)
    if outcome is None:
        return None
    ticket, task, place, occasion = _task_and_place(key, node, sent)
    if task is None:
        return None
    reason = node.choice("not_done_reason", NotDoneReason) or ""
    if outcome == Outcome.NOT_DONE and not reason:
        node.fault("not_done_reason", "Say why it was not done.")
    work_uuid = uuid.uuid5(sent.uuid, f"work:{key}")
    return SentWork(
        node=node,
        uuid=work_uuid,
        ticket=ticket,
        task=task,
        place=place,
        occasion=occasion,
        outcome=outcome,
        not_done_reason=reason if outcome == Outcome.NOT_DONE else "",
        found=_found(node, task, ticket, done=outcome == Outcome.DONE),
        note=node.text("note", 4000),
        parts=_parts(node) if outcome == Outcome.DONE else {},
    )


def _extra(node, sent):
    """What nobody had planned; its readings may be taken, and none is demanded."""
    what = node.text("what", 100)
    if not what:
        if node.text("note"):
            node.fault("what", "Choose what you did.")
        return None
    node.data = node.data | {"outcome": Outcome.DONE}
    work = _work(what, node, sent)
    if work:
        work.planned = False
    return work


def _task_and_place(key, node, sent):
    """By ticket number, or `filter_change@position:17` for a task that had no ticket."""
    if key.isdecimal() and len(key) < 10:
        ticket = (
            Ticket.objects.select_related("task", "system", "position")
            .filter(pk=key, site=sent.site)
            .first()
        )
        if ticket:
            return ticket, ticket.task, ticket.place, ticket.occasion
    else:
        slug, _, place_key = key.partition("@")
        task = Task.objects.filter(slug=slug).first()
        place = _place(place_key, sent.site)
        if task and place and place_key.startswith(f"{task.place_kind}:"):
            return None, task, place, ""
    node.fault("", f"There is no such ticket at {sent.site}. Open it again from your day.")
    return None, None, None, ""


def _place(place_key, site):
    kind, _, number = place_key.partition(":")
    if not number.isdecimal() or len(number) > 9:
        return None
    if kind == "site":
        return place_of(site) if site.pk == int(number) else None
    sources = {
        "position": Position.objects.select_related("system").filter(system__site=site),
        "system": System.objects.filter(site=site),
        "pond": Pond.objects.filter(site=site),
    }
    thing = sources[kind].filter(pk=number).first() if kind in sources else None
    return place_of(thing) if thing else None


def _found(node, task, ticket, *, done):
    child = node.child("found")
    found = note_look(child, ticket, done=done)
    if task.position_kind == PositionKind.FILTER:
        condition = child.choice("condition", FilterCondition)
        if condition:
            found["condition"] = condition
        elif done:
            child.fault("condition", "How did the old filter look? Choose one.")
    if is_trip_test(task):
        trip = child.text("trip")
        if trip in TRIPS:
            found["trip"] = trip
        elif done:
            child.fault("trip", "Say what the outlet did when you pressed the test button.")
    return found


def is_trip_test(task: Task) -> bool:
    return task.slug == TRIP_TEST or task.position_kind == PositionKind.GFCI


def _parts(node):
    wanted = {}
    child = node.child("parts")
    for key in child.data:
        quantity = child.number(key, high=200) if key.isdecimal() else None
        if quantity:
            wanted[int(key)] = quantity
    many = node.child("many")
    wanted |= {part: typed for part in wanted if (typed := many.number(f"{part}", high=200))}
    if other := node.number("other_part"):
        wanted.setdefault(other, node.number("other_quantity", high=200) or 1)
    parts = {part.pk: part for part in Part.objects.filter(pk__in=wanted)}
    if set(wanted) - set(parts):
        node.fault("other_part", "This part is not in the list any more. Choose another one.")
    return {part: wanted[pk] for pk, part in parts.items()}


def _check(key, node, sent):
    system = None
    if key.isdecimal() and len(key) < 10:
        system = System.objects.filter(pk=key, site=sent.site).first()
    if system is None:
        node.fault("", f"There is no such system at {sent.site}. Open the ticket again.")
        return None
    found, left = node.text("found_running"), node.text("left_running")
    if found and found not in RUNNING_WHEN_FOUND:
        node.fault("found_running", "Choose one of the answers offered.")
    if left and left not in {"yes", "no"}:
        node.fault("left_running", "Choose one of the answers offered.")
    approver = node.number("approved_by")
    check = SentCheck(
        system=system,
        node=node,
        looked=bool(found or left),
        found_running=RUNNING_WHEN_FOUND.get(found),
        left_running={"yes": True, "no": False}.get(left),
        left_off_reason=node.choice("left_off_reason", LeftOffReason) or "",
        left_off_note=node.text("left_off_note"),
        off_since_on=node.day("off_since_on"),
        approved_by=access.approvers().filter(pk=approver).first() if approver else None,
        caution_read=node.yes("caution_read"),
    )
    check.readings = measured.system_readings(node, system, sent)
    check.seen = measured.signs_seen(node)
    return check


def _pond(key, node, sent):
    pond = None
    if key.isdecimal() and len(key) < 10:
        pond = Pond.objects.filter(pk=key, site=sent.site).first()
    if pond is None:
        node.fault("", f"There is no such pond at {sent.site}. Open the ticket again.")
        return None
    entries = measured.readings_at(node, pond, sent.arrived_at, away=sent.away)
    return (pond, entries) if entries else None


def _defect(key, node, sent):
    sign = node.choice("sign", DefectSign)
    text = node.text("text", 4000)
    if not sign:
        if text:
            node.fault("sign", "Choose what you saw.")
        return None
    number = node.number("system")
    system = System.objects.filter(pk=number, site=sent.site).first() if number else None
    defect_uuid = uuid.uuid5(sent.uuid, f"defect:{key}")
    return SentDefect(defect_uuid, system, sign, text, node.yes("urgent"))


def _hazard(node, sent):
    kind, note = node.choice("kind", HazardKind), node.text("note")
    if not kind:
        if note:
            node.fault("kind", "Choose what it is.")
        return None
    until_on = node.day("until_on")
    if until_on and until_on < site_date(sent.arrived_at, sent.site.time_zone):
        node.fault("until_on", "That day is over. Leave it empty if nobody knows until when.")
    return SentHazard(kind, note, until_on)


def _helpers(node, user):
    named = [int(key) for key in node.data if key.isdecimal() and len(key) < 10 and node.yes(key)]
    return list(access.colleagues(user).filter(pk__in=named)) if named else []
