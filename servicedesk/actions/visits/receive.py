"""Receive a visit: everything that was sent is kept in one transaction, or nothing is."""

import uuid
from datetime import datetime, time
from functools import partial
from zoneinfo import ZoneInfo

from django.db import transaction

from customers.models import User
from equipment.actions.readings import ReadingsRefused, record_readings
from equipment.actions.signs import record_signs
from equipment.kinds import RUNNING, Certainty, FilterCondition, Moment, Sign, SystemState
from equipment.models import StateChange, System
from servicedesk.actions.assessing import assess
from servicedesk.actions.check_ins import end_after_visit
from servicedesk.actions.defects import record_defect, settle_defects
from servicedesk.actions.due import lock_sites
from servicedesk.actions.hazards import note_hazard
from servicedesk.actions.reminders import (
    queue_not_done,
    queue_system_off,
    queue_visit_report,
)
from servicedesk.actions.reports import owe_report
from servicedesk.actions.states import StateRefused, derive_from_state, record_state, state_at
from servicedesk.actions.visits.looks import follow_look
from servicedesk.actions.visits.payload import Node, NotYours, VisitRefused
from servicedesk.actions.visits.photos import join_photos
from servicedesk.actions.visits.rules import note_gaps
from servicedesk.actions.visits.sent import read_visit, visit_key
from servicedesk.actions.visits.shapes import SentCheck, SentVisit
from servicedesk.actions.work import WorkRefused, derive_from_work, record_work
from servicedesk.kinds import DefectSign, LeftOffReason, NotDoneReason, Outcome, WorkState
from servicedesk.models import SystemCheck, Visit

FILTER_SIGNS = {
    FilterCondition.CLEAN: {Sign.FILTER_LOADED: False},
    FilterCondition.LIGHT: {Sign.FILTER_LOADED: False},
    FilterCondition.LOADED: {Sign.FILTER_LOADED: True},
    FilterCondition.WET: {Sign.FILTER_WET: True},
    FilterCondition.DAMAGED: {Sign.FILTER_MISSING: True},
    FilterCondition.MISSING: {Sign.FILTER_MISSING: True},
}
STATE_OF = {
    LeftOffReason.FAILED: SystemState.FAILED,
    LeftOffReason.ELECTRICAL: SystemState.FAILED,
    LeftOffReason.PART_AWAITED: SystemState.FAILED,
    LeftOffReason.WINTER: SystemState.SHUT_WINTER,
}


def receive_visit(payload, *, user: User, now: datetime) -> tuple[Visit, bool]:
    """Keep a visit as its page or phone sent it; whether it is new.

    The UUID made in the page names it: the same visit sent again, however often and at once, is
    kept once. Tickets that went to somebody else or were cancelled meanwhile are taken all the
    same; a second closing waits for review.
    Raises VisitRefused with a sentence at each field, NotYours, and then writes nothing.
    """
    key = visit_key(payload)
    if known := _known(key, user):
        join_photos(known, now=now)
        return known, False
    sent, node = read_visit(payload, user=user, now=now)
    note_gaps(sent, node)
    if node.faults:
        raise VisitRefused(node.faults)
    with transaction.atomic():
        lock_sites([sent.site.pk])
        if known := _known(key, user):  # the same one, sent twice at once
            return known, False
        return _keep(sent, node, user=user, now=now), True


def _known(key, user):
    visit = Visit.objects.select_related("stop").filter(uuid=key).first()
    if visit and visit.technician_id != user.pk:
        raise NotYours("Somebody else sent a closing with this number. Load the ticket again.")
    return visit


