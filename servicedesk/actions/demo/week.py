"""What stands before the firm today: due days, tickets, published days, answers and mails."""

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from random import Random

from customers.models import Contact, Site
from equipment.models import StateChange
from servicedesk.actions import due, reminders, tickets
from servicedesk.actions.demo.boats import order_boat_jobs
from servicedesk.actions.demo.people import Crew
from servicedesk.actions.demo.systems import Built, at
from servicedesk.actions.routes.drafts import save_routes
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.week import read_week
from servicedesk.actions.routes.wishes import problem_to_plan
from servicedesk.kinds import AnswerKind, OfficeTaskKind
from servicedesk.models import OfficeTask, Override, OwnerAnswer, Route, Task, Ticket, Visit
from servicedesk.planning.routing.solver import plan_week

ITERATIONS = 100  # enough for a day; the coming week is for the manager to plan
STOPS_A_DAY = 4
JOBS_AT_A_STOP = 11  # larger sites wait for the coming week
LEFT_FOR_THE_WEEK = ["S-0001", "S-0002", "S-0003", "S-0004", "S-0005"]  # told by name
OFF_BY_AGREEMENT = ["winter_watch", "membrane_cleaning"]


def agree_tasks(crew: Crew, *, today: date) -> None:
    """What this firm leaves out: its owners look at their signs themselves, by agreement."""
    from_on = today - timedelta(days=800)
    Override.objects.bulk_create(
        Override(
            task=task,
            field="active",
            value=0,
            from_on=from_on,
            by=crew.manager,
            reason="Owners look themselves, agreed with each; plates are cleaned when they drift.",
            entered_at=at(from_on, 9),
        )
        for task in Task.objects.filter(slug__in=OFF_BY_AGREEMENT)
    )


def eve_of(today: date) -> datetime:
    """The afternoon of the working day before: then the days were published and mails went out."""
    days = (today - timedelta(days=n) for n in range(1, 4))
    return at(next(day for day in days if day.weekday() < 5), 15)


def open_tickets(*, today: date, now: datetime, progress: Callable[[int, int], None]) -> None:
    due.refresh_all(now=now, progress=progress)
    tickets.open_due_tickets(clock=lambda: now)
    Ticket.objects.open().update(opened_at=eve_of(today))


def publish_days(crew: Crew, *, today: date) -> list[date]:
    """Publish today, where it is a working day, and the working day after it."""
    days = [day for day in (today + timedelta(days=n) for n in range(5)) if day.weekday() < 5][:2]
    if today.weekday() >= 5:
        days = days[:1]
    for monday in sorted({day - timedelta(days=day.weekday()) for day in days}):
        week = read_week(monday, today=today)
        problem = problem_to_plan(week)
        wanted = {week.number(day) for day in days if day in _days_of(monday)}
        shifts = [shift for shift in problem.shifts if shift.day in wanted]
        for shift, wishes in _days(problem, shifts):
            part = replace(problem, shifts=(shift,), wishes=tuple(wishes))
            plan = plan_week(part, iterations=ITERATIONS, seed=1)
            save_routes(week, part, plan.routes, days=[])
        if read_week(monday, today=today).drafts:  # the smallest demo has not enough for two days
            publish_week(monday, by=crew.manager, today=today, now=eve_of(today))
    return sorted(set(Route.objects.values_list("day", flat=True)))


def _days_of(monday):
    return {monday + timedelta(days=n) for n in range(7)}


def _days(problem, shifts):
    """Each technician's days, with stops in his strip of land, a filter change among them.

    The sites of the stories, the large ones and all the rest are left to the manager, who plans
    the coming week.
    """
    filters = {
        f"ticket:{pk}"
        for pk in Ticket.objects.open()
        .filter(task__slug="filter_change")
        .values_list("pk", flat=True)
    }
    told = set(Site.objects.filter(key__in=LEFT_FOR_THE_WEEK).values_list("pk", flat=True))
    waited = sorted(
        (w for w in problem.wishes if _is_small(w) and int(w.key.split(":")[1]) not in told),
        key=lambda wish: (-max(job.days_late for job in wish.jobs), wish.key),
    )
    change = [wish for wish in waited if filters & {job.key for job in wish.jobs}]
    other = [wish for wish in waited if wish not in change]
    wanted = [change[: len(shifts)], other[: (STOPS_A_DAY - 1) * len(shifts)]]
    people = sorted({shift.technician for shift in shifts})
    for number, technician in enumerate(people):
        own = [shift for shift in shifts if shift.technician == technician]
        strips = [_strip(problem, some, number, len(people)) for some in wanted]
        for turn, shift in enumerate(own):
            yield shift, [wish for strip in strips for wish in strip[turn :: len(own)]]


def _is_small(wish):
    return len(wish.jobs) <= JOBS_AT_A_STOP and all(job.people == 1 for job in wish.jobs)


def _strip(problem, wishes, number, of):
    """One of several strips of land from west to east."""
    lined_up = sorted(wishes, key=lambda wish: problem.places[wish.place].longitude)
    return lined_up[number * len(lined_up) // of : (number + 1) * len(lined_up) // of]


def send_mails(*, today: date) -> None:
    """Reports of the last visits, and what owners are told of the days to come; into files."""
    eve = eve_of(today)
    for visit in Visit.objects.filter(left_at__gt=eve - timedelta(days=2), left_at__lt=eve):
        reminders.queue_visit_report(visit, now=eve)
    reminders.queue_reminders(clock=lambda: eve)
    reminders.send_queued_messages(clock=lambda: eve)


def tell_stories(
    draw: Random, built: list[Built], crew: Crew, *, today: date, now: datetime
) -> None:
    """The dead compressor's follow-up, two boat jobs, and what owners answered since yesterday."""
    dead = next(one for one in built if one.cabinet.story == "failed")
    stop = StateChange.objects.filter(system=dead.system).order_by("at").last()
    tickets.follow_up_stop(dead.system, stop, now=now)
    order_boat_jobs(built, named=LEFT_FOR_THE_WEEK, today=today, now=now)
    OfficeTask.objects.create(
        kind=OfficeTaskKind.PHONE_OWNER,
        text="Asked for a second key to the lower gate. Ring him back.",
        site=built[1].place.site,
        opened_at=now - timedelta(hours=16),
        due_on=today,
    )
    _answers(draw, now)


SAID = [
    (AnswerKind.CONFIRM, {}),
    (AnswerKind.ANOTHER_DAY, {"note": "Thursday afternoon suits us better, the gate is locked."}),
    (AnswerKind.PROBLEM, {"sign": "weak boil", "note": "One of the three rings is much weaker."}),
]


def _answers(draw, now):
    """Three owners have answered, and nobody has handled it yet."""
    planned = Ticket.objects.open().filter(stops__isnull=False, system__isnull=False)
    first_at_site = {}
    for ticket in planned.select_related("site").order_by("site_id", "pk").distinct():
        first_at_site.setdefault(ticket.site_id, ticket)
    for (kind, said), ticket in zip(SAID, first_at_site.values(), strict=False):
        contact = Contact.objects.filter(
            customer__ownerships__site=ticket.site, customer__ownerships__to_on=None
        ).first()
        OwnerAnswer.objects.create(
            uuid=uuid.UUID(int=draw.getrandbits(128), version=4),
            contact=contact,
            kind=kind,
            ticket=ticket,
            said=said,
            urgent=kind == AnswerKind.PROBLEM,
            recorded_at=now - timedelta(hours=draw.randrange(9, 15)),
        )
