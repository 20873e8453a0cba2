"""The demo's winter: decided systems, a notice read by nearly everybody, and some left open."""

from datetime import datetime, timedelta

from customers.actions import People
from equipment.kinds import WinterMode
from equipment.models import System
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.winter.blocking import RUNS
from servicedesk.actions.winter.known import known_winters, with_sites
from servicedesk.actions.winter.publishing import STARTS
from servicedesk.actions.winter.words import text_in_force
from servicedesk.models import NoticeDelivery, ThinIceNotice, Ticket, WinterDecision
from servicedesk.planning.winter.deadlines import notice_ends

OPEN_EACH = 15  # of so many systems one is left undecided
SILENT_EACH = 12  # of so many people one has not answered
DECIDED_BEFORE = timedelta(days=80)
TOLD_BEFORE = timedelta(days=60)


def decide_winters(crew: Crew, *, now: datetime) -> None:
    """Nothing is left open where a visit that prepares a winter run waits for its day."""
    waiting = set(
        Ticket.objects.open().filter(task__slug__in=STARTS).values_list("system_id", flat=True)
    )
    systems = with_sites(System.objects.exclude(winter_mode=WinterMode.UNDECIDED))
    notices = {}
    for number, known in enumerate(known_winters(systems.order_by("pk"), now=now)):
        if number % OPEN_EACH == 7 and known.system.pk not in waiting:
            continue
        _decide(known, crew, now)
        if known.system.winter_mode in RUNS:
            for pond in known.ponds:
                notices.setdefault(pond.pk, (pond, known))
    must_be_read = {pond.pk for pond, known in notices.values() if known.system.pk in waiting}
    _tell(notices, must_be_read, now)


def _decide(known, crew, now):
    owner = People(known.ponds[0], on=known.on).customer if known.ponds else None
    mode = known.system.winter_mode
    at = now - DECIDED_BEFORE
    WinterDecision.objects.create(
        system=known.system,
        year=known.year,
        answers={},
        permit="not_needed",
        permit_note="Asked the county office: private water, none needed.",
        pointed_to="",
        pointed_because="Answers are missing that could change it.",
        decided=mode,
        decided_by=str(owner or "The owner"),
        decided_on=at.date(),
        reason="As in earlier winters.",
        recorded_by=crew.manager,
        recorded_at=at,
    )


def _tell(notices, must_be_read, now):
    number, told_at = 0, now - TOLD_BEFORE
    for pond, known in notices.values():
        people = People(pond, on=known.on)
        if people.customer is None:
            continue
        notice = ThinIceNotice.objects.create(
            pond=pond,
            customer=people.customer,
            year=known.year,
            opened_at=told_at,
            lapses_on=notice_ends(known.climate, known.year),
        )
        for contact, role in people.with_roles.items():
            number += 1
            read = pond.pk in must_be_read or number % SILENT_EACH != 3
            NoticeDelivery.objects.create(
                notice=notice,
                contact=contact,
                role=role,
                text=text_in_force(contact.language, now=told_at),
                made_at=told_at,
                acknowledged_at=told_at + timedelta(days=2) if read else None,
                acknowledged_name=contact.name if read else "",
            )