def _keep(sent: SentVisit, node: Node, *, user: User, now: datetime) -> Visit:
    visit = Visit.objects.create(
        uuid=sent.uuid,
        site=sent.site,
        technician=user,
        stop=sent.stop,
        arrived_at=sent.arrived_at,
        left_at=sent.left_at,
        received_at=now,
        accepted_at=now,
        phone_clock_off_s=sent.clock_off_s,
        note=sent.note,
    )
    visit.helpers.set(sent.helpers)
    _keep_readings(visit, sent, now=now)
    works = [_keep_work(work, visit, sent, now=now) for work in sent.works]
    for work in works:
        follow_look(work, by=user, now=now)
    looked = [check for check in sent.checks if check.looked]
    kept = [_keep_check(check, visit, sent, now=now) for check in looked]
    _keep_defects(visit, sent, now=now)
    for hazard in sent.hazards:
        note_hazard(sent.site, hazard.kind, hazard.note, until_on=hazard.until_on, by=user, now=now)
    settle_defects(sent.site.pk)
    assess({check.system.pk for check in sent.checks}, now=now)
    derive_from_work(sent.site.pk, now=now)
    for _, changes in kept:
        for change in changes:
            derive_from_state(change, now=now)
    _tell_the_owner(visit, works, kept, now=now)
    end_after_visit(visit, now=now)
    join_photos(visit, now=now)
    owe_report(visit, now=now)
    # one may come while this is written
    transaction.on_commit(partial(join_photos, visit, now=now))
    return visit


def _tell_the_owner(visit, works, checks, *, now):
    """Write down what the owner is told; a closing under review tells him nothing yet."""
    counted = [work for work in works if work.state == WorkState.ACCEPTED]
    if any(work.outcome == Outcome.DONE for work in counted):
        queue_visit_report(visit, now=now)
    for work in counted:
        if work.outcome == Outcome.NOT_DONE:
            queue_not_done(work, now=now)
    for check, changes in checks:
        if changes and not check.left_running:  # a rest known before is no news
            queue_system_off(check, now=now)


def _keep_readings(visit, sent, *, now):
    sets = [
        (check.system, moment, entries, check.seen if moment == Moment.AS_FOUND else {})
        for check in sent.checks
        for moment, entries in check.readings.items()
    ]
    sets += [(pond, Moment.AS_FOUND, entries, {}) for pond, entries in sent.pond_readings]
    for place, moment, entries, seen in sets:
        if not entries and not seen:
            continue
        side = "system" if isinstance(place, System) else "pond"
        try:
            kept = record_readings(
                place,
                moment=moment,
                taken_at=sent.arrived_at if moment == Moment.AS_FOUND else sent.done_at,
                entered_at=now,
                entries=entries,
                taken_by=visit.technician,
                key=uuid.uuid5(sent.uuid, f"{side}:{place.pk}:{moment}"),
            )
        except ReadingsRefused as refusal:  # a newer reading came in between
            raise VisitRefused(
                {f"{side}s.{place.pk}": f for f in refusal.faults.values()}
            ) from None
        record_signs(kept, seen)
        visit.reading_sets.add(kept)
    _keep_filters(visit, sent)


def _keep_filters(visit, sent):
    """How the old filter looked is a sign; it stands beside what was read of that system."""
    for work in sent.works:
        signs = FILTER_SIGNS.get(work.found.get("condition"), {})
        beside = visit.reading_sets.filter(system=work.place["system_id"])
        first = beside.order_by("moment").first() if signs else None
        if first:
            record_signs(first, signs)


def _keep_work(work, visit, sent, *, now):
    try:
        return record_work(
            uuid=work.uuid,
            task=work.task,
            place=work.place,
            occasion=work.occasion,
            ticket=work.ticket,
            visit=visit,
            done_at=sent.done_at,
            now=now,
            outcome=work.outcome,
            not_done_reason=work.not_done_reason,
            user=visit.technician,
            found=work.found,
            note=work.note,
            parts=work.parts,
            derive=False,
        )
    except WorkRefused as refusal:
        work.node.fault("", str(refusal))
        raise VisitRefused(work.node.faults) from None


def _keep_check(
    check: SentCheck, visit: Visit, sent: SentVisit, *, now: datetime
) -> tuple[SystemCheck, list[StateChange]]:
    """What was seen of a system, and what it says of the system's state."""
    started = check.found_running is False and check.left_running
    row = SystemCheck.objects.create(
        visit=visit,
        system=check.system,
        found_running=check.found_running,
        left_running=check.left_running,
        left_off_reason="" if check.left_running else check.left_off_reason,
        left_off_note="" if check.left_running else check.left_off_note,
        off_since_at=_off_since(check, sent) if check.found_running is False else None,
        start_approved_by=check.approved_by if started else None,
        caution_read=check.caution_read,
    )
    try:
        return row, _keep_states(check, visit, sent, now=now)
    except StateRefused as refusal:
        check.node.fault("left_running", str(refusal))
        raise VisitRefused(check.node.faults) from None


