"""One side of a comparison, played in a process of its own."""

import os
import time

from django.core.management.base import BaseCommand, CommandError

from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.whatif import runs
from servicedesk.actions.whatif.reading import world_of
from servicedesk.planning.whatif.settings import Settings
from servicedesk.planning.whatif.year import simulate

REPORT_S = 0.7


class Command(BaseCommand):
    help = "Plays one setting of a comparison. Started by the jobs; not meant to be typed."

    def add_arguments(self, parser):
        parser.add_argument("what_if", type=int)
        parser.add_argument("--side", choices=["a", "b"], required=True)
        parser.add_argument("--parent", type=int, help="ends when this process is gone")

    def handle(self, *, what_if, side, parent, **options):
        side = runs.take_side(what_if, side)
        if side is None:
            raise CommandError(
                f"Comparison {what_if} has no such side that waits for a process.", returncode=2
            )
        asked, watch = side.what_if, Watch(side, parent)
        try:
            world = world_of(now=asked.asked_at, weeks=asked.weeks, on_progress=watch.reads)
            months = simulate(
                world,
                Settings.from_data(side.changes),
                weeks=asked.weeks,
                iterations=asked.iterations,
                seed=asked.seed,
                on_progress=watch.note,
                on_pulse=watch.pulse,
                cancelled=watch.is_over,
            )
        except (RouteRefused, ValueError) as refused:
            runs.fail_side(side, str(refused))
            raise CommandError(str(refused), returncode=2) from None
        except Exception as error:
            runs.fail_side(side, f"{type(error).__name__}: {error}")
            raise
        runs.finish_side(side, months)


class Watch:
    """Keeps what there is so far about once a second, and learns then whether to go on."""

    def __init__(self, side, parent):
        self.side, self.parent = side, parent
        self.next_at, self.over = {}, False

    def reads(self, done, of):
        self._report("reading", read_percent=100 * done // of)

    def note(self, months):
        self._report("a week", months=months)

    def pulse(self):
        self._report("life")

    def _report(self, what, **fields):
        orphaned = self.parent is not None and os.getppid() != self.parent
        if orphaned:
            self.over = True
        elif time.monotonic() >= self.next_at.get(what, 0):
            self.next_at[what] = time.monotonic() + REPORT_S
            self.over = self.over or not runs.go_on(self.side, **fields)

    def is_over(self):
        return self.over
