"""Repaired orders become days as plain data: only those that changed."""

import uuid
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from servicedesk.actions.routes.drafts import pks, site_of
from servicedesk.actions.routes.repairs.rows import DayRow, at, day_rows
from servicedesk.actions.routes.repairs.standing import Standing
from servicedesk.planning.routing.insertion import Day
from servicedesk.planning.routing.problem import PlannedRoute, Shift, WeekProblem
from servicedesk.planning.routing.repair import DONE, Repaired
from servicedesk.planning.routing.timetable import Visit, latest_leaving, timed_route
from servicedesk.planning.routing.whys import meets, why_there


@dataclass
class _Names:
    """The rows that stand, to be given to the stops that come of them."""

    rows: dict[int, list[tuple[Day, dict]]] = field(default_factory=dict)

    def take(self, site: int | None, day: Day) -> dict | None:
        """The row of a site that stands on this day already, else any of the site."""
        rows = self.rows.get(site, [])
        rows.sort(key=lambda one: one[0] != day)
        return rows.pop(0)[1] if rows else None


def days_after(
    standing: Standing, result: Repaired, before: list[DayRow], late: dict[int, int]
) -> list[DayRow]:
    """The days that change, as they would be."""
    now = {_day(standing, row): row for row in day_rows(standing.week.routes)}
    touched = [
        day
        for day in {**standing.orders, **result.orders, **now}
        if _content(standing.orders.get(day, [])) != _content(result.orders.get(day, []))
        or (int(day[0]) in late and day in standing.orders)
        or _is_longer(standing, result.problem, day, now)
    ]
    names = _Names()
    for day in touched:
        held = {str(stop.uuid) for stop in standing.held.get(day, [])}
        for row in now.get(day, {}).get("stops", []):
            if row["uuid"] not in held:
                names.rows.setdefault(row["site"], []).append((day, row))
    keep = {day: _staying(names, result, day) for day in touched}
    made = [_made(standing, result, day, now.get(day), names, keep[day], late) for day in touched]
    told = {(row["technician"], row["day"]): row["published_at"] for row in before}
    newest = max((row["published_at"] for row in before if row["published_at"]), default=None)
    for row in made:
        row["published_at"] = told.get((row["technician"], row["day"]), newest)
    return made


def _staying(names: _Names, result: Repaired, day: Day) -> dict[str, dict]:
    """Rows that stay on their day keep their names before any other claims them."""
    kept = {}
    for visit in result.orders.get(day, []):
        rows = names.rows.get(site_of(visit.wish.key), [])
        mine = next((one for one in rows if one[0] == day), None)
        if mine:
            rows.remove(mine)
            kept[visit.wish.key] = mine[1]
    return kept


def _day(standing: Standing, row: DayRow) -> Day:
    number = standing.week.number(datetime.fromisoformat(row["day"]).date())
    return str(row["technician"]), number


def _content(visits: list[Visit]) -> list:
    return [
        (v.wish.key, {job.key for job in v.jobs}, v.start_min, {k.technician for k in v.wish.held})
        for v in visits
    ]


def _is_longer(standing: Standing, problem: WeekProblem, day: Day, now: dict) -> bool:
    """Where roads are closed, a day with the same stops may take longer."""
    shift, visits = problem.shift_by_day.get(day), standing.orders.get(day)
    if not problem.areas or shift is None or not visits:
        return False
    drive_hm = latest_leaving(problem, shift, visits).drive_hm
    return day not in standing.held and drive_hm > round(now[day]["drive_km"] * 10)


def _made(standing, result, day: Day, old, names: _Names, kept, late) -> DayRow:
    week, problem = standing.week, result.problem
    visits = _joined(result.orders.get(day, []))
    held = standing.held.get(day, [])
    shift = problem.shift_by_day.get(day)
    rows = [row for row in (old or {}).get("stops", []) if row["uuid"] in _uuids(held)]
    rows = _delayed(rows, old, late.get(int(day[0]), 0))
    new = [visit for visit in visits if not visit.wish.key.startswith(DONE)]
    base = {
        "technician": int(day[0]),
        "day": week.day(day[1]).isoformat(),
        "published_by_id": (old or {}).get("published_by_id"),
        "plan_run_id": (old or {}).get("plan_run_id"),
        "starts_at": (old or {}).get("starts_at"),
        "ends_at": (old or {}).get("ends_at"),
    }
    route = None
    if shift is not None and visits:
        route = (
            timed_route(problem, shift, visits) if held else latest_leaving(problem, shift, visits)
        )
        stops = route.stops[len(visits) - len(new) :]
        before = _place_before(problem, shift, visits, new)
        for visit, stop in zip(new, stops, strict=True):
            row = kept.get(visit.wish.key) or names.take(site_of(visit.wish.key), day)
            rows.append(_stop_row(standing, problem, route, visit, stop, row, before))
            before = visit.wish.place
        base["ends_at"] = week.instant(day[1], route.back_min).isoformat()
        if not rows or not held:
            base["starts_at"] = week.instant(day[1], route.leaves_min).isoformat()
    for number, row in enumerate(rows, start=1):
        row["number"] = number
    return base | _sums(problem, rows, visits, shift) | {"stops": rows}


