"""What a repair changes, for the reader who decides: stops, owners, kilometres, what is undone."""

from collections import defaultdict
from datetime import date
from typing import Any

from customers.actions import Receivers
from customers.models import Site
from equipment.models import Position
from servicedesk.actions.routes.drafts import site_of
from servicedesk.actions.routes.repairs.rows import DayRow
from servicedesk.actions.routes.repairs.standing import Standing
from servicedesk.actions.routes.repairs.what import Happening
from servicedesk.kinds import AnswerKind
from servicedesk.models import DueItem, OwnerAnswer, Ticket
from servicedesk.planning.routing.repair import Repaired

Places = dict[str, list[tuple[DayRow, dict]]]


def difference(
    what: Happening,
    standing: Standing,
    result: Repaired,
    before: list[DayRow],
    after: list[DayRow],
    today: date,
) -> dict[str, Any]:
    """What is shown of a proposal. Six queries, whatever the size."""
    touched = {(row["technician"], row["day"]) for row in after}
    changed = [row for row in before if (row["technician"], row["day"]) in touched]
    was, will = _by_uuid(changed), _by_uuid(after)
    facts = _Facts({*was, *will}, was, will, today)
    moves = [
        _move(facts, uuid, was.get(uuid), will[uuid])
        for uuid in will
        if _place(was.get(uuid)) != _place(will[uuid])
    ]
    lost = {was[uuid][1]["site"]: was[uuid] for uuid in was if uuid not in will}
    gone = [_gone(facts, result, there) for there in lost.values()]  # a pair is undone once
    gone += _lost_jobs(facts, was, will)
    gone += _never_placed(facts, what, result, was, will)
    return {
        "moves": sorted(moves, key=lambda move: (move["to"]["day"], move["to"]["at"])),
        "undone": gone,
        "promises_broken": _promises(facts, result, was, will),
        "is_published": standing.is_published,
        "km_before": round(sum(row["drive_km"] for row in changed), 1),
        "km_after": round(sum(row["drive_km"] for row in after), 1),
        "same_day_later": _retimed(facts, was, will),
        "stops_before": len(was),
    }


def _by_uuid(days: list[DayRow]) -> dict[str, tuple[DayRow, dict]]:
    return {stop["uuid"]: (day, stop) for day in days for stop in day["stops"]}


def _place(there: tuple[DayRow, dict] | None) -> tuple | None:
    return (there[0]["technician"], there[0]["day"]) if there else None


class _Facts:
    """What the sentences need of sites, tickets and owners."""

    def __init__(self, uuids, was, will, today: date):
        stops = [there[1] for found in (was, will) for there in found.values()]
        sites = {stop["site"] for stop in stops}
        tickets = {pk for stop in stops for pk in stop["tickets"]}
        self.sites = Site.objects.in_bulk(sites)
        found = Ticket.objects.filter(pk__in=tickets).select_related("task", "pond")
        self.tickets = {ticket.pk: ticket for ticket in found}
        self.waters = self._waters()
        self.receivers = Receivers(list(sites), on=today)
        answers = OwnerAnswer.objects.filter(ticket__in=tickets, undone_at=None)
        self.confirmed = set(
            answers.filter(kind=AnswerKind.CONFIRM).values_list("ticket_id", flat=True)
        )
        self.closes = self._closing_days(sites)

    def _waters(self) -> dict[int, set[str]]:
        """Names of the ponds that a system gives air to."""
        systems = {ticket.system_id for ticket in self.tickets.values() if ticket.system_id}
        names = defaultdict(set)
        lying = Position.objects.lying().filter(system__in=systems, pond__isnull=False)
        for system, name in lying.values_list("system", "pond__name").distinct():
            names[system].add(name)
        return names

    def _closing_days(self, sites) -> dict[int, date]:
        items = DueItem.objects.filter(site__in=sites, closes_on__isnull=False)
        by_key = {(i.place_key, i.task_id, i.occasion): i.closes_on for i in items}
        return {
            ticket.pk: by_key[ticket.place_key, ticket.task_id, ticket.occasion]
            for ticket in self.tickets.values()
            if (ticket.place_key, ticket.task_id, ticket.occasion) in by_key
        }

    def owners(self, stop: dict) -> list[str]:
        contacts = {}
        for pk in stop["tickets"]:
            pond = self.tickets[pk].pond_id if pk in self.tickets else None
            contacts |= {c.pk: str(c) for c in self.receivers.of(stop["site"], pond)}
        return sorted(contacts.values())

    def _ponds(self, ticket: Ticket) -> set[str]:
        return {ticket.pond.name} if ticket.pond else self.waters.get(ticket.system_id, set())

    def words(self, stop: dict) -> dict[str, Any]:
        tickets = [self.tickets[pk] for pk in stop["tickets"] if pk in self.tickets]
        closes = [self.closes[t.pk] for t in tickets if t.pk in self.closes]
        return {
            "uuid": stop["uuid"],
            "site": str(self.sites.get(stop["site"], "")),
            "site_pk": stop["site"],
            "ponds": sorted({name for ticket in tickets for name in self._ponds(ticket)}),
            "tasks": sorted({str(t.task) for t in tickets}),
            "people": max(
                (max(t.task.crew, 2 if t.task.needs_boat else 1) for t in tickets), default=1
            ),
            "confirmed": any(t.pk in self.confirmed for t in tickets),
            "good_until": min(closes).isoformat() if closes else None,
            "owners": self.owners(stop),
        }


