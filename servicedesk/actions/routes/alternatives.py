"""Nothing is left out in silence: why, and whose day or days would take it after all."""

from dataclasses import replace
from datetime import date, time

from servicedesk.actions.routes.drafts import pks
from servicedesk.kinds import HARM_ORDER
from servicedesk.models import LeftOut, PlanRun, Technician, Ticket
from servicedesk.planning.routing import problem as planning
from servicedesk.planning.routing.insertion import Orders
from servicedesk.planning.routing.meetings import free_meeting
from servicedesk.planning.routing.nearest import best_place, gaps_of
from servicedesk.planning.routing.problem import (
    WEEK,
    Job,
    StopWish,
    WeekPlan,
    WeekProblem,
    crew_of,
)
from servicedesk.planning.routing.reasons import meeting_detour_hm
from servicedesk.planning.routing.timetable import Visit

ALL_OF_THE_DAY = 100  # percent: what a person places by hand may use the room for surprises
MEETINGS = 30  # looked for after one plan, the gravest first; our judgement


def keep_left_out(run: PlanRun, problem: WeekProblem, plan: WeekPlan) -> None:
    """A row for each ticket without a place: its reason, and the best day of the week for it."""
    out_of = {pk: out for out in plan.left_out for pk in pks([out.job], "ticket")}
    still_open = set(Ticket.objects.open().filter(pk__in=out_of).values_list("pk", flat=True))
    found = _Best(replace(problem, full_percent=ALL_OF_THE_DAY), plan, run.monday_on)
    jobs = {pk: found.job(out) for pk, out in out_of.items() if pk in still_open}
    gravest = sorted(jobs, key=lambda pk: (_how_grave(jobs[pk]), pk))
    best = {pk: found.best(out_of[pk], jobs[pk]) for pk in gravest}
    LeftOut.objects.bulk_create(
        LeftOut(plan_run=run, ticket_id=pk, because=out_of[pk].because, **best[pk])
        for pk in sorted(still_open)
    )


def _how_grave(job: Job | None) -> tuple[int, int]:
    return (HARM_ORDER[job.harm], -job.days_late) if job else (len(HARM_ORDER), 0)


class _Best:
    """Whose day of a planned week would take one more piece of work, the first ones asked first.

    Of work for several people only the first MEETINGS are looked for: each takes a while.
    """

    def __init__(self, problem: WeekProblem, plan: WeekPlan, monday: date):
        self.monday = monday
        self.orders = _orders(problem, plan)
        self.gaps = gaps_of(problem, self.orders)
        shifts = tuple(shift for shift in problem.shifts if shift.day < WEEK)
        self.first_week = replace(problem, shifts=shifts)
        self.meetings_left = MEETINGS

    def job(self, out: planning.LeftOut) -> Job | None:
        wish = self.gaps.problem.wish_by_key.get(out.wish)
        return next((job for job in wish.jobs if job.key == out.job), None) if wish else None

    def best(self, out: planning.LeftOut, job: Job | None) -> dict:
        """The fields of a row; none where no day of the week takes it."""
        if job is None or job.first_day >= WEEK:
            return {}
        wish = self.gaps.problem.wish_by_key[out.wish]
        if job.people > 1:
            return self._meeting(wish, job)
        if (found := best_place(self.gaps, Visit(wish, (job,)))) is None:
            return {}
        shift, detour_hm = found
        return self._fields([shift.technician], shift.day, detour_hm)

    def _meeting(self, wish: StopWish, job: Job) -> dict:
        if not self.meetings_left:
            return {}
        self.meetings_left -= 1
        # a stop of its own, whatever else of its site stands in the week
        asked = replace(wish, key=f"{wish.key}+", jobs=(replace(job, waits=False),), pins=())
        found = free_meeting(self.first_week, self.orders, asked)
        if found is None:
            return {}
        pins = found.wish.pins
        at = time(*divmod(pins[0].start_min, 60))
        people = [pin.technician for pin in pins]
        detour_hm = meeting_detour_hm(self.first_week, found)
        numbers = [int(person) for person in people]
        return self._fields(people, found.day, detour_hm) | {"people": numbers, "meet_at": at}

    def _fields(self, people: list[str], day: int, detour_hm: int) -> dict:
        return {
            "day": date.fromordinal(self.monday.toordinal() + day),
            "technician_id": int(people[0]),
            "detour_hm": max(0, detour_hm),
        }


def _orders(problem: WeekProblem, plan: WeekPlan) -> Orders:
    orders = {}
    for route in plan.routes:
        visits = []
        for stop in route.stops:
            wish = problem.wish_by_key[stop.wish]
            jobs = tuple(job for job in wish.jobs if job.key in stop.jobs)
            held = wish.locks or crew_of(jobs) > 1
            visits.append(Visit(wish, jobs, stop.starts_min if held else None))
        orders[route.technician, route.day] = visits
    return orders


def alternative_of(ticket: Ticket, monday: date) -> LeftOut | None:
    """What the last plan of a week found for a ticket that it left out."""
    run = PlanRun.objects.filter(monday_on=monday).order_by("pk").last()
    found = LeftOut.objects.filter(plan_run=run, ticket=ticket, technician__isnull=False)
    return found.select_related("technician__user").first()


def people_of(left: LeftOut) -> list[Technician]:
    """Who would do it: one, or all who would meet; the first does what else is there."""
    if not left.people:
        return [left.technician]
    found = Technician.objects.select_related("user").in_bulk(left.people)
    return [found[pk] for pk in left.people if pk in found]
