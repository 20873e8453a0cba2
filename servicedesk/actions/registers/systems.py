"""Systems with their timer, their state and their last filter change, from a register."""

import uuid
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from customers.models import User
from equipment.kinds import NOT_IN_SERVICE, PositionKind, SystemState
from equipment.models import Position, Schedule, StateChange, System
from servicedesk.actions.registers.merging import by_key, filter_in, merge
from servicedesk.actions.registers.report import Change, Report
from servicedesk.kinds import DoneBy, Outcome, WorkState
from servicedesk.models import Task, Work, place_of

FILTER_CHANGE = "filter_change"
NAMESPACE = uuid.UUID("5f0b2a52-4a7e-4b60-9a55-3f1c8f6f8a10")  # of works that a register told of


def save_systems(entries: dict, sites: dict, report: Report) -> dict:
    """Systems by their own number."""
    wanted = {}
    for (key,), entry in entries["system"].items():
        fields = {"key": key, "name": entry["system"], "site_id": sites[entry["site_key"]].pk}
        fields |= {"installed_on": entry["installed_on"], "winter_mode": entry["winter_mode"]}
        if (entry["state"] or SystemState.RUNNING) not in NOT_IN_SERVICE:
            fields["commissioned_on"] = entry["installed_on"]
        wanted[key] = (entry.row, fields)
    return merge("system", System, wanted, report, known=by_key(System, wanted))


def save_schedules(entries: dict, systems: dict, report: Report) -> None:
    """Hours a day by the timer, since the installation."""
    names = {system.pk: key for key, system in systems.items()}
    known = {}
    for schedule in filter_in(Schedule.objects.order_by("from_on"), "system_id", names):
        known.setdefault(names[schedule.system_id], schedule)
    wanted = {}
    for (key,), entry in entries["system"].items():
        begins = known[key].from_on if key in known else systems[key].installed_on
        fields = {"system_id": systems[key].pk, "from_on": begins}
        fields["hours_per_day"] = entry["hours_per_day"]
        wanted[key] = (entry.row, fields)
    merge("timer", Schedule, wanted, report, known=known)


def at_start(day: date, zone: str) -> datetime:
    """The start of a day at a site: a register knows days, not hours."""
    return datetime.combine(day, time(), ZoneInfo(zone))


def save_states(
    entries: dict, systems: dict, sites: dict, report: Report, *, by: User | None, now: datetime
) -> None:
    """What each system does since when; a later word on the same day corrects the earlier one."""
    standing = {
        (change.system_id, change.at): change
        for change in filter_in(
            StateChange.objects.standing(), "system_id", [s.pk for s in systems.values()]
        )
    }
    known = {system_id for system_id, _ in standing}
    new = []
    for (key,), entry in entries["system"].items():
        system = systems[key]
        if not entry["state"] and system.pk in known:
            report.count("state").same += 1
            continue
        state = entry["state"] or SystemState.RUNNING
        zone = sites[entry["site_key"]].time_zone
        since = entry["state_since"] or system.installed_on
        if system.pk not in known:
            new += _ran_before(system, since, zone)
        new += _missing_changes(system, state, since, zone, standing, report, entry.row)
    for change in new:
        change.by, change.entered_at, change.reason = by, now, "from the register"
    StateChange.objects.bulk_create(new, batch_size=500)


def _ran_before(system, since, zone):
    """A new system that is in another state today ran from its installation until then."""
    if since <= system.installed_on:
        return []
    start = at_start(system.installed_on, zone)
    return [StateChange(system=system, at=start, state=SystemState.RUNNING)]


def _missing_changes(system, state, since, zone, standing, report, row):
    count = report.count("state")
    at = at_start(since, zone)
    changes = []
    before = standing.get((system.pk, at))
    if before is None:
        changes.append(StateChange(system=system, at=at, state=state))
        count.new += 1
    elif before.state != state:
        told = Change(row, f"system {system.key}", "state", before.state, state)
        report.changes.append(told)
        changes.append(StateChange(system=system, at=at, state=state, corrects=before))
        count.changed += 1
    else:
        count.same += 1
    return changes


def save_filter_changes(
    entries: dict, systems: dict, sites: dict, report: Report, *, by: User | None, now: datetime
) -> None:
    """The last filter change as work done, so that its clock begins on that day."""
    told = {
        systems[key].pk: (key, entry)
        for (key,), entry in entries["system"].items()
        if entry["filter_changed_on"]
    }
    if not told:
        return
    task = Task.objects.get(slug=FILTER_CHANGE)
    filters = Position.objects.filter(kind=PositionKind.FILTER).select_related("system")
    positions = {p.system_id: p for p in filter_in(filters.order_by("-pk"), "system_id", told)}
    works = Work.objects.filter(task=task, done_by=DoneBy.IMPORT, state=WorkState.ACCEPTED)
    known = {}
    for work in filter_in(works, "system_id", told):
        known.setdefault(work.system_id, {})[work.done_at] = work
    new, refused = [], []
    for system_id, (key, entry) in told.items():
        at = at_start(entry["filter_changed_on"], sites[entry["site_key"]].time_zone)
        before = known.get(system_id, {})
        if _counted(report, key, entry, before, at):
            continue
        refused += [work for work in before.values() if work.done_at > at]
        new.append(_work(task, positions[system_id], at, by, now))
    for work in refused:
        work.state, work.reviewed_by, work.reviewed_at = WorkState.REFUSED, by, now
    Work.objects.bulk_update(refused, ["state", "reviewed_by", "reviewed_at"])
    Work.objects.bulk_create(new, batch_size=500)


def _counted(report, key, entry, before, at):
    """Whether this day is already the last one that the register told of."""
    count = report.count("filter change")
    if not before:
        count.new += 1
        return False
    last = max(before)
    if last == at:
        count.same += 1
        return True
    count.changed += 1
    days = [str(last.astimezone(at.tzinfo).date()), str(at.date())]
    report.changes.append(Change(entry.row, f"system {key}", "filter_changed_on", *days))
    return False


def _work(task, position, at, by, now):
    return Work(
        uuid=uuid.uuid5(NAMESPACE, f"{position.pk} {at.isoformat()} {now.isoformat()}"),
        task=task,
        done_at=at,
        entered_at=now,
        outcome=Outcome.DONE,
        done_by=DoneBy.IMPORT,
        user=by,
        note="From the register.",
        **place_of(position),
    )