def _people(task) -> int:
    return max(task.crew, 2 if task.needs_boat else 1)


def _where(there: tuple[DayRow, dict]) -> dict[str, Any]:
    day, stop = there
    return {"technician": day["technician"], "day": day["day"], "at": stop["arrive_at"]}


def _move(facts: _Facts, uuid: str, was, will) -> dict[str, Any]:
    is_other_day = was is None or was[0]["day"] != will[0]["day"]
    return facts.words(will[1]) | {
        "from": _where(was) if was else None,
        "to": _where(will),
        "is_other_day": is_other_day,
    }


def _gone(facts: _Facts, result: Repaired, was) -> dict[str, Any]:
    because = _because(result, was[1]["site"]) or ""
    return facts.words(was[1]) | {"from": _where(was), "because": because}


def _because(result: Repaired, site: int) -> str | None:
    """Why work of a site has no place; None where all of it has one."""
    return next((why for key, why in result.undone.items() if site_of(key) == site), None)


def _lost_jobs(facts: _Facts, was, will) -> list[dict[str, Any]]:
    """Work that would have been done along, for which its stop has no time any more."""
    lost = []
    for uuid, (day, stop) in was.items():
        if uuid in will and (missing := set(stop["tickets"]) - set(will[uuid][1]["tickets"])):
            words = facts.words(stop | {"tickets": sorted(missing)})
            because = "Was to be done along with other work there, and can wait."
            lost.append(words | {"from": _where((day, stop)), "because": because, "along": True})
    return lost


def _never_placed(facts: _Facts, what, result: Repaired, was, will) -> list[dict[str, Any]]:
    """An emergency that found no place has no row before and none after."""
    known = {stop["site"] for _, stop in [*was.values(), *will.values()]}
    pk = what.facts.get("ticket")
    if pk is None:
        return []
    ticket = Ticket.objects.select_related("task", "site", "pond").get(pk=pk)
    because = _because(result, ticket.site_id)
    if because is None or ticket.site_id in known:
        return []
    facts.tickets[ticket.pk] = ticket
    facts.sites[ticket.site_id] = ticket.site
    stop = {"uuid": "", "site": ticket.site_id, "tickets": [ticket.pk]}
    return [facts.words(stop) | {"from": None, "because": because}]


def _promises(facts: _Facts, result: Repaired, was, will) -> list[int]:
    """Tickets of which a promised time cannot be kept."""
    keys = result.promises_broken | set(result.undone)
    stops = [stop for _, stop in [*was.values(), *will.values()]]
    return sorted(
        {
            pk
            for stop in stops
            if stop["site"] in {site_of(key) for key in keys}
            for pk in stop["tickets"]
            if pk in facts.tickets and facts.tickets[pk].promised_from
        }
    )


def _retimed(facts: _Facts, was, will) -> int:
    """Stops that keep their day and person and come at another time."""
    by_place = defaultdict(int)
    for uuid, there in will.items():
        if _place(was.get(uuid)) == _place(there):
            by_place[was[uuid][1]["arrive_at"] != there[1]["arrive_at"]] += 1
    return by_place[True]
