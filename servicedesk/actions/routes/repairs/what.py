"""What may go wrong with a planned day, and what each means for the stops that stand."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from customers.models import Firm, User
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs.standing import Standing, routes_to_repair
from servicedesk.actions.routes.week import WeekOfRecords
from servicedesk.kinds import HoldKind, RepairKind
from servicedesk.models import Absence, Hold, Repair, Route, Stop, StopTicket, Technician, Ticket
from servicedesk.planning.calendar import said_day
from servicedesk.planning.routing.barriers import Area, area_polygon, is_inside
from servicedesk.planning.routing.insertion import Day

Facts = dict[str, Any]


LONGEST = timedelta(days=366)  # beyond it a year was typed wrong; our judgement


@dataclass(frozen=True)
class Happening:
    """What was said to have happened, in words and as facts that JSON can hold."""

    kind: RepairKind
    day: date
    says: str
    facts: Facts


def away(
    technician: Technician,
    from_on: date,
    to_on: date,
    reason: str = "",
    from_at: datetime | None = None,
    to_at: datetime | None = None,
) -> Happening:
    """Somebody does not work from one day to another.

    from_at: where he had begun the first day. to_at: when he is back on the last one. On one day
    only one of the two, because a day in two parts is planned for its longer part alone.
    """
    if from_at and to_at and to_on == from_on:
        raise RouteRefused(
            "For one day say either from what time he is away, or when he is back: only one part "
            "of a day is planned."
        )
    if to_on < from_on:
        raise RouteRefused("The last day away lies before the first one.")
    if to_on - from_on > LONGEST:
        raise RouteRefused(
            "That is more than a year away. Choose an earlier last day, or say with the technician "
            "that he works no more."
        )
    days = f"on {said_day(from_on)}"
    begins = f" {_at_the_shop(from_at):%H:%M}" if from_at else ""
    if from_at:
        days = f"from{begins} {days}"
    if to_on > from_on:
        days = f"from {said_day(from_on)}{begins} to {said_day(to_on, near=from_on)}"
    facts = {"technician": technician.pk, "to_on": to_on.isoformat(), "reason": reason[:120]}
    facts["from_at"] = from_at.isoformat() if from_at else None
    facts["to_at"] = to_at.isoformat() if to_at else None
    if to_at:
        days = f"{days}, back at {_at_the_shop(to_at):%H:%M}"
    return Happening(RepairKind.AWAY, from_on, f"{technician} is away {days}.", facts)


def stop_failed(stop: Stop, reason: str = "") -> Happening:
    """A stop could not be made; it wants another day."""
    says = f"{stop.site} cannot be done on {said_day(stop.route.day)}."
    if reason:
        says = f"{says[:-1]}: {reason}"
    facts = {"stop": str(stop.uuid), "reason": reason}
    return Happening(RepairKind.STOP_FAILED, stop.route.day, says[:250], facts)


def road_closed(
    area: Area, from_on: date, until: date, place: str, reason: str, within: str = ""
) -> Happening:
    """Nobody drives through a round area, its last day included.

    within: how far round the place, in the unit of whoever told it.
    """
    if until < from_on:
        raise RouteRefused("The road opens before it closes. Enter a later last day.")
    opens = said_day(until, near=from_on)
    within = within or f"{area.radius_km:g} km"
    says = f"No way through within {within} of {place} until {opens}."
    facts = {
        "area": area_polygon(area),
        "to_on": until.isoformat(),
        "reason": (reason or f"Road closed near {place}")[:200],
        "round": [area.latitude, area.longitude, area.radius_km],
    }
    return Happening(RepairKind.ROAD_CLOSED, from_on, says[:250], facts)


def running_late(technician: Technician, day: date, minutes: int) -> Happening:
    """Somebody is behind his day."""
    says = f"{technician} runs {minutes} minutes late on {said_day(day)}."
    facts = {"technician": technician.pk, "minutes": minutes}
    return Happening(RepairKind.RUNNING_LATE, day, says, facts)


def emergency(ticket: Ticket, day: date) -> Happening:
    """Work that has to go before milder work of the day."""
    says = f"{ticket.task} at {ticket.site} has to be done on {said_day(day)}."
    return Happening(RepairKind.EMERGENCY, day, says[:250], {"ticket": ticket.pk})


def written_down(what: Happening, by: User | None) -> tuple[Absence | None, Hold | None]:
    """The record of what happened, from which every later planning knows it too."""
    facts = what.facts
    if what.kind == RepairKind.AWAY:
        start = {"from_on": what.day, "to_on": facts["to_on"], "reason": facts["reason"]}
        begun = facts["from_at"]
        start["from_at"] = _at_the_shop(datetime.fromisoformat(begun)).time() if begun else None
        back = facts.get("to_at")
        start["to_at"] = _at_the_shop(datetime.fromisoformat(back)).time() if back else None
        known = Absence.objects.filter(technician=facts["technician"], from_on__lte=what.day)
        known = known.filter(to_on__gte=facts["to_on"], to_at=None)
        if any(_begins_by(absence, what.day, start["from_at"]) for absence in known):
            return None, None  # somebody wrote it down before
        return Absence.objects.create(technician_id=facts["technician"], **start), None
    if what.kind == RepairKind.ROAD_CLOSED:
        hold = Hold.objects.create(
            kind=HoldKind.NO_GO_AREA,
            area=facts["area"],
            from_on=what.day,
            to_on=facts["to_on"],
            reason=facts["reason"],
            by=by,
        )
        return None, hold
    return None, None


def _at_the_shop(at: datetime) -> datetime:
    return at.astimezone(ZoneInfo(Firm.objects.values_list("time_zone", flat=True)[0]))


def _begins_by(absence: Absence, day: date, at: time | None) -> bool:
    """Whether somebody was known to be away on a day from a time, or earlier."""
    if absence.from_on < day or absence.from_at is None:
        return True
    return at is not None and absence.from_at <= at


def add_emergency(what: Happening, week: WeekOfRecords, now: datetime) -> None:
    """Give an emergency a stop to move: that of its site, else one that has no time yet."""
    if what.kind != RepairKind.EMERGENCY:
        return
    ticket = Ticket.objects.get(pk=what.facts["ticket"])
    routes, is_published = routes_to_repair(week)
    mine = Stop.objects.filter(route__in=[r.pk for r in routes])
    stop = mine.filter(site=ticket.site).order_by("route__day").first()
    if stop is None:
        route = next((r for r in routes if r.day == what.day), None) or Route.objects.create(
            technician=next(iter(week.technicians.values())),
            day=what.day,
            published_at=now if is_published else None,
        )
        stop = Stop.objects.create(
            route=route, site=ticket.site, number=999, arrive_at=now, leave_at=now
        )
        # a stop in the far end of the day is neither done nor begun
        end = week.instant(week.number(what.day), 24 * 60 - 1)
        Stop.objects.filter(pk=stop.pk).update(arrive_at=end, leave_at=end)
    StopTicket.objects.get_or_create(stop=stop, ticket=ticket)


def free_stops(what: Happening, stops: list[Stop]) -> frozenset[int]:
    """The stops that lose their place by what happened."""
    test = LOSES_ITS_PLACE.get(what.kind)
    return frozenset(stop.pk for stop in stops if test and test(what, stop))


def _is_of_absent(what: Happening, stop: Stop) -> bool:
    days = what.day.isoformat() <= stop.route.day.isoformat() <= what.facts["to_on"]
    begun = what.facts["from_at"]
    if begun and stop.leave_at <= datetime.fromisoformat(begun):
        return False
    back = what.facts.get("to_at")
    on_last = stop.route.day.isoformat() == what.facts["to_on"]
    if back and on_last and stop.arrive_at >= datetime.fromisoformat(back):
        return False
    return days and stop.route.technician_id == what.facts["technician"]


def _is_the_one(what: Happening, stop: Stop) -> bool:
    return str(stop.uuid) == what.facts["stop"]


def _is_cut_off(what: Happening, stop: Stop) -> bool:
    days = what.day.isoformat() <= stop.route.day.isoformat() <= what.facts["to_on"]
    return days and is_inside(Area(*what.facts["round"]), stop.site.lat, stop.site.lon)


def _has_emergency(what: Happening, stop: Stop) -> bool:
    return any(row.ticket_id == what.facts["ticket"] for row in stop.stop_tickets.all())


LOSES_ITS_PLACE = {
    RepairKind.AWAY: _is_of_absent,
    RepairKind.STOP_FAILED: _is_the_one,
    RepairKind.ROAD_CLOSED: _is_cut_off,
    RepairKind.EMERGENCY: _has_emergency,
}


def strained_days(what: Happening, standing: Standing) -> list[Day]:
    """Days that may have become too long by what happened."""
    today = standing.week.number(standing.week.first_on)
    if what.kind == RepairKind.RUNNING_LATE:
        return [(str(what.facts["technician"]), today)]
    if what.kind == RepairKind.ROAD_CLOSED:
        return list(standing.orders)
    if what.kind == RepairKind.AWAY and what.facts.get("to_at"):
        last = date.fromisoformat(what.facts["to_on"])
        day = str(what.facts["technician"]), standing.week.number(last)
        return [day] if day in standing.orders else []
    return []


def minutes_late(what: Happening) -> dict[int, int]:
    if what.kind != RepairKind.RUNNING_LATE:
        return {}
    return {what.facts["technician"]: what.facts["minutes"]}


def what_of(repair: Repair) -> Happening:
    return Happening(RepairKind(repair.kind), repair.day, repair.says, repair.facts)
