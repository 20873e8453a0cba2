"""Something to mend: written down once, and a repair ticket opened for it at once."""

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from customers.models import Site
from servicedesk.kinds import DefectSign, Harm, OfficeTaskKind, TicketEnd
from servicedesk.models import Defect, OfficeTask, Task, Ticket, Work, place_of
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import day

REPAIR = "repair"
REPAIR_OF = {  # by what was seen; our judgement of the harm that it may do
    DefectSign.TRIPPING_OUTLET: "repair_danger",
    DefectSign.WATER_IN_HOUSING: "repair_danger",
    DefectSign.SECOND_OPENING: "repair_danger",
    DefectSign.FISH_GASPING: "repair_fish",
    DefectSign.NO_BOIL: "repair_fish",
}
AT_ONCE = {Harm.SAFETY, Harm.FISH}
URGENT_WITHIN = timedelta(days=3)  # judgement, no source
CALMLY_WITHIN = timedelta(days=14)  # judgement, no source


@transaction.atomic
def record_defect(*, uuid: UUID, site: Site, now: datetime, **seen) -> Defect:
    """Keep a defect under the UUID made at the tap, with its ticket; the same twice is kept once.

    `seen` are fields of Defect: sign, text, urgent, seen_at, system, position, visit, contact.
    """
    fields = {"site": site, "entered_at": now} | seen
    defect, new = Defect.objects.get_or_create(uuid=uuid, defaults=fields)
    if new:
        _open_ticket(defect, now)
    return defect


@transaction.atomic
def take_back_defect(uuid: UUID, *, now: datetime) -> None:
    """A report that its owner took back. Where people or fish are in danger it stands:
    the danger is not gone because a button was pressed."""
    defect = Defect.objects.filter(uuid=uuid, mended_at=None).first()
    if defect is None or defect.sign in REPAIR_OF:
        return
    Defect.objects.filter(pk=defect.pk).update(mended_at=now)
    Ticket.objects.open().filter(occasion=occasion_of(defect), site=defect.site_id).update(
        closed_at=now, end=TicketEnd.NOT_NEEDED, end_note="Whoever reported it took it back."
    )


@transaction.atomic
def settle_defects(site_id: int | None = None) -> int:
    """Mark defects mended whose repair counts as done, and open again those whose does not.

    site_id: one site; None: every site. Returns how many changed.
    """
    works = Work.objects.counting().filter(occasion__startswith="defect:")
    defects = Defect.objects.all()
    if site_id is not None:
        works, defects = works.filter(site=site_id), defects.filter(site=site_id)
    mended_by = {work.occasion: work for work in works.order_by("done_at", "pk")}
    changed = []
    for defect in defects.filter(mended_at=None) | defects.filter(mended_by_work__isnull=False):
        work = mended_by.get(occasion_of(defect))
        if defect.mended_by_work_id != (work and work.pk):
            defect.mended_by_work, defect.mended_at = work, work and work.done_at
            changed.append(defect)
    Defect.objects.bulk_update(changed, ["mended_by_work", "mended_at"], batch_size=500)
    return len(changed)


def occasion_of(defect: Defect) -> str:
    return f"defect:{defect.pk}"


def _open_ticket(defect, now):
    slug = REPAIR_OF.get(DefectSign(defect.sign), REPAIR)
    task = Task.objects.filter(slug=slug, active=True).first()
    seen_on = site_date(defect.seen_at, defect.site.time_zone)
    because = f"{defect.get_sign_display().capitalize()}, seen on {day(seen_on)}. {defect.text}"
    if task is None:  # the firm does not use the task: a person decides
        OfficeTask.objects.get_or_create(
            key=occasion_of(defect),
            defaults={
                "kind": OfficeTaskKind.OTHER,
                "text": f"To be mended: {because}",
                "site": defect.site,
                "urgent": defect.urgent,
                "opened_at": now,
            },
        )
        return
    place = place_of(defect.system or defect.site)
    Ticket.objects.create(
        **place,
        task=task,
        occasion=occasion_of(defect),
        opened_at=now,
        due_when_opened_on=site_date(now, defect.site.time_zone) + _within(task, defect),
        because=because.strip(),
    )


def _within(task, defect):
    if task.harm in AT_ONCE:
        return timedelta()
    return URGENT_WITHIN if defect.urgent else CALMLY_WITHIN
