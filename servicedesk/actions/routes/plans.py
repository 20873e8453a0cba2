"""Planning a week in the background: ask, hold under a lease, collect, give up.

A run has one solve for each seed; each is worked by one child process. Leases are compared with
the database's own time, so that no two machines have to agree on theirs.
"""

import uuid
from collections.abc import Callable
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import DateTimeField, ExpressionWrapper, F, Q
from django.db.models.functions import Now

from customers.models import Firm, User
from servicedesk.actions.routes.alternatives import keep_left_out
from servicedesk.actions.routes.drafts import save_routes, whole_meetings
from servicedesk.actions.routes.horizon import problem_ahead
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import read_week
from servicedesk.kinds import PlanState, RoadState
from servicedesk.models import PlanRun, Solve
from servicedesk.planning.calendar import said_week, week_name
from servicedesk.planning.routing.cost import iterations_for, plan_cost_cents
from servicedesk.planning.routing.frozen import plan_data, plan_from, problem_data, problem_from
from servicedesk.planning.routing.problem import WeekPlan, WeekProblem
from servicedesk.wakeups import wake

START = "servicedesk.tasks.start_plans"
COLLECT = "servicedesk.tasks.collect_plans"
UNDER_WAY = [PlanState.QUEUED, PlanState.RUNNING]
SEEDS = (1, 2)  # two processes on two cores; the better plan is taken
CAP_S = 120  # for a slow machine or a very large firm; such a plan says that it was capped
START_S = 60  # a child that has not taken its solve by then is given up
LEASE_S = 20


def running_plan(monday: date) -> PlanRun | None:
    """The planning of a week that is under way."""
    return PlanRun.objects.filter(monday_on=monday, state__in=UNDER_WAY).order_by("pk").last()


@transaction.atomic
def ask_for_plan(
    monday: date,
    *,
    by: User | None,
    today: date,
    now: datetime,
    iterations: int | None = None,
    cap_s: int | None = CAP_S,
    seeds: tuple[int, ...] = SEEDS,
    publish_when_done: bool = False,
) -> PlanRun:
    """Freeze the problem of a week and have it planned; refused while it is being planned.

    Without a number of iterations the size of the week decides.
    """
    Firm.objects.select_for_update().first()  # one change of a week at a time
    week = read_week(monday, today=today)
    if week.sunday < today:
        raise RouteRefused(f"{said_week(monday)} is over. Choose a week that has days left.")
    if running_plan(monday):
        raise RouteRefused(f"{said_week(monday)} is being planned already. Wait, or stop it first.")
    problem = problem_ahead(week)
    run = PlanRun.objects.create(
        week=week_name(monday),
        monday_on=monday,
        problem=problem_data(problem),
        iterations=iterations or iterations_for(len(problem.wishes)),
        cap_s=cap_s,
        asked_at=now,
        asked_by=by,
        publish_when_done=publish_when_done,
        roads=RoadState.WANTED if settings.ROADS_URL else RoadState.KNOWN,
    )
    Solve.objects.bulk_create(Solve(plan_run=run, seed=seed) for seed in seeds)
    wake(START)
    return run


def start_plans(*, launch: Callable[[Solve], None]) -> int:
    """Launch a child process for each solve that waits for one; how many."""
    count = 0
    for solve in Solve.objects.filter(state=PlanState.QUEUED).order_by("pk"):
        claimed = Solve.objects.filter(pk=solve.pk, state=PlanState.QUEUED).update(
            state=PlanState.RUNNING, lease_until=_in_seconds(START_S)
        )
        if claimed:
            PlanRun.objects.filter(pk=solve.plan_run_id, state=PlanState.QUEUED).update(
                state=PlanState.RUNNING
            )
            launch(solve)
            count += 1
    return count


def take_solve(run_pk: int, seed: int) -> Solve | None:
    """Take a solve for this process; None if another has it or it is over."""
    owner = uuid.uuid4()
    mine = Solve.objects.filter(plan_run=run_pk, seed=seed, state__in=UNDER_WAY).filter(
        Q(lease_by=None) | Q(lease_until__lt=Now())
    )
    taken = mine.update(state=PlanState.RUNNING, lease_by=owner, lease_until=_in_seconds(LEASE_S))
    if not taken:
        return None
    return Solve.objects.select_related("plan_run").get(plan_run=run_pk, seed=seed)


def go_on(solve: Solve, done_iterations: int) -> bool:
    """Write progress and keep the lease; False if it was lost or somebody asked to stop."""
    mine = Solve.objects.filter(pk=solve.pk, lease_by=solve.lease_by, state=PlanState.RUNNING)
    kept = mine.update(done_iterations=done_iterations, lease_until=_in_seconds(LEASE_S))
    stop_asked = PlanRun.objects.filter(pk=solve.plan_run_id, cancel_asked_at__isnull=False)
    return bool(kept) and not stop_asked.exists()


