"""The manager's week: every technician's days, what has no place, planning and changing it."""

from datetime import date, timedelta

from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from equipment.physics.units import readers_unit
from servicedesk.access import office_only
from servicedesk.actions.routes import plans
from servicedesk.actions.routes.parts import why_held
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.told import told_days
from servicedesk.actions.routes.week import read_week
from servicedesk.models import PlanRun
from servicedesk.planning.calendar import said_week, week_name
from servicedesk.tables.asked import date_at, monday_of, say_why_not
from servicedesk.tables.load import Loads, load_of, short_in_week
from servicedesk.tables.route import lunch_shown, pictures, stop_lines
from servicedesk.tables.waiting import SHOWN, by_site, waiting, waiting_rows
from servicedesk.tables.week import (
    answers_to,
    day_row,
    sheet_of,
    stops_shown,
    tries_of,
)

THURSDAY = 4  # from then on the next week is what is being made


def _today(request):
    """The date on the wall of the shop."""
    return date_at(request.firm, timezone.now())


@require_safe
@office_only
def this_week(request):
    today = _today(request)
    ahead = timedelta(days=7) if today.isoweekday() >= THURSDAY else timedelta()
    return redirect("week", name=week_name(today + ahead))


@never_cache
@require_safe
@office_only
def week(request, name):
    monday, today = monday_of(name), _today(request)
    try:
        read = read_week(monday, today=today, firm=request.firm)
    except RouteRefused as refused:
        context = {"said": said_week(monday), "sentences": refused.sentences}
        return render(request, "week/none.html", context)
    sheet = sheet_of(read)
    run = PlanRun.objects.defer("problem").filter(monday_on=monday).order_by("pk").last()
    held = why_held(today=today, now=timezone.now())
    due, can_wait = waiting_rows(waiting(request.user, run, today=today), read, held)
    return render(
        request,
        "week/week.html",
        {
            "name": name,
            "week": read,
            "number": monday.isocalendar().week,
            "sunday": read.sunday,
            "today": today,
            "sheet": sheet,
            "is_over": read.sunday < today,
            "run": run,
            "tries": tries_of(run),
            "progress": progress_of(run),
            "waiting": by_site(due[:SHOWN]),
            "waiting_shown": min(len(due), SHOWN),
            "waiting_count": len(due),
            "can_wait": by_site(can_wait[:SHOWN]),
            "can_wait_shown": min(len(can_wait), SHOWN),
            "can_wait_count": len(can_wait),
            "answers": answers_to(sheet),
            "was_told": not sheet.drafts and bool(told_days(read)),
            "short": short_in_week(read, today=today),
            "before": week_name(monday - timedelta(days=7)),
            "after": week_name(monday + timedelta(days=7)),
        },
    )


def progress_of(run):
    """How far a planning is, in percent; None where none is under way."""
    if run is None or run.state not in plans.UNDER_WAY:
        return None
    done = [solve.done_iterations for solve in run.solves.defer("result")]
    share = sum(done) / (run.iterations * len(done)) if done else 0
    return {
        "percent": round(100 * share),
        "done": max(done, default=0),
        "of": run.iterations,
        "processes": len(done),
        "stopping": run.cancel_asked_at is not None,
    }


@never_cache
@require_safe
@office_only
def plan_progress(request, name):
    """A piece of the page, asked for every second; when the plan is there the page loads anew."""
    monday = monday_of(name)
    run = PlanRun.objects.defer("problem").filter(monday_on=monday).order_by("pk").last()
    progress = progress_of(run)
    if progress is None:
        return HttpResponseClientRefresh() if request.htmx else redirect("week", name=name)
    return render(request, "week/progress.html", {"name": name, "progress": progress})


@require_POST
@office_only
def plan_week(request, name):
    monday: date = monday_of(name)
    try:
        plans.ask_for_plan(monday, by=request.user, today=_today(request), now=timezone.now())
    except RouteRefused as refused:
        say_why_not(request, refused)
    return redirect("week", name=name)


@require_POST
@office_only
def cancel_plan(request, name):
    if run := plans.running_plan(monday_of(name)):
        plans.cancel_plan(run, now=timezone.now())
    return redirect("week", name=name)


@never_cache
@require_safe
@office_only
def week_day(request, name, technician, day):
    monday, day = monday_of(name), _day(day)
    read = read_week(monday, today=_today(request), firm=request.firm)
    person = next(
        (t for t in read.technicians.values() if t.user.get_username() == technician), None
    )
    if person is None or not monday <= day <= read.sunday:
        raise Http404(_("There is no such day in this week."))
    routes = [r for r in read.routes if (r.technician_id, r.day) == (person.pk, day)]
    stops = stops_shown(routes)
    row = day_row(read, person, day, {(r.technician_id, r.day): r for r in routes}, stops)
    tickets = [st.ticket for stop in row.stops for st in stop.stop_tickets.all()]
    load = load_of(tickets, day)
    today = _today(request)
    on_van = Loads(day, day, today=today).day(person.pk, day) if day >= today else None
    context = {
        "name": name,
        "week": read,
        "row": row,
        "day": day,
        "number": monday.isocalendar().week,
        "lines": stop_lines(read, row, tickets, load),
        "load": load,
        "on_van": on_van,
        "may_change": bool(row.route) and not row.route.published_at and day >= read.first_on,
        "may_reopen": bool(row.route and row.route.published_at) and day >= read.first_on,
        "may_repair": bool(row.stops) and day >= read.first_on,
        "is_being_planned": plans.running_plan(monday) is not None,
        **pictures(read, row, readers_unit("distance", request.user.units)),
        **lunch_shown(read, row),
    }
    return render(request, "week/week_day.html", context)


def _day(text):
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404(_("Write the day like 2026-11-24.")) from None
