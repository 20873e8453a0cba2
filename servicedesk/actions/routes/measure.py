"""The drives of a week that is planned, asked of the routing service before the search begins.

Two processes plan one run; one of them asks, the other waits for it, and both search the same
problem. Whoever waits too long goes on with what is known.
"""

import time
from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from customers.models import Firm
from servicedesk.actions import roads
from servicedesk.actions.routes.horizon import problem_ahead
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.week import read_week
from servicedesk.kinds import RoadState
from servicedesk.models import PlanRun
from servicedesk.planning.routing.frozen import problem_from
from servicedesk.planning.routing.problem import WeekProblem

WAIT_S = roads.BUDGET_S + 15
LOOK_S = 0.2


def measured(
    run: PlanRun,
    *,
    clock: Callable[[], datetime],
    go_on: Callable[[], bool],
    wait_s: float = WAIT_S,
) -> WeekProblem:
    """The problem of a run with all drives that can be known; `go_on` keeps the lease."""
    mine = PlanRun.objects.filter(pk=run.pk)
    if mine.filter(roads=RoadState.WANTED).update(roads=RoadState.ASKING):
        _ask(run, clock, go_on)
    end = time.monotonic() + wait_s
    while mine.filter(roads=RoadState.ASKING).exists():
        if time.monotonic() >= end or not go_on():
            mine.filter(roads=RoadState.ASKING).update(roads=RoadState.KNOWN)
        else:
            time.sleep(LOOK_S)
    run.refresh_from_db(fields=["problem", "roads", "roads_say"])
    return problem_from(run.problem)


def measure_ahead(*, clock: Callable[[], datetime]) -> int:
    """Ask in good time for the drives of this week and the next; how many are known then."""
    if not settings.ROADS_URL:
        return 0
    roads.forget_old(now=clock())
    firm = Firm.objects.first()
    today = clock().astimezone(ZoneInfo(firm.time_zone if firm else "UTC")).date()
    monday = today - timedelta(days=today.weekday())
    known = 0
    for week in (monday, monday + timedelta(weeks=1)):
        try:
            places = problem_ahead(read_week(week, today=today)).places
        except RouteRefused:
            return known  # the firm is not set up yet
        asked = roads.ask(places, clock=clock, budget_s=roads.BUDGET_S / 2)
        known += asked.drives - asked.guessed
    return known


def _ask(run: PlanRun, clock: Callable[[], datetime], go_on: Callable[[], bool]) -> None:
    """Nobody writes into a run whose other process has gone on already."""
    problem = problem_from(run.problem)
    asked = roads.ask(problem.places, clock=clock, go_on=go_on)
    PlanRun.objects.filter(pk=run.pk, roads=RoadState.ASKING).update(
        problem=run.problem | {"roads": roads.known_table(problem.places)},
        roads=RoadState.KNOWN,
        roads_say=asked.says[:160],
    )
