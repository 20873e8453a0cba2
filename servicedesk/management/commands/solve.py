"""One solve of a plan run, worked in a process of its own."""

import os
import time

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from servicedesk.actions.routes import measure, plans
from servicedesk.planning.routing.solver import plan_week

REPORT_S = 0.7


class Command(BaseCommand):
    help = "Works one seed of a plan run. Started by the jobs; not meant to be typed."

    def add_arguments(self, parser):
        parser.add_argument("plan_run", type=int)
        parser.add_argument("--seed", type=int, required=True)
        parser.add_argument("--parent", type=int, help="ends when this process is gone")

    def handle(self, *, plan_run, seed, parent, **options):
        solve = plans.take_solve(plan_run, seed)
        if solve is None:
            raise CommandError(
                f"Plan run {plan_run} has no seed {seed} that waits for a process.", returncode=2
            )
        problem = measure.measured(
            solve.plan_run, clock=timezone.now, go_on=lambda: plans.go_on(solve, 0)
        )
        watch = Watch(solve, parent)
        try:
            plan = plan_week(
                problem,
                iterations=solve.plan_run.iterations,
                seed=seed,
                cap_seconds=solve.plan_run.cap_s,
                on_progress=watch.note,
                cancelled=watch.is_over,
            )
        except Exception as error:
            plans.fail_solve(solve, f"{type(error).__name__}: {error}")
            raise
        plans.finish_solve(solve, problem, plan)


class Watch:
    """Writes progress about once a second, and learns then whether to go on."""

    def __init__(self, solve, parent):
        self.solve, self.parent = solve, parent
        self.next_at, self.over = 0.0, False

    def note(self, done, of):
        if time.monotonic() < self.next_at:
            return
        self.next_at = time.monotonic() + REPORT_S
        orphaned = self.parent is not None and os.getppid() != self.parent
        self.over = orphaned or not plans.go_on(self.solve, done)

    def is_over(self):
        return self.over
