"""The seasons: the manager's page, a pond's year, what is seen from the bank, and the weather."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers import access
from customers.models import Pond
from servicedesk.access import office_only
from servicedesk.actions import sightings
from servicedesk.actions.weather import WeatherRefused, load_weather, regions_now
from servicedesk.forms.seasons import SightingForm, WeatherForm
from servicedesk.models import DayWeather, Observation
from servicedesk.planning.weather import NO_PERMISSION
from servicedesk.registers.weather import FAULTS_MAX, LAYOUT, NotWeather
from servicedesk.tables.pond_year import year_sheet
from servicedesk.tables.seasons import season_sheet

UNREADABLE = 422
LOOKED_BACK = timedelta(days=60)
NEIGHBOURS = 200


@require_safe
@office_only
def seasons(request):
    """What is left of the season, whether it fits, and each region; `?season=` names another."""
    sheet = season_sheet(
        now=timezone.now(),
        season=request.GET.get("season", ""),
        reader_units=request.user.units,
    )
    context = {"sheet": sheet, "caution": NO_PERMISSION}
    return render(request, "seasons/seasons.html", context)


@require_safe
def pond_year(request, pk):
    """Ice, windows, states and profiles of a pond's year; `?winter=` names an earlier one."""
    pond = get_object_or_404(Pond.objects.select_related("site__region"), pk=pk)
    asked = request.GET.get("winter", "")
    if asked and not (asked.isdecimal() and 1990 <= int(asked) <= 2200):
        raise Http404
    sheet = year_sheet(
        pond,
        now=timezone.now(),
        winter=int(asked) if asked else None,
        reader_units=request.user.units,
    )
    return render(request, "seasons/pond_year.html", {"sheet": sheet, "pond": pond})


@require_http_methods(["GET", "HEAD", "POST"])
def see_pond(request, pk):
    """What somebody sees of a pond from the bank, today or some days ago."""
    pond = get_object_or_404(Pond.objects.select_related("site__region"), pk=pk)
    now = timezone.now()
    today = now.astimezone(ZoneInfo(pond.site.time_zone)).date()
    form = SightingForm(request.POST or None, initial={"seen_on": today})
    back = request.GET.get("back", "")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts=None):
        back = ""
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            kept = sightings.record_sighting(
                pond, said["kind"], said["seen_on"], by=request.user, note=said["note"], now=now
            )
        except sightings.SightingRefused as refused:
            form.add_error("seen_on", str(refused))
        else:
            words = _("Kept. A manager has to look at it: he has been told.")
            messages.success(request, words if kept.waits else _("Kept. The plan follows it."))
            return redirect(back or "pond_year", **({} if back else {"pk": pond.pk}))
    context = {"pond": pond, "form": form, "today": today, "back": back}
    return render(request, "seasons/see_pond.html", context, status=400 if form.errors else 200)


@require_safe
@office_only
def sighting(request, pk):
    """One sighting: what it moves, and the neighbours for which it may be taken."""
    kept = _sighting(pk)
    standing = kept.withdrawn_at is None and not kept.waits and kept.taken_from_id is None
    near = list(sightings.neighbours(kept)[: NEIGHBOURS + 1]) if standing else []
    context = {
        "kept": kept,
        "near": near[:NEIGHBOURS],
        "more": len(near) > NEIGHBOURS,
        "taken": kept.taken.filter(withdrawn_at=None).count(),
        "may_settle": access.is_manager(request.user),
    }
    return render(request, "seasons/sighting.html", context)


@require_POST
def settle_sighting(request, pk):
    """A manager's word on a sighting that waits for him."""
    if not access.is_manager(request.user):
        raise PermissionDenied
    holds = request.POST.get("word") == "holds"
    settled = sightings.settle_sighting(
        _sighting(pk), holds=holds, by=request.user, now=timezone.now()
    )
    if settled:
        messages.success(request, _("Confirmed.") if holds else _("Struck out."))
    else:
        messages.info(request, _("Somebody else had settled it already."))
    return redirect("sighting", pk)


@require_POST
@office_only
def strike_sighting(request, pk):
    """Takes back what was entered by mistake."""
    if sightings.strike_sighting(_sighting(pk), by=request.user, now=timezone.now()):
        messages.success(request, _("Struck out. Due days are computed again."))
    return redirect("sighting", pk)


@require_POST
@office_only
def take_sighting(request, pk):
    """Takes a sighting for the neighbours that are ticked."""
    kept = _sighting(pk)
    ticked = [int(pk) for pk in request.POST.getlist("pond") if pk.isdecimal() and len(pk) < 15]
    if request.POST.get("all"):
        ticked = list(sightings.neighbours(kept).values_list("pk", flat=True))
    try:
        count = sightings.take_for_neighbours(kept, ticked, by=request.user, now=timezone.now())
    except sightings.SightingRefused as refused:
        messages.error(request, str(refused))
    else:
        words = ngettext("Taken for %d pond.", "Taken for %d ponds.", count) % count
        messages.success(request, words)
    return redirect("sighting", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def weather(request):
    """The days that each region has, and a file with more: all of it, or nothing."""
    form, faults = WeatherForm(request.POST or None, request.FILES or None), []
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        about = {"source": form.source, "region": said["region"], "by": request.user}
        try:
            days = load_weather(said["text"], now=timezone.now(), **about)
        except NotWeather as refused:
            form.add_error("file", str(refused))
        except WeatherRefused as refused:
            faults, form = refused.faults, form.shown_again()
        else:
            words = ngettext("%d day was written.", "%d days were written.", days) % days
            messages.success(request, words)
            return redirect("weather")
    context = {
        "form": form,
        "faults": faults[:FAULTS_MAX],
        "count": len(faults),
        "layout": LAYOUT,
        "rows": _weather_rows(),
    }
    status = UNREADABLE if faults or form.errors else 200
    return render(request, "seasons/weather.html", context, status=status)


def _weather_rows():
    """Each served region with its last days; two queries more than `regions_now`."""
    regions = [here.region for here in regions_now()]
    today = timezone.now().date()
    last = {}
    rows = DayWeather.objects.filter(region__in=regions, on__lte=today).order_by("on")
    for row in rows.filter(on__gte=today - LOOKED_BACK):
        last[row.region_id] = row
    return [(region, last.get(region.pk)) for region in regions]


def _sighting(pk):
    found = Observation.objects.select_related(
        "pond", "site__region", "by", "by_contact", "settled_by", "taken_from__pond"
    )
    return get_object_or_404(found, pk=pk)