def finish_solve(solve: Solve, problem: WeekProblem, plan: WeekPlan) -> bool:
    """Hand in the plan of a solve, if this process still holds it; wakes the collector."""
    mine = Solve.objects.filter(pk=solve.pk, lease_by=solve.lease_by, state=PlanState.RUNNING)
    with transaction.atomic():
        handed_in = mine.update(
            state=PlanState.CANCELLED if plan.cancelled else PlanState.DONE,
            done_iterations=plan.iterations,
            best_cost=plan_cost_cents(problem, plan),
            capped=plan.capped,
            result=plan_data(plan),
            lease_until=None,
        )
        wake(COLLECT)
    return bool(handed_in)


def fail_solve(solve: Solve, because: str) -> None:
    """Say why a solve gave no plan."""
    mine = Solve.objects.filter(pk=solve.pk, lease_by=solve.lease_by, state=PlanState.RUNNING)
    mine.update(state=PlanState.FAILED, says=because[:250], lease_until=None)


@transaction.atomic
def cancel_plan(run: PlanRun, *, now: datetime) -> None:
    """Ask a run to stop; the best plan so far is kept, if there is one."""
    PlanRun.objects.filter(pk=run.pk, state__in=UNDER_WAY, cancel_asked_at=None).update(
        cancel_asked_at=now
    )
    run.solves.filter(state=PlanState.QUEUED).update(state=PlanState.CANCELLED)
    if not run.solves.filter(state__in=UNDER_WAY).exists():
        _end_run(run.pk, now)  # no child will ever report
    wake(COLLECT)


def collect_plans(*, clock: Callable[[], datetime]) -> int:
    """End the runs whose solves are over, dead ones among them; how many runs ended."""
    Solve.objects.filter(state=PlanState.RUNNING, lease_until__lt=Now()).update(
        state=PlanState.FAILED, says="The program ended before there was a plan.", lease_until=None
    )
    over = PlanRun.objects.filter(state__in=UNDER_WAY).exclude(solves__state__in=UNDER_WAY)
    return sum(_end_run(pk, clock()) for pk in over.values_list("pk", flat=True))


@transaction.atomic
def _end_run(run_pk: int, now: datetime) -> bool:
    Firm.objects.select_for_update().first()
    run = PlanRun.objects.select_for_update().filter(pk=run_pk, state__in=UNDER_WAY).first()
    if run is None:
        return False  # another collector was quicker
    best = (
        run.solves.exclude(result=None)
        .order_by(F("best_cost").asc(nulls_last=True), "seed")
        .first()
    )
    run.ended_at = now
    if best is None:
        run.state = PlanState.CANCELLED if run.cancel_asked_at else PlanState.FAILED
        says = run.solves.exclude(says="").values_list("says", flat=True).first()
        run.says = (
            "Stopped before there was a plan."
            if run.cancel_asked_at
            else (f"No plan came of it. {says} Plan again.")[:250]
        )
        run.save()
        return True
    run.state = PlanState.CANCELLED if run.cancel_asked_at else PlanState.DONE
    run.says = _said(run, best)
    run.save()
    try:
        with transaction.atomic():
            _keep(run, best, now)
    except RouteRefused as refused:
        run.says = f"{run.says} {refused}"[:250]
        run.save()
    return True


def _said(run: PlanRun, best: Solve) -> str:
    """How it went, in the manager's words; the figures of the search stand beside its rows."""
    found = run.solves.exclude(result=None).count()
    words = ["Planned twice over; the better plan is kept." if found > 1 else "Planned."]
    if run.cancel_asked_at:
        words = ["Stopped by hand; the best plan found until then is kept."]
    elif best.capped:
        words.append("The time allowed ran out: planning again may give another plan.")
    elif best.done_iterations < run.iterations:
        words.append("The program was stopped before the search was over.")
    failed = run.solves.filter(state=PlanState.FAILED).count()
    if failed:
        tries = "One try" if failed == 1 else f"{failed} tries"
        words.append(f"{tries} ended without a plan.")
    return " ".join([*words, run.roads_say]).strip()[:250]


def _keep(run: PlanRun, best: Solve, now: datetime) -> None:
    """The plan becomes draft routes, its left-out tickets rows with their reasons."""
    plan = plan_from(best.result)
    problem = problem_from(run.problem)
    today = now.astimezone(read_week(run.monday_on, today=run.monday_on).zone).date()
    week = read_week(run.monday_on, today=today)
    days = {(shift.technician, shift.day) for shift in problem.shifts}
    days |= {(str(route.technician_id), week.number(route.day)) for route in week.drafts}
    days -= {(str(technician), week.number(day)) for technician, day in week.published}
    routes = [route for route in plan.routes if (route.technician, route.day) in days]
    routes = [route for route in whole_meetings(problem, routes) if route.stops]
    save_routes(week, problem, routes, days=days, run=run)
    keep_left_out(run, problem, plan)
    if run.publish_when_done:
        publish_week(run.monday_on, by=run.asked_by, today=today, now=now)


def _in_seconds(seconds: int):
    return ExpressionWrapper(Now() + timedelta(seconds=seconds), output_field=DateTimeField())
