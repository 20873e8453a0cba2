"""Published days for other programs: a calendar to subscribe to, GPX and GeoJSON of a day."""

import json
from datetime import date, timedelta

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from customers import access
from customers.models import Firm
from servicedesk.models import Route, Technician
from servicedesk.planning.feeds import feed
from servicedesk.planning.tracks import day_geojson, day_gpx
from servicedesk.signed_links import calendar_token, technician_of
from servicedesk.tables.rounds import calendar_entries, round_of

BACK = timedelta(days=28)  # of rounds that stay in a calendar


def _gpx(of):
    return day_gpx(of), "application/gpx+xml"


def _geojson(of):
    return json.dumps(day_geojson(of), ensure_ascii=False, indent=1), "application/geo+json"


FORMATS = {"gpx": _gpx, "geojson": _geojson}


@never_cache
@require_safe
def day_export(request, technician, day, form):
    """A day's round as a file: for the office, and for the technician whose published day it is."""
    if form not in FORMATS:
        raise Http404(_("A round is written as gpx or as geojson."))
    routes = Route.objects.select_related("technician__user")
    if not access.is_office(request.user):
        routes = routes.filter(technician__user=request.user, published_at__isnull=False)
    try:
        found = get_object_or_404(
            routes, technician__user__username=technician, day=date.fromisoformat(day)
        )
    except ValueError:
        raise Http404(_("Write the day like 2026-11-24.")) from None
    text, kind = FORMATS[form](round_of(request.firm, found))
    response = HttpResponse(text, content_type=f"{kind}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="round-{day}.{form}"'
    return response


@never_cache
@require_safe
@login_not_required
def calendar_feed(request, token):
    """A person's published stops; whoever holds the address may read it, and nothing else."""
    technician = technician_of(token)
    if technician is None:
        raise Http404(_("This calendar link has ended. Ask the office for the new one."))
    firm = Firm.objects.first()
    entries = calendar_entries(
        technician, settings.MAIL_FROM.rpartition("@")[2], from_on=timezone.now().date() - BACK
    )
    name = f"{technician}, {firm.name}" if firm else str(technician)
    response = HttpResponse(feed(name, entries), content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'inline; filename="rounds.ics"'
    response["Referrer-Policy"] = "no-referrer"
    return response


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def calendar_link(request, technician):
    """The address for a calendar program; pressing makes a new one and ends the old."""
    people = Technician.objects.filter(active=True).select_related("user")
    mine = request.user.get_username() == technician
    if not (access.is_office(request.user) or mine):
        raise PermissionDenied(_("Everybody sees his own calendar link, the office all of them."))
    person = get_object_or_404(people, user__username=technician)
    if request.method == "POST":
        person.calendar_number += 1
        person.save(update_fields=["calendar_number"])
        return redirect("calendar_link", technician=technician)
    path = reverse("calendar_feed", args=[calendar_token(person)])
    context = {"person": person, "address": settings.PUBLIC_ADDRESS + path, "mine": mine}
    return render(request, "week/calendar_link.html", context)