def _off_since(check, sent):
    """When it stopped: noon of the day somebody named, else when it was found."""
    if check.off_since_on is None:
        return sent.arrived_at
    zone = ZoneInfo(sent.site.time_zone)
    return min(datetime.combine(check.off_since_on, time(12), zone), sent.arrived_at)


def _keep_states(check, visit, sent, *, now):
    known = {"by": visit.technician, "now": now, "derive": False}
    before = state_at(check.system, sent.arrived_at)
    ran = before is None or before.state in RUNNING
    if check.left_running is False:
        return _keep_stop(check, sent, ran=ran, known=known)
    if check.found_running is False:
        return _keep_start(check, sent, before=before, ran=ran, known=known)
    if ran:
        return []
    running = record_state(
        check.system,
        at=sent.arrived_at,
        state=SystemState.RUNNING,
        started_by_us=False,
        reason=f"Found running by {visit.technician}, though it had been recorded as off.",
        **known,
    )
    return [running]


def _keep_stop(check, sent, *, ran, known):
    """Left off. A rest that was known before goes on, unless it turns out to be a failure."""
    state = STATE_OF.get(check.left_off_reason, SystemState.SHUT_OTHER)
    if not ran and state != SystemState.FAILED:
        return []
    words = str(check.left_off_reason).replace("_", " ")
    stopped_at = _off_since(check, sent) if check.found_running is False else sent.done_at
    change = record_state(
        check.system,
        at=stopped_at if ran else sent.done_at,
        state=state,
        certainty=_certainty(check),
        reason=f"Left off: {words}. {check.left_off_note}".strip(),
        **known,
    )
    return [change]


def _keep_start(check, sent, *, before, ran, known):
    """Found off and started: the stop first, then the start with who answers for it."""
    changes = []
    if ran:
        stop = record_state(
            check.system,
            at=_off_since(check, sent),
            state=SystemState.SHUT_OTHER,
            certainty=_certainty(check),
            reason="Found off.",
            **known,
        )
        changes.append(stop)
    start = record_state(
        check.system,
        at=sent.done_at,
        state=_state_before_the_stop(check.system, before),
        reason="Started again after it was found off.",
        already_done=True,
        approved_by=check.approved_by,
        caution_read=check.caution_read,
        **known,
    )
    return [*changes, start]


def _state_before_the_stop(system, before):
    """It runs again as it ran last, such as by its timer."""
    if before is not None and before.state in RUNNING:
        return before.state
    rows = StateChange.objects.standing().filter(system=system, state__in=RUNNING)
    if before is not None:
        rows = rows.filter(at__lte=before.at)
    last = rows.order_by("-at", "-state").first()
    return last.state if last else SystemState.RUNNING


def _certainty(check):
    told = check.found_running is False and check.off_since_on is not None
    return Certainty.ASSUMED if told else Certainty.OBSERVED


def _keep_defects(visit, sent, *, now):
    known = {"site": sent.site, "visit": visit, "seen_at": sent.done_at, "now": now}
    for defect in sent.defects:
        record_defect(
            uuid=defect.uuid,
            system=defect.system,
            sign=defect.sign,
            text=defect.text,
            urgent=defect.urgent,
            **known,
        )
    for work in sent.works:
        known["system_id"] = work.place["system_id"]
        if work.found.get("trip") in {"did_not_trip", "no_reset"}:
            words = work.found["trip"].replace("_", " ")
            record_defect(
                uuid=uuid.uuid5(work.uuid, "trip"),
                sign=DefectSign.TRIPPING_OUTLET,
                text=f"Trip test: {words}. Left unplugged; call a licensed electrician.",
                urgent=True,
                **known,
            )
        if work.not_done_reason == NotDoneReason.NOT_SAFE_TO_WORK:
            record_defect(
                uuid=uuid.uuid5(work.uuid, "danger"),
                sign=DefectSign.OTHER,
                text=f"{work.task} was left: a danger was found. {work.note}".strip(),
                urgent=True,
                **known,
            )
