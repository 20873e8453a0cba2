"""What owners and other firms say they did, twice running: somebody of ours is sent to look."""

from datetime import datetime, timedelta

from servicedesk.kinds import DoneBy, OfficeTaskKind, TicketEnd, Who
from servicedesk.models import OfficeTask, Rhythm, Task, Ticket, Work
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day

LOOK = "claim_look"
WITHIN = timedelta(days=14)  # judgement, no source
IN_A_ROW = 2  # judgement, no source


def follow_claims(work: Work, *, now: datetime) -> None:
    """Open the ticket to look at a job of which we only have others' word; close it once seen.

    Called after every change of the works of this job, so that neither the order of entry nor
    a word taken back plays a part. Two words of one day are one.
    """
    claims = unseen(work)
    days = sorted({site_date(claim.done_at, work.site.time_zone) for claim in claims})
    if len(days) < IN_A_ROW:
        _close(work, now)
    else:
        _open(work, days, max(claim.entered_at for claim in claims), now)


def unseen(work: Work) -> list[Work]:
    """Reported work of the same job since one of ours last did it or saw it, newest first.

    What owners look after in a rhythm of their own stands in for no work of ours.
    """
    works = Work.objects.counting().filter(
        place_key=work.place_key, task=work.task_id, occasion=work.occasion
    )
    own_rhythm = Rhythm.objects.filter(task=work.task_id, who=Who.OWNER).exists()
    found = []
    for one in works.order_by("-done_at", "-verified", "-uuid"):
        if one.verified:
            break
        if not (own_rhythm and one.done_by == DoneBy.OWNER and one.ticket_id is None):
            found.append(one)
    return found


def occasion_of(work: Work) -> str:
    return f"claim:{work.task_id}"


def claims_of(ticket: Ticket):
    """The reported works that a ticket to look is about, newest first."""
    kind, _, number = ticket.occasion.partition(":")
    if kind != "claim" or not number.isdecimal():
        return Work.objects.none()
    same = Work.objects.counting().filter(place_key=ticket.place_key, task=int(number))
    return same.filter(verified=False).order_by("-done_at", "-uuid")


def _open(work, days, told_at, now):
    of_look = Ticket.objects.filter(
        place_key=work.place_key, task__slug=LOOK, occasion=occasion_of(work)
    )
    if of_look.filter(closed_at=None).exists():
        return
    if of_look.filter(end=TicketEnd.CANCELLED, closed_at__gte=told_at).exists():
        return  # a person decided after the last word that nobody goes
    on = " and ".join(day(one) for one in days[-IN_A_ROW:])
    because = f"{work.task}: reported on {on}, and nobody of ours has seen it between."
    task = Task.objects.filter(slug=LOOK, active=True).first()
    if task is None:  # the firm does not use the task: a person decides
        OfficeTask.objects.get_or_create(
            key=f"{occasion_of(work)}:{work.place_key}:{days[-1]:%Y-%m-%d}",
            defaults={
                "kind": OfficeTaskKind.OTHER,
                "text": f"{because} Send somebody to look.",
                "site_id": work.site_id,
                "contact": work.contact,
                "opened_at": now,
            },
        )
        return
    Ticket.objects.get_or_create(
        place_key=work.place_key,
        task=task,
        occasion=occasion_of(work),
        closed_at=None,
        defaults={
            **work.place,
            "opened_at": now,
            "due_when_opened_on": site_date(now, work.site.time_zone) + WITHIN,
            "because": because,
        },
    )


def _close(work, now):
    note = "One of ours has seen it, or the report was taken back."
    Ticket.objects.open().filter(
        place_key=work.place_key, task__slug=LOOK, occasion=occasion_of(work)
    ).update(closed_at=now, end=TicketEnd.NOT_NEEDED, end_note=note)
    OfficeTask.objects.filter(
        key__startswith=f"{occasion_of(work)}:{work.place_key}:", handled_at=None
    ).update(handled_at=now, handled_note=note)
