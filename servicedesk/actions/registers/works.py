"""Work done before a system came into this program, as a register tells of it."""

import uuid
from collections import defaultdict
from datetime import datetime
from typing import NamedTuple

from customers.models import User
from equipment.kinds import PositionKind, PositionUse
from equipment.models import Position
from servicedesk.actions.registers.components import Places
from servicedesk.actions.registers.entries import Entry
from servicedesk.actions.registers.merging import filter_in
from servicedesk.actions.registers.report import Change, Report
from servicedesk.actions.registers.systems import at_start
from servicedesk.kinds import DoneBy, Outcome, WorkState
from servicedesk.models import Task, Work, place_of
from servicedesk.registers.columns import OVERHAUL_OF

NAMESPACE = uuid.UUID("5f0b2a52-4a7e-4b60-9a55-3f1c8f6f8a10")  # of works that a register told of
NO_PLACE = "{key}: {column} is told, and no place to count it at. Write diffuser_depths, too."


class Column(NamedTuple):
    """A column that tells of work: the word for people, where it was done, at how many places."""

    name: str
    word: str
    kind: PositionKind
    task: str = ""  # empty: the overhaul of the compressor's kind
    everywhere: bool = False


COLUMNS = (
    Column("filter_changed_on", "filter change", PositionKind.FILTER, "filter_change"),
    Column(
        "last_membranes",
        "membranes",
        PositionKind.DIFFUSER,
        "membrane_replacement",
        everywhere=True,
    ),
    Column("last_overhaul", "overhaul", PositionKind.COMPRESSOR),
)


class Told(NamedTuple):
    """One work that the register tells of."""

    entry: Entry
    column: Column
    task: Task
    position: Position
    at: datetime

    @property
    def where(self):
        return self.position.pk, self.task.pk


def save_works(
    entries: dict,
    systems: dict,
    sites: dict,
    places: Places,
    report: Report,
    *,
    by: User | None,
    now: datetime,
) -> None:
    """The last filter change, membranes and overhaul, so that their clocks begin on those days."""
    told = list(_told(entries, systems, sites, places, report))
    known = defaultdict(dict)
    works = Work.objects.filter(done_by=DoneBy.IMPORT, state=WorkState.ACCEPTED)
    for work in filter_in(works, "position_id", {one.position.pk for one in told}):
        known[work.position_id, work.task_id][work.done_at] = work
    new, refused = [], []
    for one in told:
        before = known.get(one.where, {})
        if not _counted(report, one, before):
            refused += [work for work in before.values() if work.done_at > one.at]
            new.append(_work(one, by, now))
    for work in refused:
        work.state, work.reviewed_by, work.reviewed_at = WorkState.REFUSED, by, now
    Work.objects.bulk_update(refused, ["state", "reviewed_by", "reviewed_at"], batch_size=500)
    Work.objects.bulk_create(new, batch_size=500)


def _told(entries, systems, sites, places, report):
    tasks = {task.slug: task for task in Task.objects.all()}
    at_system = defaultdict(list)
    for position in sorted(places.by_label.values(), key=lambda position: position.pk):
        if position.use == PositionUse.IN_USE:
            at_system[position.system_id, position.kind].append(position)
    for (key,), entry in entries["system"].items():
        for column in COLUMNS:
            if not entry[column.name]:
                continue
            found = at_system[systems[key].pk, column.kind]
            if not found:
                report.warnings.append(NO_PLACE.format(key=key, column=column.name))
            at = at_start(entry[column.name], sites[entry["site_key"]].time_zone)
            task = tasks[column.task or _overhaul(entries, key)]
            for position in found if column.everywhere else found[:1]:
                position.system = systems[key]
                yield Told(entry, column, task, position, at)


def _overhaul(entries, system_key):
    unit = entries["compressor"][system_key,]
    model = entries["model"][unit["compressor_maker"], unit["compressor_model"]]
    return OVERHAUL_OF[model["compressor_kind"]]


def _counted(report, told, before):
    """Whether this day is already the last one that the register told of."""
    count = report.count(told.column.word)
    if not before:
        count.new += 1
        return False
    last = max(before)
    if last == told.at:
        count.same += 1
        return True
    count.changed += 1
    days = [str(last.astimezone(told.at.tzinfo).date()), str(told.at.date())]
    what = f"system {told.position.system.key}"
    change = Change(told.entry.row, what, told.column.name, *days)
    if change not in report.changes[-1:]:  # told once for all plates of a system
        report.changes.append(change)
    return False


def _work(told, by, now):
    name = f"{told.task.slug} {told.position.pk} {told.at.isoformat()} {now.isoformat()}"
    return Work(
        uuid=uuid.uuid5(NAMESPACE, name),
        task=told.task,
        done_at=told.at,
        entered_at=now,
        outcome=Outcome.DONE,
        done_by=DoneBy.IMPORT,
        user=by,
        note="From the register.",
        **place_of(told.position),
    )
