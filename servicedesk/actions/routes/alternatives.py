"""Nothing is left out in silence: why, and whose day would take it after all."""

from dataclasses import replace
from datetime import date

from servicedesk.actions.routes.drafts import pks
from servicedesk.models import LeftOut, PlanRun, Ticket
from servicedesk.planning.routing import problem as planning
from servicedesk.planning.routing.insertion import Orders
from servicedesk.planning.routing.nearest import Gaps, best_place, gaps_of
from servicedesk.planning.routing.problem import WEEK, WeekPlan, WeekProblem, crew_of
from servicedesk.planning.routing.timetable import Visit

ALL_OF_THE_DAY = 100  # percent: what a person places by hand may use the room for surprises


def keep_left_out(run: PlanRun, problem: WeekProblem, plan: WeekPlan) -> None:
    """A row for each ticket without a place: its reason, and the best day of the week for it."""
    out_of = {pk: out for out in plan.left_out for pk in pks([out.job], "ticket")}
    still_open = set(Ticket.objects.open().filter(pk__in=out_of).values_list("pk", flat=True))
    roomy = replace(problem, full_percent=ALL_OF_THE_DAY)
    gaps = gaps_of(roomy, _orders(roomy, plan))
    LeftOut.objects.bulk_create(
        LeftOut(
            plan_run=run,
            ticket_id=pk,
            because=out_of[pk].because,
            **_best(gaps, out_of[pk], run.monday_on),
        )
        for pk in sorted(still_open)
    )


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


def _best(gaps: Gaps, out: planning.LeftOut, monday: date) -> dict:
    wish = gaps.problem.wish_by_key.get(out.wish)
    job = next((job for job in wish.jobs if job.key == out.job), None) if wish else None
    if job is None or job.people > 1 or job.first_day >= WEEK:
        return {}
    found = best_place(gaps, Visit(wish, (job,)))
    if found is None:
        return {}
    shift, detour_hm = found
    day = date.fromordinal(monday.toordinal() + shift.day)
    return {"day": day, "technician_id": int(shift.technician), "detour_hm": max(0, detour_hm)}


def alternative_of(ticket: Ticket, monday: date) -> LeftOut | None:
    """What the last plan of a week found for a ticket that it left out."""
    run = PlanRun.objects.filter(monday_on=monday).order_by("pk").last()
    found = LeftOut.objects.filter(plan_run=run, ticket=ticket, technician__isnull=False)
    return found.select_related("technician__user").first()
