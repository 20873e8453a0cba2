"""Taking a proposed repair, and taking it back."""

from datetime import date, datetime, timedelta

from django.db import transaction

from customers.models import Firm, Site, Trail, User
from servicedesk.actions.reminders.queue import queue_proposals_of
from servicedesk.actions.routes.plans import running_plan
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs import what as whats
from servicedesk.actions.routes.repairs.propose import standing_days
from servicedesk.actions.routes.repairs.rows import DayRow, at, fingerprint, write_days
from servicedesk.actions.routes.told import ToldDay, news_of
from servicedesk.kinds import OfficeTaskKind
from servicedesk.models import OfficeTask, Reminder, Repair, Route, Stop, Ticket

KEEPS = timedelta(minutes=20)  # people have driven on since; our judgement
REPAIRED = "repaired a published day"


@transaction.atomic
def accept(repair: Repair, *, by: User | None, today: date, now: datetime) -> Repair:
    """Make a proposal true: the days, the absence or the closed road, and what owners are told."""
    Firm.objects.select_for_update().first()
    repair = Repair.objects.select_for_update().get(pk=repair.pk)
    refuse_stale(repair, today, now)
    after, before = repair.proposal["after"], _before(repair, today)
    write_days(after)
    repair.absence, repair.hold = whats.written_down(whats.what_of(repair), by)
    promises = _forget_promises(repair.proposal["promises_broken"])
    repair.before = {"days": before, "promises": promises}
    repair.accepted_at, repair.accepted_by = now, by
    repair.save()
    _keep_trail(before, by, now)
    _leave_news(before)
    if repair.proposal["is_published"]:
        _tell(repair, now)
    return repair


def refuse_stale(repair: Repair, today: date, now: datetime) -> None:
    if repair.accepted_at:
        raise RouteRefused("This change was made already. Load the week again.")
    if running_plan(repair.monday_on):
        raise RouteRefused("The week is being planned. Wait for it or stop it, then try again.")
    if repair.day < today:
        raise RouteRefused("That day is over. Say again what happened, if it still matters.")
    if now - repair.proposed_at > KEEPS and repair.proposed_at.date() != now.date():
        raise RouteRefused("This proposal is of another day. Work it out again.")
    if fingerprint(standing_days(repair.monday_on, today)) != repair.stands:
        raise RouteRefused(
            "The days have changed since this was worked out, or work was done. Work it out again."
        )
    if _is_about_today(repair, today) and now - repair.proposed_at > KEEPS:
        raise RouteRefused("People have driven on since this was worked out. Work it out again.")


def _is_about_today(repair: Repair, today: date) -> bool:
    return any(row["day"] == today.isoformat() for row in repair.proposal["after"])


def _before(repair: Repair, today: date) -> list[DayRow]:
    """The days that change as they are now; those that are new are empty before."""
    now = {(d["technician"], d["day"]): d for d in standing_days(repair.monday_on, today)}
    keys = [(row["technician"], row["day"]) for row in repair.proposal["after"]]
    return [now.get(key) or _empty(*key) for key in keys]


def _empty(technician: int, day: str) -> DayRow:
    return {"technician": technician, "day": day, "stops": []}


def _forget_promises(tickets: list[int]) -> dict[str, list[str]]:
    """A promised time that cannot be kept is no promise any more; the owner is phoned."""
    kept = {}
    for ticket in Ticket.objects.filter(pk__in=tickets):
        kept[str(ticket.pk)] = [
            ticket.promised_from.isoformat(),
            ticket.promised_until.isoformat(),
        ]
    Ticket.objects.filter(pk__in=tickets).update(promised_from=None, promised_until=None)
    return kept


def _keep_trail(days: list[DayRow], by: User | None, now: datetime) -> None:
    Trail.objects.bulk_create(
        Trail(
            at=now,
            by=by,
            did=REPAIRED,
            about=f"technician:{row['technician']}",
            before={
                "day": row["day"],
                "published_at": row["published_at"],
                "stops": [
                    {name: stop[name] for name in ("uuid", "site", "arrive_at", "leave_at")}
                    for stop in row["stops"]
                ],
            },
        )
        for row in days
        if row.get("published_at")
    )


def _leave_news(before: list[DayRow]) -> None:
    """What changed on published days, for the technicians who know them as they were.

    What one has not looked at yet he does not know: his old news and these are one.
    """
    known = {(d["technician"], d["day"]): d for d in before if d["stops"] and d["published_at"]}
    people = {technician for technician, _day in known}
    routes = Route.objects.filter(
        technician__in=people, day__in={day for _, day in known}, published_at__isnull=False
    )
    found = []
    for route in routes.prefetch_related("stops"):
        if row := known.get((route.technician_id, route.day.isoformat())):
            unread = route.news or {"new": [], "gone": [], "since": row["published_at"]}
            sites = {stop["site"] for stop in row["stops"]} - set(unread["new"])
            told = tuple({"site": pk} for pk in sites | set(unread["gone"]))
            told = ToldDay(route.technician_id, route.day, at(unread["since"]), told)
            route.news = news_of(told, route.stops.all())
            found.append(route)
    Route.objects.bulk_update(found, ["news"])


