"""What the office is asked after work: another interval, work done twice, or too early."""

from datetime import datetime, timedelta

from equipment.kinds import FilterCondition
from servicedesk.kinds import Anchor, OfficeTaskKind, WorkState
from servicedesk.models import DueItem, OfficeTask, Work
from servicedesk.planning.calendar import site_date
from servicedesk.planning.due.sentences import UNITS
from servicedesk.planning.due.sentences import day as day_in_words

SHORTER, LONGER = 0.75, 1.25  # of the interval that was too long, or too short; a judgement
PROPOSED = {
    FilterCondition.LOADED: ("loaded", "shorter", SHORTER),
    FilterCondition.CLEAN: ("clean", "longer, up to what the maker allows", LONGER),
}
A_DAY = timedelta(days=1)


def ask_after_work(work: Work, *, now: datetime) -> None:
    """Ask what this work raises, and take back questions that it answers."""
    _propose_interval(work, now)
    _ask_about_twice(work, now)
    _ask_about_early(work, now)


def _propose_interval(work, now):
    """Found alike at the last two changes, whichever of them was entered first."""
    start = f"interval:{work.place_key}:{work.task_id}:"
    asked = OfficeTask.objects.filter(key__startswith=start)
    works = Work.objects.counting().filter(
        place_key=work.place_key, task=work.task_id, found__has_key="condition"
    )
    last_two = list(works.order_by("-done_at", "-uuid")[:2])
    found = {one.found["condition"] for one in last_two}
    key = ""
    if len(last_two) == 2 and len(found) == 1 and found <= set(PROPOSED):
        key = f"{start}{last_two[0].uuid}"
        text = _proposal(work, *PROPOSED[FilterCondition(found.pop())])
        _ask(work, key, text, now)
    _answered(asked.exclude(key=key), now, "The next change was found otherwise.")


def _proposal(work, found, way, share):
    item = DueItem.objects.filter(place_key=work.place_key, task=work.task_id).first()
    figures = ""
    if item and item.basis.get("every"):
        every, unit = item.basis["every"], UNITS[item.basis["unit"]]
        figures = f" Perhaps {every * share:,.0f} {unit} in place of {every:,g} (a judgement)."
    where = ", ".join(str(part) for part in (work.system, work.position) if part)
    return (
        f"{work.task} at {where or work.site}: found {found} twice in a row. "
        f"Consider an interval that is {way}.{figures}"
    )


def _ask_about_twice(work, now):
    zone = work.site.time_zone
    others = (
        Work.objects.counting()
        .filter(
            place_key=work.place_key,
            task=work.task_id,
            occasion=work.occasion,
            verified=True,
            done_at__range=(work.done_at - A_DAY, work.done_at + A_DAY),
        )
        .exclude(uuid=work.uuid)
    )
    on = site_date(work.done_at, zone)
    key = f"twice:{work.place_key}:{work.task_id}:{on.isoformat()}"
    counts = work.verified and work.state == WorkState.ACCEPTED
    if not counts or all(site_date(other.done_at, zone) != on for other in others):
        _answered(OfficeTask.objects.filter(key=key), now, "One of the two counts.")
        return
    text = (
        f"{work.task} was recorded twice on {day_in_words(on)}. If it was one and the same, refuse "
        "one of the two; else say why it was done again, before it is billed."
    )
    _ask(work, key, text, now)


def _ask_about_early(work, now):
    """A task that keeps its day is not done for this time before its window opens."""
    if work.task.anchor != Anchor.FIXED or work.state != WorkState.ACCEPTED:
        return
    item = DueItem.objects.filter(place_key=work.place_key, task=work.task_id).first()
    on = site_date(work.done_at, work.site.time_zone)
    if item is None or item.due_on is None or "anchor" not in item.basis or on >= item.opens_on:
        return
    if item.opens_on <= site_date(now, work.site.time_zone):
        return  # its window is open by now: the work was for the time before
    text = (
        f"{work.task} was done on {day_in_words(on)}, before its window opens on "
        f"{day_in_words(item.opens_on)}, so it stays due on {day_in_words(item.due_on)}. "
        "If it should count for that day, waive that occasion."
    )
    _ask(work, f"early:{work.place_key}:{work.task_id}:{item.due_on.isoformat()}", text, now)


def _ask(work, key, text, now):
    fields = {"kind": OfficeTaskKind.OTHER, "text": text, "site_id": work.site_id}
    OfficeTask.objects.get_or_create(key=key, defaults={**fields, "opened_at": now})


def _answered(tasks, now, note):
    tasks.filter(handled_at=None).update(handled_at=now, handled_note=note)
