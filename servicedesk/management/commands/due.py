"""What falls due, when, and why: as of now, or by the facts of another day."""

import json
from datetime import UTC, date, datetime, time, timedelta

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from customers.models import Site
from equipment.models import Position
from servicedesk.actions.due import occasions
from servicedesk.kinds import Who

CHUNK = 100


class Command(BaseCommand):
    help = "Print what falls due, with its window and the reason."

    def add_arguments(self, parser):
        parser.add_argument("--on", metavar="DATE", help="as of this day, such as 2026-11-25")
        parser.add_argument(
            "--days", type=int, default=21, metavar="N", help="how far ahead to look (21)"
        )
        parser.add_argument(
            "--who",
            choices=[str(who) for who in Who],
            default=Who.TECHNICIAN,
            help="what technicians do (as usual), or what owners look after themselves",
        )
        parser.add_argument("--json", action="store_true", help="one JSON list for programs")

    def handle(self, *, on, days, who=Who.TECHNICIAN, **options):
        if not 0 <= days <= 3660:
            raise CommandError("--days must lie between 0 and 3660", returncode=2)
        now = _instant(on)
        until = now.date() + timedelta(days=days)
        rows = sorted(
            _rows(now, until, Who(who)), key=lambda row: (row["due_on"], row["place"], row["task"])
        )
        if options["json"]:
            self.stdout.write(json.dumps(rows, indent=1))
        else:
            self._print(rows, now.date(), until)

    def _print(self, rows, today, until):
        for row in rows:
            late = " OVERDUE" if row["closes_on"] < today.isoformat() else ""
            self.stdout.write(
                f"{row['due_on']}  {row['opens_on']} to {row['closes_on']}{late}  "
                f"{row['site']} / {row['place']}: {row['task']}\n    {row['because']}"
            )
        self.stdout.write(f"{len(rows)} due by {until}")


def _instant(on):
    if not on:
        return timezone.now()
    try:
        return datetime.combine(date.fromisoformat(on), time(12), UTC)
    except ValueError:
        raise CommandError(
            f"--on: {on!r} is no date; write it like 2026-11-25", returncode=2
        ) from None


def _words(thing):
    return f"{thing.system}, {thing}" if isinstance(thing, Position) else str(thing)


def _rows(now, until, who):
    sites = dict(Site.objects.order_by("pk").values_list("pk", "name"))
    ids = list(sites)
    for start in range(0, len(ids), CHUNK):
        for found in occasions(ids[start : start + CHUNK], now=now, until=until, who=who):
            yield {
                "site": sites[found.place["site_id"]],
                "place": _words(found.thing),
                "place_key": found.place["place_key"],
                "task": found.task.slug,
                "occasion": found.due.occasion,
                "due_on": found.due.on.isoformat(),
                "opens_on": found.due.opens_on.isoformat(),
                "closes_on": found.due.closes_on.isoformat(),
                "estimated": found.due.estimated,
                "because": found.due.because,
            }
