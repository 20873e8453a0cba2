"""Systems with their timer and their state, from a register."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from customers.models import User
from equipment.kinds import NOT_IN_SERVICE, SystemState
from equipment.models import Schedule, StateChange, System
from servicedesk.actions.registers.merging import by_key, filter_in, merge
from servicedesk.actions.registers.report import Change, Report
from servicedesk.actions.registers.unsaid import unsaid


def save_systems(entries: dict, sites: dict, report: Report, *, today: date) -> dict:
    """Systems by their own number."""
    wanted, known = {}, by_key(System, [key for (key,) in entries["system"]])
    for (key,), entry in entries["system"].items():
        fields = {"key": key, "name": entry["system"], "site_id": sites[entry["site_key"]].pk}
        fields |= {"installed_on": entry["installed_on"], "winter_mode": entry["winter_mode"]}
        if (entry["state"] or SystemState.RUNNING) not in NOT_IN_SERVICE:
            fields["commissioned_on"] = entry["installed_on"]
        fields["records_from_on"] = _records_from(entry, today, is_new=key not in known)
        fields["registered_on"] = None if key in known else today
        wanted[key] = (entry.row, fields)
    report.warnings += unsaid(entries, new=wanted.keys() - known.keys(), today=today)
    return merge("system", System, wanted, report, known=known)


def _records_from(entry, today, *, is_new):
    """Since when the firm's records of a system are complete; None says nothing."""
    if entry["last_service"] or not is_new:
        return entry["last_service"]
    return entry["filter_changed_on"] or today


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