def _joined(visits: list[Visit]) -> list[Visit]:
    """Parts of a site's work that come together on a day are one stop again."""
    joined: dict[int | str, Visit] = {}
    for visit in visits:
        key = site_of(visit.wish.key) or visit.wish.key
        first = joined.get(key)
        if first is None:
            joined[key] = visit
        else:
            wish = replace(first.wish, jobs=first.wish.jobs + visit.wish.jobs)
            joined[key] = replace(first, wish=wish, jobs=first.jobs + visit.jobs)
    return list(joined.values())


def _uuids(stops) -> set[str]:
    return {str(stop.uuid) for stop in stops}


def _delayed(rows: list[dict], old, minutes: int) -> list[dict]:
    """Who runs late comes late to where he is driving, or stays longer where he is."""
    if not rows or not minutes:
        return [dict(row) for row in rows]
    more = timedelta(minutes=minutes)
    last = dict(rows[-1])
    last["leave_at"] = (at(last["leave_at"]) + more).isoformat()
    return [*[dict(row) for row in rows[:-1]], last]


def _place_before(problem: WeekProblem, shift: Shift, visits: list[Visit], new: list[Visit]) -> int:
    return visits[0].wish.place if len(visits) > len(new) else shift.home


def _stop_row(standing, problem, route: PlannedRoute, visit: Visit, stop, row, before: int) -> dict:
    week, day = standing.week, (route.technician, route.day)
    keys = [job.key for job in visit.jobs]
    tickets = set(pks(keys, "ticket"))
    if row:
        known = set(pks([job.key for job in visit.wish.jobs], "ticket"))
        tickets |= set(row["tickets"]) - known  # closed ones stay where they were done
    place = visit.wish.place
    return {
        "uuid": row["uuid"] if row else str(uuid.uuid4()),
        "site": int(visit.wish.key.split(":")[1]),
        "arrive_at": week.instant(day[1], stop.starts_min).isoformat(),
        "leave_at": week.instant(day[1], stop.ends_min).isoformat(),
        "drive_min": int(problem.travel.minutes[before, place]),
        "drive_km": int(problem.travel.hectometres[before, place]) / 10,
        "locked": bool(row and row["locked"]) or len(visit.wish.locks) > 1,
        "by_hand": bool(row and row["by_hand"]) or len(visit.wish.locks) > 1,
        "because": _because(problem, route, visit, stop, row),
        "tickets": sorted(tickets),
        "due": sorted(pks(keys, "due")),
    }


def _because(problem, route: PlannedRoute, visit: Visit, stop, row) -> str:
    """What was said before; of a meeting anew, for its people and its hour may be others."""
    wishes = tuple(visit.wish if w.key == visit.wish.key else w for w in problem.wishes)
    meeting = meets(replace(problem, wishes=wishes), [route], route, stop)
    if meeting:
        return why_there(visit.wish, visit.jobs, route.day, meeting)
    return row["because"] if row else ""


def _sums(problem: WeekProblem, rows: list[dict], visits: list[Visit], shift: Shift | None) -> dict:
    """Driving and work of a day, the way home included where it is known."""
    drive_min = sum(row["drive_min"] for row in rows)
    drive_km = sum(row["drive_km"] for row in rows)
    if shift is not None and visits:
        last = visits[-1].wish.place
        drive_min += int(problem.travel.minutes[last, shift.home])
        drive_km += int(problem.travel.hectometres[last, shift.home]) / 10
    work = sum((at(row["leave_at"]) - at(row["arrive_at"])).total_seconds() for row in rows)
    return {
        "drive_min": drive_min,
        "drive_km": round(drive_km, 1),
        "work_min": round(work / 60),
    }
