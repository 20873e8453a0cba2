"""The notice about thin ice: opened for each water, sent to each person, acknowledged or phoned."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q

from customers.actions import People
from customers.kinds import ContactState, MailTopic
from customers.models import Contact, Trail, User
from equipment.models import System
from servicedesk.actions.reminders.owe import owe
from servicedesk.actions.winter.blocking import RUNS, WinterRefused
from servicedesk.actions.winter.known import KnownWinter, known_winters, with_sites
from servicedesk.actions.winter.words import text_in_force
from servicedesk.kinds import MessageState, OfficeTaskKind
from servicedesk.models import NoticeDelivery, OfficeTask, Reminder, ThinIceNotice
from servicedesk.planning.calendar import site_date
from servicedesk.planning.seasons import freezes
from servicedesk.planning.winter.deadlines import notice_ends

SILENCE = timedelta(days=7)  # judgement: so long each of two mails is given
SEASON = "season"
AT_ONCE = 50  # systems in one transaction
LOST = (MessageState.FAILED, MessageState.UNSURE)


def needs_notice(known: KnownWinter) -> bool:
    """Whether a system is to run under ice this winter, by what was decided."""
    decided = known.decision.decided if known.decision else ""
    return freezes(known.climate) and decided in RUNS


@transaction.atomic
def open_notices(systems: Iterable[System], *, now: datetime, occasion: str = SEASON) -> int:
    """A notice for each water of these systems, to everybody with a part in it; how many are new.

    Where the notice stands already, people who came are added and people who went are let go;
    where the water changed hands, the old notice ends and the new owner's begins anew.
    """
    made = 0
    for known in known_winters(systems, now=now):
        for pond in known.ponds:
            people = People(pond, on=known.on)
            if people.customer is None:
                continue
            made += _open_for(pond, people, known, occasion, now)
    return made


def _open_for(pond, people, known, occasion, now):
    _end_of_others(pond, people.customer, known.year, now)
    notice, new = ThinIceNotice.objects.get_or_create(
        pond=pond,
        customer=people.customer,
        year=known.year,
        occasion=occasion,
        defaults={"opened_at": now, "lapses_on": notice_ends(known.climate, known.year)},
    )
    if notice.ended_at:
        return 0
    here = people.with_roles
    known_ones = {row.contact_id: row for row in notice.deliveries.select_related("contact")}
    for contact, role in here.items():
        if contact.pk not in known_ones:
            _deliver(notice, contact, role, now)
    gone = [row.pk for pk, row in known_ones.items() if pk not in {c.pk for c in here}]
    NoticeDelivery.objects.filter(pk__in=gone, ended_at=None).update(ended_at=now)
    return int(new)


def _end_of_others(pond, customer, year, now):
    others = ThinIceNotice.objects.filter(pond=pond, year=year, ended_at=None)
    others.exclude(customer=customer).update(ended_at=now, ended_because="the water changed hands")


def _deliver(notice, contact, role, now):
    delivery = NoticeDelivery.objects.create(
        notice=notice,
        contact=contact,
        role=role,
        text=text_in_force(contact.language, now=now),
        made_at=now,
    )
    if contact.email and contact.address_dead_at is None:
        owe(
            contact,
            MailTopic.THIN_ICE,
            period_of(delivery),
            now=now,
            facts={"delivery": delivery.pk, "ice": notice.occasion != SEASON},
        )
    return delivery


def period_of(delivery: NoticeDelivery, again: bool = False) -> str:
    return f"notice:{delivery.pk}" + ("/2" if again else "")


def keep_notices(*, now: datetime) -> int:
    """Open what is to be open, let lapse what is over, write once more, and then have it phoned.

    How many notices are new. At most two mails go to anybody; whom none reaches is phoned at once.
    """
    _lapse(now)
    running = System.objects.filter(winters__decided__in=RUNS).distinct()
    ids = list(running.order_by("pk").values_list("pk", flat=True))
    made = 0
    for start in range(0, len(ids), AT_ONCE):
        some = System.objects.filter(pk__in=ids[start : start + AT_ONCE]).order_by("pk")
        winters = known_winters(with_sites(some), now=now)
        made += open_notices([k.system for k in winters if needs_notice(k)], now=now)
    _chase(now)
    return made


def _lapse(now):
    for notice in ThinIceNotice.objects.filter(ended_at=None).select_related("pond__site"):
        if site_date(now, notice.pond.site.time_zone) >= notice.lapses_on:
            notice.ended_at, notice.ended_because = now, "the winter is over"
            notice.save(update_fields=["ended_at", "ended_because"])
            OfficeTask.objects.filter(
                key__in=[phone_key(row.pk) for row in notice.deliveries.all()], handled_at=None
            ).update(handled_at=now, handled_note="The winter is over.")


def _chase(now):
    waiting = NoticeDelivery.objects.unacknowledged().select_related(
        "contact", "notice__pond__site"
    )
    waiting = list(waiting.order_by("pk"))
    lines = lines_of(waiting)
    for delivery in waiting:
        mine = lines.get(delivery.pk, [])
        if why := _why_phone(delivery, mine, now):
            phone(delivery, why, now=now)
        elif len(mine) == 1 and _silent(mine[0], now):
            facts = dict(mine[0].facts)
            period = period_of(delivery, again=True)
            owe(delivery.contact, MailTopic.THIN_ICE, period, now=now, facts=facts)


def _why_phone(delivery, lines, now):
    contact = delivery.contact
    if not contact.email:
        return "has no mail address"
    if contact.state != ContactState.ACTIVE:
        return "is not to be written to"
    if contact.address_dead_at or any(is_lost(line) for line in lines):
        return "was not reached by mail"
    if len(lines) == 2 and _silent(lines[1], now):
        return "has not acknowledged two mails"
    return ""


def is_lost(line: Reminder) -> bool:
    """Whether its mail never arrived, as far as anybody can tell."""
    return line.message is not None and line.message.state in LOST


def _silent(line, now):
    sent_at = line.message.sent_at if line.message else None
    return sent_at is not None and now - sent_at >= SILENCE


def lines_of(deliveries: Iterable[NoticeDelivery]) -> dict[int, list[Reminder]]:
    """The lines that were owed for each delivery, with their messages, oldest first."""
    by_period = {}
    for delivery in deliveries:
        by_period[period_of(delivery)] = by_period[period_of(delivery, True)] = delivery.pk
    found: dict[int, list[Reminder]] = {}
    rows = Reminder.objects.filter(topic=MailTopic.THIN_ICE, period__in=by_period)
    for line in rows.select_related("message").order_by("pk"):
        found.setdefault(by_period[line.period], []).append(line)
    return found


def phone_key(delivery: int) -> str:
    return f"notice-phone:{delivery}"


def phone(delivery: NoticeDelivery, why: str, *, now: datetime) -> None:
    """The office speaks to him; no further mail goes out."""
    pond, contact = delivery.notice.pond, delivery.contact
    OfficeTask.objects.get_or_create(
        key=phone_key(delivery.pk),
        defaults={
            "kind": OfficeTaskKind.PHONE_OWNER,
            "text": f"{contact} {why}: the notice about thin ice on {pond}. Read it to him by "
            "phone, and write down who spoke and when on the page of notices. Until then the "
            "system may not run under ice.",
            "site": pond.site,
            "contact": contact,
            "urgent": True,
            "opened_at": now,
        },
    )


@transaction.atomic
def acknowledge(delivery: NoticeDelivery, name: str, *, now: datetime) -> None:
    """He typed his name under the words that he got. The first name stands."""
    if not name.strip():
        raise WinterRefused("Type your name.")
    NoticeDelivery.objects.filter(pk=delivery.pk, acknowledged_at=None).update(
        acknowledged_at=now, acknowledged_name=name.strip()[:120]
    )
    _phoned(delivery, None, "acknowledged by link", now)


def take_back_acknowledgement(delivery: NoticeDelivery) -> None:
    """Undone within its day, by himself; one that a call stands for is not his to undo."""
    NoticeDelivery.objects.filter(pk=delivery.pk, by_phone=False).update(
        acknowledged_at=None, acknowledged_name=""
    )


@transaction.atomic
def record_call(
    delivery: NoticeDelivery, *, name: str, called_at: datetime, by: User, now: datetime, note=""
) -> None:
    """Somebody of ours read the notice to him by phone: who spoke, when, and who called."""
    if not name.strip():
        raise WinterRefused("Write the name of the person you spoke to.")
    if called_at > now + timedelta(minutes=5):
        raise WinterRefused("That is still to come. Enter when you called.")
    if called_at < delivery.made_at - timedelta(days=1):
        raise WinterRefused("That was before this notice. A call about an earlier one counts not.")
    open_ones = Q(acknowledged_at=None)
    changed = NoticeDelivery.objects.filter(open_ones, pk=delivery.pk).update(
        acknowledged_at=called_at,
        acknowledged_name=name.strip()[:120],
        by_phone=True,
        called_at=called_at,
        called_by=by,
        call_note=note.strip()[:200],
    )
    if not changed:
        raise WinterRefused("This was acknowledged meanwhile. Nothing was written.")
    Trail.objects.create(
        at=now,
        by=by,
        did="notice read by phone",
        about=f"notice:{delivery.pk}",
        after={"name": name},
    )
    _phoned(delivery, by, f"spoke to {name.strip()}", now)


def _phoned(delivery, by, note, now):
    OfficeTask.objects.filter(key=phone_key(delivery.pk), handled_at=None).update(
        handled_at=now, handled_by=by, handled_note=note[:250]
    )


def delivery_of(contact: Contact, pk) -> NoticeDelivery | None:
    rows = NoticeDelivery.objects.filter(pk=pk, contact=contact)
    return rows.select_related("notice__pond__site__region", "text", "contact").first()
