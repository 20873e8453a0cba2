"""How far and how fast: the figures of each region, learned or by hand."""

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from customers import access
from customers.models import Region
from servicedesk.access import office_only
from servicedesk.actions.learning import set_road_figures
from servicedesk.forms.roads import RoadFiguresForm, shown_factor, shown_speed, speed_unit
from servicedesk.planning.drives import USUAL_COUNTS_AS


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def road_figures(request):
    """What is used, what it rests on, and the manager's own figures."""
    regions, reader_units = list(Region.objects.order_by("name")), request.user.units
    form = RoadFiguresForm(request.POST or None, regions=regions, reader_units=reader_units)
    if request.method == "POST":
        if not access.is_manager(request.user):
            raise PermissionDenied
        if form.is_valid():
            set_road_figures(form.figures(), by=request.user, now=timezone.now())
            messages.success(request, _("Kept. Weeks that are planned from now on use it."))
            return redirect("road_figures")
    context = {
        "form": form,
        "rows": [_shown(request, *row) for row in form.rows()],
        "unit": speed_unit(reader_units),
        "usual_factor": shown_factor(request.firm.road_factor) if request.firm else "",
        "usual_speed": shown_speed(request.firm.speed_km_h, reader_units) if request.firm else "",
        "usual_counts_as": USUAL_COUNTS_AS,
        "service": bool(settings.ROADS_URL),
    }
    return render(request, "account/road_figures.html", context, status=400 if form.errors else 200)


def _shown(request, region, factor, speed):
    reader_units, firm = request.user.units, request.firm
    return {
        "region": region,
        "factor": shown_factor(region.factor_used or (firm and firm.road_factor)),
        "factor_from": _source(region.road_factor, region.factor_drives),
        "speed": shown_speed(region.speed_used_km_h or (firm and firm.speed_km_h), reader_units),
        "speed_from": _source(region.speed_km_h, region.speed_drives),
        "factor_field": factor,
        "speed_field": speed,
    }


def _source(by_hand, drives):
    """(kind, drives): where a figure is from."""
    if by_hand is not None:
        return "hand", drives
    return ("learned", drives) if drives else ("firm", 0)
