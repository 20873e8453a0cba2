"""Compares two settings of the firm over a simulated year, from the command line."""

import time
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from servicedesk.actions.routes import children
from servicedesk.actions.whatif import children as players
from servicedesk.actions.whatif import runs
from servicedesk.kinds import PlanState
from servicedesk.models import Task, Technician, WhatIf
from servicedesk.planning.whatif.months import Rates
from servicedesk.planning.whatif.settings import Settings, interval_from
from servicedesk.planning.whatif.year import ITERATIONS, MOST_WEEKS, WEEKS
from servicedesk.tables.whatif import assumptions, changes_in_words, csv_of, progress_of, sheet_of

LOOK_S = 0.5


class Command(BaseCommand):
    help = (
        "Plays the coming year of the firm twice, as today and with the changes given, and prints "
        "ways, hours, late tasks, visits, parts and cost month by month. Nothing real is changed."
    )

    def add_arguments(self, parser):
        parser.add_argument("--technicians", type=int, default=0, help="such as -1 or +2")
        parser.add_argument("--interval", action="append", default=[], metavar="TASK=150d")
        parser.add_argument("--factor", type=float, default=1.0, help="all intervals times this")
        parser.add_argument("--ponds", type=int, default=0, help="such as +60")
        parser.add_argument("--shop", metavar="LAT,LON", help="such as 45.1,-93.2")
        parser.add_argument("--full", type=int, help="percent of a day that is filled")
        parser.add_argument("--weeks", type=int, default=WEEKS)
        parser.add_argument("--iterations", type=int, default=ITERATIONS)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--per-km", type=float, default=Rates().per_km)
        parser.add_argument("--per-hour", type=float, default=Rates().per_hour)
        parser.add_argument("--csv", metavar="FILE", help="write the months there as well")

    def handle(self, **options):
        if not 1 <= options["weeks"] <= MOST_WEEKS:
            raise CommandError(f"--weeks lies between 1 and {MOST_WEEKS}.", returncode=2)
        if options["iterations"] < 1 or options["seed"] < 0:
            raise CommandError("--iterations start at 1, and --seed at 0.", returncode=2)
        try:
            changes = settings_of(options)
        except ValueError as error:
            raise CommandError(str(error), returncode=2) from None
        people = {str(row.pk): str(row) for row in Technician.objects.select_related("user")}
        words = changes_in_words(changes, people, dict(Task.objects.values_list("slug", "name")))
        asked = runs.ask_what_if(
            ("; ".join(words) or "As today")[:120],
            Settings(),
            changes,
            by=None,
            now=timezone.now(),
            words=([], words),
            weeks=options["weeks"],
            iterations=options["iterations"],
            seed=options["seed"],
            rates=Rates(options["per_km"], options["per_hour"]),
        )
        self.wait_for(asked)
        asked.refresh_from_db()
        if asked.state != PlanState.DONE:
            raise CommandError(asked.says, returncode=1)
        self.stdout.write(in_words(asked))
        if options["csv"]:
            Path(options["csv"]).write_bytes(csv_of(asked, unit="km"))

    def wait_for(self, asked):
        """Start the children here, and collect as the jobs would; either may be quicker."""
        shown = None
        try:
            while WhatIf.objects.filter(pk=asked.pk, state__in=runs.UNDER_WAY).exists():
                runs.start_what_ifs(launch=players.launch)
                time.sleep(LOOK_S)
                runs.collect_what_ifs(clock=timezone.now)
                asked.refresh_from_db()
                progress = progress_of(asked)
                if progress and progress["percent"] != shown and self.stderr.isatty():
                    shown = progress["percent"]
                    self.stderr.write(f"\r{shown} %", ending="")
        except KeyboardInterrupt:
            runs.cancel_what_if(asked, now=timezone.now())
            raise
        finally:
            children.reap()


def settings_of(options):
    """The changes of B; ValueError with a sentence for what cannot be."""
    fewer = max(0, -options["technicians"])
    people = Technician.objects.filter(active=True).order_by("user__first_name", "pk")
    pks = [str(pk) for pk in people.values_list("pk", flat=True)]
    if fewer > len(pks):
        raise ValueError(f"There are {len(pks)} technicians, so {fewer} fewer cannot be.")
    intervals = {}
    for text in options["interval"]:
        slug, _, every = text.partition("=")
        if not Task.objects.filter(slug=slug, active=True).exists():
            raise ValueError(f"There is no task {slug}: write it like filter_change=150d.")
        intervals[slug] = interval_from(every)
    return Settings(
        absent=tuple(pks[len(pks) - fewer :]),
        added=max(0, options["technicians"]),
        factor=options["factor"],
        intervals=intervals,
        shop=_spot(options["shop"]) if options["shop"] else None,
        ponds=options["ponds"],
        full_percent=options["full"],
    )


def _spot(text):
    try:
        lat, lon = (float(part) for part in text.split(","))
    except ValueError:
        raise ValueError(f"{text} is no place: write latitude and longitude, 45.1,-93.2") from None
    return lat, lon


def in_words(asked):
    sheet = sheet_of(asked, unit="km", pictures=False)
    if sheet is None:
        return "There is no whole month to compare: give more --weeks."
    lines = [sheet.headline, "", f"{'':<42}{'A':>12}{'B':>12}{'difference':>12}"]
    lines += [_row(line.name, line) for line in sheet.sums]
    for number, head in enumerate(sheet.heads):
        lines += ["", head]
        lines += [_row(f"  {month}", found[number]) for month, found in sheet.months]
    lines += ["", "Parts"]
    lines += [_row(f"  {line.name}", line) for line in sheet.parts]
    lines += ["", "What was assumed", *(f"- {said}" for said in assumptions(asked, unit="km"))]
    return "\n".join(lines)


def _row(name, line):
    return f"{name:<42}{line.a:>12}{line.b:>12}{line.more:>12}"
