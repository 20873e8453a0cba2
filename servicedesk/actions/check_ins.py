"""Somebody alone at a pond: says when he is back, says that he is, or the office is alarmed."""

from datetime import datetime, timedelta
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from customers.models import Firm, User
from servicedesk.actions.alarms import raise_alarm
from servicedesk.actions.facts import CLOCK_SLACK
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import CheckIn, OfficeTask, Stop, Ticket, Visit

LONGEST = timedelta(hours=12)  # our judgement: nobody works longer alone on one word
LONGER_BY = timedelta(minutes=30)  # our judgement


class CheckInRefused(Exception):
    """It cannot begin or go on so; the text says why and what to do."""


def begin(user: User, stop: Stop, *, back_by: datetime, now: datetime) -> CheckIn:
    """Begin at a stop; pressed again there it goes on with the newer time.

    Raises CheckInRefused.
    """
    if not now < back_by <= now + LONGEST:
        raise CheckInRefused(_("Give a time to come, within the next twelve hours."))
    try:
        with transaction.atomic():
            return CheckIn.objects.create(
                uuid=uuid4(), user=user, site=stop.site, stop=stop, begun_at=now, back_by=back_by
            )
    except IntegrityError:
        pass
    here = CheckIn.objects.under_way().filter(user=user, site=stop.site_id, alarmed_at=None)
    if here.update(back_by=back_by) == 1:
        return CheckIn.objects.under_way().get(user=user)
    raise CheckInRefused(
        _("Another check-in of yours is still under way. Say first that you are all right.")
    )


@transaction.atomic
def begin_kept(
    user: User, stop: Stop, *, key: UUID, begun_at: datetime, back_by: datetime, now: datetime
) -> CheckIn:
    """One that waited on a phone without signal; the same one sent twice is kept once.

    Its time may be over when it comes: then the office is alarmed, unless he says that he is all
    right. Whoever begins somewhere else has left the place before.
    Raises CheckInRefused.
    """
    if known := CheckIn.objects.filter(uuid=key, user=user).first():
        return known
    if not begun_at < back_by <= begun_at + LONGEST or begun_at > now + CLOCK_SLACK:
        raise CheckInRefused(_("Give a time to come, within the next twelve hours."))
    fields = {"uuid": key, "user": user, "site": stop.site, "stop": stop, "begun_at": begun_at}
    other = CheckIn.objects.under_way().filter(user=user).first()
    if other and other.begun_at >= begun_at:
        over = {"ended_at": now, "ended_by": user, "end_note": "A later one had come before it."}
        return CheckIn.objects.create(**fields, back_by=back_by, **over)
    if other:
        end(other, by=user, note=f"He checked in at {stop.site}.", now=now)
    return CheckIn.objects.create(**fields, back_by=back_by)


@transaction.atomic
def end(check_in: CheckIn, *, by: User, note: str, now: datetime) -> bool:
    """Whether this was what ended it. The alarm, if there was one, is handled with it."""
    ended = CheckIn.objects.under_way().filter(pk=check_in.pk)
    if ended.update(ended_at=now, ended_by=by, end_note=note[:250]) != 1:
        return False
    OfficeTask.objects.filter(check_in=check_in.pk, handled_at=None).update(
        handled_at=now, handled_by=by, handled_note=note[:250]
    )
    return True


@transaction.atomic
def stay_longer(check_in: CheckIn, *, now: datetime) -> CheckIn:
    """He is all right and stays: a later time, or after an alarm a check-in of its own."""
    back_by = max(check_in.back_by, now) + LONGER_BY
    if back_by > check_in.begun_at + LONGEST:
        raise CheckInRefused(
            _("Twelve hours are over. Say that you are all right, and begin anew.")
        )
    still = CheckIn.objects.under_way().filter(pk=check_in.pk)
    if still.filter(alarmed_at=None).update(back_by=back_by) == 1:
        return CheckIn.objects.get(pk=check_in.pk)
    if not end(check_in, by=check_in.user, note="He is all right and stays longer.", now=now):
        raise CheckInRefused(_("This check-in has ended. Begin another one."))
    return CheckIn.objects.create(
        uuid=uuid4(),
        user=check_in.user,
        site=check_in.site,
        stop=check_in.stop,
        begun_at=now,
        back_by=now + LONGER_BY,
    )


def end_after_visit(visit: Visit, *, now: datetime) -> None:
    """Whoever sent a visit has left; with nothing left to do at the stop, his check-in ends."""
    here = CheckIn.objects.under_way().filter(user=visit.technician_id, site=visit.site_id)
    check_in = here.first()
    if check_in is None or (visit.left_at or visit.arrived_at) < check_in.begun_at:
        return
    waiting = Ticket.objects.open().filter(stops=check_in.stop_id)
    if check_in.stop_id and waiting.exclude(works__visit__stop=check_in.stop_id).exists():
        return
    end(check_in, by=visit.technician, note="Left; the visit was received.", now=now)


def watch_check_ins(*, now: datetime) -> int:
    """Alarm the office of everybody who is late; once for each check-in. How many were new."""
    firm = Firm.objects.first() or Firm()
    late_at = now - timedelta(minutes=firm.check_in_late_min)
    late = CheckIn.objects.under_way().filter(back_by__lte=late_at, alarmed_at=None)
    found = late.select_related("user", "site").order_by("back_by", "pk")
    return sum(_alarm(check_in, firm, late_at, now) for check_in in found)


@transaction.atomic
def _alarm(check_in, firm, late_at, now):
    still = CheckIn.objects.under_way().filter(
        pk=check_in.pk, alarmed_at=None, back_by__lte=late_at
    )
    if still.update(alarmed_at=now) != 1:
        return 0  # he came back, or stays longer, or another worker was faster
    task = raise_alarm(
        key=f"check-in:{check_in.uuid}",
        kind=OfficeTaskKind.CHECK_IN,
        site=check_in.site,
        subject=f"Not back: {check_in.user}, alone at {check_in.site}",
        text=_says(check_in, firm),
        now=now,
    )
    CheckIn.objects.filter(pk=check_in.pk).update(office_task=task)
    return 1


def _says(check_in, firm):
    zone = ZoneInfo(check_in.site.time_zone)
    back_by = check_in.back_by.astimezone(zone)
    number = firm.emergency_phone or "the emergency number of the place"
    phone = check_in.user.phone
    call = f"Call now: {phone}." if phone else "Call now; no number is on record here."
    return (
        f"{check_in.user} is alone at {check_in.site}, wanted to be back by {back_by:%H:%M} and "
        f"has not said that all is well. {call} No answer: call {number}, and send "
        "somebody. Whoever goes does not go on the ice or into the water, least of all alone."
    )
