"""The manager's week: every technician's days, what has no place, planning and changing it."""

from datetime import date, timedelta

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from customers.models import Pond
from equipment.physics.units import readers_unit
from servicedesk.access import office_only
from servicedesk.actions.routes import dropping, hands, plans
from servicedesk.actions.routes.publishing import publish_week as publish
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.reopening import reopen_day as reopen
from servicedesk.actions.routes.week import read_week
from servicedesk.forms.week import DropForm, MoveForm, PlaceForm
from servicedesk.models import Caution, PlanRun, Route, Stop, Ticket
from servicedesk.planning.calendar import site_date, week_monday, week_name
from servicedesk.tables.load import load_of
from servicedesk.tables.route import lunch_shown, pictures, stop_lines
from servicedesk.tables.week import (
    SHOWN,
    answers_to,
    by_site,
    day_row,
    days_to_come,
    sheet_of,
    stops_shown,
    waiting,
    waiting_rows,
)

THURSDAY = 4  # from then on the next week is what is being made


def firm_today(request):
    """The date on the wall of the shop."""
    return site_date(timezone.now(), getattr(request.firm, "time_zone", "UTC"))


def monday_of(name):
    try:
        return week_monday(name)
    except ValueError as error:
        raise Http404(str(error)) from None


@require_safe
@office_only
def this_week(request):
    today = firm_today(request)
    ahead = timedelta(days=7) if today.isoweekday() >= THURSDAY else timedelta()
    return redirect("week", name=week_name(today + ahead))


@never_cache
@require_safe
@office_only
def week(request, name):
    monday, today = monday_of(name), firm_today(request)
    try:
        read = read_week(monday, today=today, firm=request.firm)
    except RouteRefused as refused:
        return render(request, "week/none.html", {"name": name, "sentences": refused.sentences})
    sheet = sheet_of(read)
    run = PlanRun.objects.defer("problem").filter(monday_on=monday).order_by("pk").last()
    due, can_wait = waiting_rows(waiting(request.user, run, today=today), read)
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
            "progress": progress_of(run),
            "waiting": by_site(due[:SHOWN]),
            "waiting_shown": min(len(due), SHOWN),
            "waiting_count": len(due),
            "can_wait": by_site(can_wait[:SHOWN]),
            "can_wait_shown": min(len(can_wait), SHOWN),
            "can_wait_count": len(can_wait),
            "answers": answers_to(sheet),
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
        plans.ask_for_plan(monday, by=request.user, today=firm_today(request), now=timezone.now())
    except RouteRefused as refused:
        say_why_not(request, refused)
    return redirect("week", name=name)


@require_POST
@office_only
def cancel_plan(request, name):
    if run := plans.running_plan(monday_of(name)):
        plans.cancel_plan(run, now=timezone.now())
    return redirect("week", name=name)


@require_POST
@office_only
def publish_week(request, name):
    try:
        published = publish(
            monday_of(name), by=request.user, today=firm_today(request), now=timezone.now()
        )
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        messages.success(
            request,
            ngettext(
                "%(count)d day is published and frozen. Its owners are told by mail.",
                "%(count)d days are published and frozen. Their owners are told by mail.",
                len(published),
            )
            % {"count": len(published)},
        )
    return redirect("week", name=name)


def say_why_not(request, refused):
    for sentence in refused.sentences:
        messages.error(request, sentence)


