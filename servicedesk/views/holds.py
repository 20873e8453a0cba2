"""Closed roads and areas, and days on which nobody may come: entered, listed, ended early."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers.models import Site
from servicedesk.access import office_only
from servicedesk.actions.holds import (
    HoldRefused,
    end_hold,
    enter_hold,
    holds_listed,
    met_stops,
    set_days_without_van,
)
from servicedesk.forms.holds import HoldForm, NoVanForm
from servicedesk.models import Hold
from servicedesk.tables.asked import date_at
from servicedesk.tables.holds import hold_shown, met_shown

SHOWN = 100


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def holds(request):
    """What stands today and later; a new one is entered below it."""
    today = _today(request)
    form = HoldForm(
        request.POST or None,
        reader_units=request.user.units,
        initial={"from_on": today} | request.GET.dict(),
    )
    if request.method == "POST" and form.is_valid():
        try:
            hold = enter_hold(**form.hold(), by=request.user, now=timezone.now())
        except (HoldRefused, ValueError) as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Kept. Every week that is planned from now on knows it."))
            return redirect("hold", hold.pk)
    return _page(request, today, form, NoVanForm(prefix="van"))


@require_POST
@office_only
def days_without_van(request):
    """The days of each year on which no van gets to a site."""
    form = NoVanForm(request.POST, prefix="van")
    if form.is_valid():
        said = form.cleaned_data
        try:
            set_days_without_van(
                said["site"],
                said["first"],
                said["last"],
                said["note"],
                by=request.user,
                now=timezone.now(),
            )
        except HoldRefused as refused:
            form.add_error("first", str(refused))
        else:
            messages.success(request, _("Kept."))
            return redirect("holds")
    today = _today(request)
    start = {"from_on": today}
    return _page(request, today, HoldForm(reader_units=request.user.units, initial=start), form)


@never_cache
@require_safe
@office_only
def hold(request, pk):
    """One hold, and the stops that stand on its days."""
    found = get_object_or_404(Hold.objects.select_related("site", "region", "by"), pk=pk)
    today = _today(request)
    standing = found.lifted_at is None and found.to_on >= today
    context = {
        "hold": hold_shown(found),
        "stops": met_shown(met_stops(found, today)) if standing else [],
        "standing": standing,
        "is_line": found.area.get("type") == "LineString",
    }
    return render(request, "holds/hold.html", context)


@require_POST
@office_only
def lift_hold(request, pk):
    found = get_object_or_404(Hold, pk=pk)
    if end_hold(found, by=request.user, now=timezone.now()):
        messages.success(request, _("Ended. Weeks that are planned from now on do not know it."))
    return redirect("holds")


def _page(request, today, form, van):
    sites = Site.objects.exclude(no_van_from="").order_by("name")
    rows = [hold_shown(one) for one in holds_listed(today)[: SHOWN + 1]]
    context = {
        "rows": rows[:SHOWN],
        "more": len(rows) > SHOWN,
        "form": form,
        "van": van,
        "sites": sites[:SHOWN],
        "open_form": form.is_bound,
        "open_van": van.is_bound,
    }
    wrong = form.errors or van.errors
    return render(request, "holds/holds.html", context, status=400 if wrong else 200)


def _today(request):
    """The date on the wall of the shop."""
    return date_at(request.firm, timezone.now())
