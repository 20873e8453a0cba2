"""Plates moved, a pond rebuilt, a cabinet taken elsewhere: entered in the office at its own day."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from customers import access
from equipment.actions.configurations import (
    ConfigurationRefused,
    begin_configuration,
    configuration_on,
)
from equipment.models import System
from servicedesk.actions.commissioning.begin import BeginRefused
from servicedesk.actions.commissioning.moving import move_system as move
from servicedesk.actions.due import refresh_sites
from servicedesk.forms.commissioning.service import ConfigurationForm, MoveForm
from servicedesk.models import Caution

WATER = ["boat", "cold_water", "lightning", "between_ponds"]
MOVING = ["electricity", "self_start", *WATER]


@require_http_methods(["GET", "HEAD", "POST"])
def new_configuration(request, pk):
    """From a day on plates lie otherwise; the old configuration stays with its baseline."""
    system, now = _system(request, pk), timezone.now()
    today = now.astimezone(ZoneInfo(system.site.time_zone)).date()
    before = configuration_on(system, today)
    form = ConfigurationForm(
        request.POST or None,
        system=system,
        before=before,
        user=request.user,
        initial={"from_on": today, "name": before.name if before else ""},
    )
    if request.method == "POST" and form.is_valid():
        told = {k: form.cleaned_data[k] for k in ("from_on", "name", "because", "settles")}
        try:
            begin_configuration(system, changes=form.changes(), by=request.user, now=now, **told)
        except ConfigurationRefused as refused:
            form.add_error(None, str(refused))
        else:
            refresh_sites([system.site_id], now=now)
            messages.success(request, _("Kept. What was read before is compared with itself only."))
            return redirect("system", pk)
    context = {"system": system, "form": form, "before": before, "cautions": _cautions(WATER)}
    status = 400 if form.is_bound else 200
    return render(request, "commissioning/new_configuration.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def move_system(request, pk):
    """The cabinet stands at another pond now; its handing over there begins."""
    system = _system(request, pk)
    with timezone.override(system.site.time_zone):
        at = timezone.localtime()
        start = {"initial": {"at": at}, "system": system, "today": at.date()}
        form = MoveForm(request.POST or None, **start)
        if request.method == "POST" and form.is_valid():
            told = {k: form.cleaned_data[k] for k in ("pond", "at", "new_membranes")}
            try:
                move(system, by=request.user, now=timezone.now(), **told)
            except BeginRefused as refused:
                form.add_error(None, str(refused))
            else:
                to = {"pond": form.cleaned_data["pond"], "site": form.cleaned_data["pond"].site}
                said = _(
                    "Moved to %(pond)s, %(site)s. It goes into service once it is handed over."
                )
                messages.success(request, said % to)
                return redirect("commissioning", pk)
        context = {"system": system, "form": form, "cautions": _cautions(MOVING)}
        status = 400 if form.is_bound else 200
        return render(request, "commissioning/move_system.html", context, status=status)


def _system(request, pk):
    if not access.is_office(request.user):
        raise PermissionDenied
    return get_object_or_404(System.objects.visible_to(request.user).select_related("site"), pk=pk)


def _cautions(slugs):
    found = {row.slug: row for row in Caution.objects.filter(slug__in=slugs)}
    return [found[slug] for slug in slugs if slug in found]