def _tell(repair: Repair, now: datetime) -> None:
    """A mail for owners whose day changed; the phone where there is no new day, or a promise."""
    moved = [move["uuid"] for move in repair.proposal["moves"] if move["is_other_day"]]
    queue_proposals_of(Stop.objects.filter(uuid__in=moved), now=now)
    for number, row in enumerate(repair.proposal["undone"]):
        if row["from"] and not row.get("along"):
            text = (
                f"We do not come to {row['site']} on {row['from']['day']}, and there is no other "
                "day yet. Phone the owner."
            )
            _phone(repair, f"undone:{number}", row["site_pk"], text, now)
    broken = Ticket.objects.filter(pk__in=repair.proposal["promises_broken"])
    for ticket in broken.select_related("site"):
        text = f"The time promised for {ticket.site} cannot be kept. Phone the owner."
        _phone(repair, f"promise:{ticket.pk}", ticket.site_id, text, now)


def _phone(repair: Repair, word: str, site: int, text: str, now: datetime) -> None:
    OfficeTask.objects.get_or_create(
        key=f"repair:{repair.pk}:{word}",
        defaults={
            "kind": OfficeTaskKind.PHONE_OWNER,
            "text": text,
            "site": Site.objects.filter(pk=site).first(),
            "opened_at": now,
        },
    )


@transaction.atomic
def undo(repair: Repair, *, by: User | None, today: date, now: datetime) -> Repair:
    """Put the days back as they were: he turned up after all, the road is open."""
    Firm.objects.select_for_update().first()
    repair = Repair.objects.select_for_update().get(pk=repair.pk)
    _refuse_undo(repair, today)
    before, after = repair.before["days"], repair.proposal["after"]
    days = [row if row["stops"] else {**_empty(row["technician"], row["day"])} for row in before]
    write_days(days)
    for pk, (begins, ends) in repair.before["promises"].items():
        Ticket.objects.filter(pk=pk).update(promised_from=at(begins), promised_until=at(ends))
    absence = repair.absence
    repair.absence, repair.undone_at, repair.undone_by = None, now, by
    repair.save()
    if absence:
        absence.delete()
    if repair.hold:
        repair.hold.lifted_at = now
        repair.hold.save(update_fields=["lifted_at"])
    _keep_trail(after, by, now)
    _leave_news(after)
    _tell_again(repair, now)
    return repair


def _refuse_undo(repair: Repair, today: date) -> None:
    if repair.accepted_at is None or repair.undone_at:
        raise RouteRefused("There is nothing to take back. Load the week again.")
    if min(row["day"] for row in repair.before["days"]) < today.isoformat():
        raise RouteRefused("A day of this change is over. Make another change instead.")
    touched = {(row["technician"], row["day"]) for row in repair.proposal["after"]}
    now = standing_days(repair.monday_on, today)
    same = [row for row in now if (row["technician"], row["day"]) in touched]
    planned = [row for row in repair.proposal["after"] if row["stops"]]
    if _stood(same) != _stood(planned):
        raise RouteRefused(
            "The days were changed again since, or their work has begun. Make another change "
            "instead."
        )
    if Ticket.objects.filter(
        stops__uuid__in=[s["uuid"] for row in planned for s in row["stops"]],
        closed_at__gt=repair.accepted_at,
    ).exists():
        raise RouteRefused("Work of these days is done meanwhile. Make another change instead.")


def _stood(days: list[DayRow]) -> list:
    """What of some days a change by hand would show in."""
    return sorted(
        (row["technician"], row["day"], stop["uuid"], stop["number"], tuple(stop["tickets"]))
        for row in days
        for stop in row["stops"]
    )


def _tell_again(repair: Repair, now: datetime) -> None:
    """Lines that did not go yet are dropped; whoever was told hears that the old day stands."""
    moved = [move["uuid"] for move in repair.proposal["moves"] if move["is_other_day"]]
    tickets = Ticket.objects.filter(stops__uuid__in=moved)
    lines = Reminder.objects.filter(ticket__in=tickets, owed_at=repair.accepted_at)
    lines = lines.filter(message=None, dropped_at=None)
    quiet = set(lines.values_list("ticket_id", flat=True))
    lines.update(dropped_at=now, dropped_because="The visit stays on its day.")
    OfficeTask.objects.filter(key__startswith=f"repair:{repair.pk}:", handled_at=None).update(
        handled_at=now, handled_note="The change was taken back."
    )
    if repair.proposal["is_published"]:
        told = Stop.objects.filter(uuid__in=moved).exclude(tickets__in=quiet)
        queue_proposals_of(told.distinct(), now=now)
