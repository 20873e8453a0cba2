"""The clocks of a system, and the next twelve months of a system, a pond and the firm."""

from zoneinfo import ZoneInfo

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from customers.models import Pond
from equipment.models import System
from servicedesk.tables import calendar as tables
from servicedesk.tables.asked import date_at
from servicedesk.tables.clocks import clocks_of
from servicedesk.tables.systems import ponds_of_systems


@require_safe
def calendar(request):
    """By `?system=` or `?pond=`; without either, the firm's."""
    for name, of in (("system", of_system), ("pond", of_pond)):
        if asked := request.GET.get(name):
            if not asked.isdecimal() or len(asked) > 15:
                raise Http404
            return of(request, int(asked))
    year = tables.year_of_the_firm(today=date_at(request.firm, timezone.now()))
    months = tables.months_with_weeks(year)
    context = {"months": months, "year": year, "basis": tables.basis_words(year)}
    return render(request, "calendar/firm.html", context)


def of_system(request, pk):
    system = known_system(request, pk)
    shown = {"system": system, "ponds": [place.pond for place in system.in_water]}
    return of_place(request, system.site, tables.months_of, system, shown)


def known_system(request, pk):
    """A system with its site, and `in_water` for the names of its ponds."""
    visible = System.objects.visible_to(request.user).select_related("site__region")
    return get_object_or_404(visible.prefetch_related(ponds_of_systems()), pk=pk)


def of_pond(request, pk):
    pond = get_object_or_404(Pond.objects.select_related("site__region"), pk=pk)
    return of_place(request, pond.site, tables.months_of_pond, pond, {"pond": pond})


def of_place(request, site, months_of, thing, shown):
    now = timezone.now()
    today = now.astimezone(ZoneInfo(site.time_zone)).date()
    months = months_of(thing, now=now, today=today)
    context = {"site": site, "months": months, **shown}
    return render(request, "calendar/place.html", context)


@require_safe
def system_clocks(request, pk):
    """Each clock of a system: its sentence, its facts, what would change it, its window."""
    system = known_system(request, pk)
    today = timezone.now().astimezone(ZoneInfo(system.site.time_zone)).date()
    context = {
        "system": system,
        "ponds": [place.pond for place in system.in_water],
        "clocks": clocks_of(system, today),
        "today": today,
    }
    return render(request, "systems/clocks.html", context)
