"""Plans a week's routes from the command line."""

import json
import time

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from customers.models import Firm
from servicedesk.actions.routes import children, plans
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.kinds import PlanState
from servicedesk.models import LeftOut, PlanRun, Route
from servicedesk.planning.calendar import site_date, week_monday

LOOK_S = 0.3


class Command(BaseCommand):
    help = "Plans the routes of a week, such as 2026-W48, for all technicians and days at once."

    def add_arguments(self, parser):
        parser.add_argument("week", help="such as 2026-W48")
        parser.add_argument("--iterations", type=int, help="by default as the week is large")
        parser.add_argument("--seconds", type=int, default=plans.CAP_S, help="a cap")
        parser.add_argument(
            "--publish", action="store_true", help="and freeze it, if no rule breaks"
        )
        parser.add_argument("--json", action="store_true")

    def handle(self, *, week, iterations, seconds, publish, **options):
        if (iterations is not None and iterations < 1) or seconds < 1:
            raise CommandError("--iterations and --seconds are 1 or more.", returncode=2)
        now, firm = timezone.now(), Firm.objects.first()
        try:
            run = plans.ask_for_plan(
                week_monday(week),
                by=None,
                today=site_date(now, firm.time_zone if firm else "UTC"),
                now=now,
                iterations=iterations,
                cap_s=seconds,
                publish_when_done=publish,
            )
        except (ValueError, RouteRefused) as refused:
            raise CommandError(str(refused), returncode=2) from None
        self.wait_for(run)
        run.refresh_from_db()
        if run.state != PlanState.DONE:
            raise CommandError(run.says, returncode=1)
        result = found(run)
        if publish and not result["published"]:
            raise CommandError(run.says, returncode=2)
        self.stdout.write(json.dumps(result) if options["json"] else in_words(result))

    def wait_for(self, run):
        """Start the children here, and collect as the jobs would; either may be quicker."""
        plans.start_plans(launch=children.launch)
        try:
            while PlanRun.objects.filter(pk=run.pk, state__in=plans.UNDER_WAY).exists():
                time.sleep(LOOK_S)
                plans.collect_plans(clock=timezone.now)
        except KeyboardInterrupt:
            plans.cancel_plan(run, now=timezone.now())
            raise
        finally:
            children.reap()


def found(run):
    routes = (
        Route.objects.filter(plan_run=run)
        .select_related("technician__user")
        .prefetch_related("stops__site", "stops__stop_tickets")
        .order_by("day", "technician__user__first_name")
    )
    return {
        "week": run.week,
        "says": run.says,
        "published": bool(routes) and all(route.published_at for route in routes),
        "routes": [
            {
                "day": route.day.isoformat(),
                "technician": str(route.technician),
                "stops": [stop.site.name for stop in route.stops.all()],
                "tickets": sum(len(stop.stop_tickets.all()) for stop in route.stops.all()),
                "drive_km": route.drive_km,
                "drive_min": route.drive_min,
                "work_min": route.work_min,
            }
            for route in routes
        ],
        "left_out": [
            {"ticket": out.ticket_id, "because": out.because}
            for out in LeftOut.objects.filter(plan_run=run).order_by("ticket")
        ],
    }


def in_words(result):
    lines = [f"Week {result['week']}. {result['says']}"]
    for route in result["routes"]:
        lines.append(
            f"{route['day']}  {route['technician']:<22} {len(route['stops']):2d} stops  "
            f"{route['tickets']:3d} tickets  {route['drive_km']:6.1f} km  "
            f"{route['drive_min']:4d} min driving  {route['work_min']:4d} min work"
        )
    lines.append(f"{len(result['left_out'])} tickets have no place:")
    lines += [f"  ticket {out['ticket']}: {out['because']}" for out in result["left_out"]]
    if result["published"]:
        lines.append("The week is published.")
    return "\n".join(lines)
