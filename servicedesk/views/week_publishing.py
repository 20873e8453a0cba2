"""Publishing a week: what will happen, who is told, and doing it; opening a day again."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from servicedesk.access import office_only
from servicedesk.actions.routes.preview import preview_of
from servicedesk.actions.routes.publishing import faults_to_mend
from servicedesk.actions.routes.publishing import publish_week as publish
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.reopening import reopen_day as reopen
from servicedesk.actions.routes.week import read_week
from servicedesk.models import Route
from servicedesk.planning.calendar import week_name
from servicedesk.tables.asked import date_at, monday_of, say_why_not
from servicedesk.tables.publishing import preview_shown


def _today(request):
    """The date on the wall of the shop."""
    return date_at(request.firm, timezone.now())


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def publish_week(request, name):
    """Show what publishing would do and whom it would tell; a press does it."""
    monday, today = monday_of(name), _today(request)
    if request.method == "POST":
        _publish(request, monday, today)
        return redirect("week", name=name)
    try:
        week = read_week(monday, today=today, firm=request.firm)
        now = timezone.now()
        preview, faults = preview_of(week, now=now), faults_to_mend(week, now=now)
    except RouteRefused as refused:
        say_why_not(request, refused)
        return redirect("week", name=name)
    context = {
        "name": name,
        "number": monday.isocalendar().week,
        "zone": week.firm.time_zone,
        "faults": faults,
        **preview_shown(preview, week),
    }
    return render(request, "week/publish.html", context)


def _publish(request, monday, today):
    try:
        published = publish(monday, by=request.user, today=today, now=timezone.now())
    except RouteRefused as refused:
        say_why_not(request, refused)
        return
    words = ngettext(
        "%(count)d day is published and frozen. Its owners are told by mail.",
        "%(count)d days are published and frozen. Their owners are told by mail.",
        len(published),
    )
    if not published:
        words = _("The days are empty now. Owners who were told of them are to be phoned.")
    messages.success(request, words % {"count": len(published)})


@require_POST
@office_only
def reopen_day(request, pk):
    route = get_object_or_404(Route.objects.select_related("technician__user"), pk=pk)
    try:
        met = reopen(route, by=request.user, today=_today(request), now=timezone.now())
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        messages.success(request, _opened(met))
    return redirect(
        "week_day",
        name=week_name(route.day),
        technician=route.technician.user.get_username(),
        day=route.day.isoformat(),
    )


def _opened(met):
    words = _(
        "The day is a draft again. Publish the week when it is right: only owners whose day "
        "changes are told."
    )
    if not met:
        return words
    names = _(" and ").join(str(route.technician) for route in met)
    also = _("Opened with it, because they meet that day: the day of %(names)s.")
    return f"{words} {also % {'names': names}}"