@never_cache
@require_safe
@office_only
def week_day(request, name, technician, day):
    monday, day = monday_of(name), _day(day)
    read = read_week(monday, today=firm_today(request), firm=request.firm)
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
    context = {
        "name": name,
        "week": read,
        "row": row,
        "day": day,
        "number": monday.isocalendar().week,
        "lines": stop_lines(read, row, tickets, load),
        "load": load,
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


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def place_ticket(request, name, pk):
    """Put one waiting ticket on somebody's day, or on two days at one time."""
    monday, today = monday_of(name), firm_today(request)
    found = Ticket.objects.open().visible_to(request.user)
    ticket = get_object_or_404(found.select_related("task", "site", "system"), pk=pk)
    days = days_to_come(monday, today)
    if not days:
        raise Http404(_("This week is over."))
    people = max(ticket.task.crew, 2 if ticket.task.needs_boat else 1)
    form = PlaceForm(request.POST or None, people=people, days=days)
    if request.method == "POST" and form.is_valid():
        try:
            hands.place_by_hand(
                ticket,
                technicians=form.technicians,
                day=form.cleaned_data["day"],
                start=form.cleaned_data.get("start"),
                today=today,
            )
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            messages.success(
                request,
                _("%(task)s at %(site)s has its place.")
                % {"task": ticket.task, "site": ticket.site},
            )
            return redirect("week", name=name)
    context = {
        "name": name,
        "ticket": ticket,
        "form": form,
        "people": people,
        "ponds": Pond.objects.filter(site=ticket.site),
        "cautions": Caution.objects.filter(slug__in=ticket.task.cautions),
    }
    status = 422 if form.errors else 200
    return render(request, "week/place_ticket.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def move_stop(request, uuid):
    stop, today = stop_named(uuid), firm_today(request)
    days = days_to_come(stop.route.day, today)
    start = {"technician": stop.route.technician_id, "day": stop.route.day.isoformat()}
    form = MoveForm(request.POST or None, days=days, initial=start)
    name = week_name(stop.route.day)
    if request.method == "POST" and form.is_valid():
        site = stop.site
        try:
            hands.move_stop(stop, today=today, **form.cleaned_data)
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
            stop = stop_named(uuid)
        else:
            messages.success(request, _("%(site)s was moved.") % {"site": site})
            return redirect("week", name=name)
    context = {
        "name": name,
        "stop": stop,
        "form": form,
        "ponds": Pond.objects.filter(site=stop.site),
        "zone": request.firm.time_zone,
    }
    status = 422 if form.errors else 200
    return render(request, "week/move_stop.html", context, status=status)


@require_POST
@office_only
def take_off_stop(request, uuid):
    stop = stop_named(uuid)
    try:
        hands.take_off(stop, today=firm_today(request))
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        messages.success(request, _("%(site)s waits for a place again.") % {"site": stop.site})
    return redirect("week", name=week_name(stop.route.day))


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def drop_stop(request, uuid):
    """Take a stop off and leave it alone until a day; the page says when its tolerance ends."""
    stop = stop_named(uuid)
    work = dropping.open_work(stop)
    ends = min((closes_on for _ticket, closes_on in work if closes_on), default=None)
    form = DropForm(request.POST or None, initial={"until": ends})
    name = week_name(stop.route.day)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            dropping.drop_until(
                stop,
                until_on=data["until"],
                reason=data["reason"],
                by=request.user,
                today=firm_today(request),
                now=timezone.now(),
            )
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            messages.success(
                request,
                _("%(site)s is not planned before %(day)s.")
                % {"site": stop.site, "day": date_format(data["until"], "j F")},
            )
            return redirect("week", name=name)
    context = {"name": name, "stop": stop, "form": form, "work": work, "ends": ends}
    return render(request, "week/drop_stop.html", context, status=422 if form.errors else 200)


@require_POST
@office_only
def keep_stop(request, uuid):
    stop = stop_named(uuid)
    try:
        hands.keep_stop(stop, keep=request.POST.get("keep") == "yes", today=firm_today(request))
    except RouteRefused as refused:
        say_why_not(request, refused)
    return redirect(
        "week_day",
        name=week_name(stop.route.day),
        technician=stop.route.technician.user.get_username(),
        day=stop.route.day.isoformat(),
    )


def stop_named(uuid):
    stops = Stop.objects.select_related("route__technician__user", "site")
    return get_object_or_404(stops, uuid=uuid)


@require_POST
@office_only
def reopen_day(request, pk):
    route = get_object_or_404(Route.objects.select_related("technician__user"), pk=pk)
    try:
        reopen(route, by=request.user, today=firm_today(request), now=timezone.now())
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        messages.success(
            request,
            _(
                "The day is a draft again. Publish the week when it is right: only owners whose "
                "day changes are told."
            ),
        )
    return redirect(
        "week_day",
        name=week_name(route.day),
        technician=route.technician.user.get_username(),
        day=route.day.isoformat(),
    )
