"""Publishing a week: what will happen, who is told, and doing it; opening a day again."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from servicedesk.access import office_only
from servicedesk.actions.routes.publishing import publish_week as publish
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.reopening import reopen_day as reopen
from servicedesk.models import Route
from servicedesk.planning.calendar import week_name
from servicedesk.tables.asked import date_at, monday_of, say_why_not


def _today(request):
    """The date on the wall of the shop."""
    return date_at(request.firm, timezone.now())


@require_POST
@office_only
def publish_week(request, name):
    try:
        published = publish(
            monday_of(name), by=request.user, today=_today(request), now=timezone.now()
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


@require_POST
@office_only
def reopen_day(request, pk):
    route = get_object_or_404(Route.objects.select_related("technician__user"), pk=pk)
    try:
        reopen(route, by=request.user, today=_today(request), now=timezone.now())
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
