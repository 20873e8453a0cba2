"""Serial units: exchange one at its place, see what that moved, and read its history."""

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from equipment.actions.fitting import FittingRefused
from equipment.kinds import PositionKind, Quantity
from equipment.models import Component, Fitting, Reading, System
from servicedesk import access
from servicedesk.actions.units import enter_unit, exchange
from servicedesk.forms.units import ExchangeForm
from servicedesk.models import Caution
from servicedesk.planning.calendar import site_date
from servicedesk.tables import units as tables

IN_WATER = {PositionKind.DIFFUSER, PositionKind.AIRLINE}
CAUTIONS = {True: ["boat", "cold_water", "ice"], False: ["electricity", "self_start", "heat"]}
NEW = ("type", "serial", "hours_before", "lent")


@require_http_methods(["GET", "HEAD", "POST"])
def exchange_unit(request, pk):
    """Another unit at a place, today or at a day that is past."""
    position = known_position(request, pk)
    now = timezone.now()
    today = site_date(now, position.system.site.time_zone)
    if not access.may_work_at(request.user, position.system.site, today):
        raise PermissionDenied
    here = tables.fitted_at(position)
    form = ExchangeForm(
        request.POST or None,
        position=position,
        here=here,
        today=today,
        last_read=last_read(position, here),
    )
    new = form.is_valid() and exchanged(form, position, by=request.user, now=now)
    if new:
        return redirect("unit_exchanged", new.pk)
    slugs = CAUTIONS[position.kind in IN_WATER]
    context = {
        "position": position,
        "system": position.system,
        "here": here and tables.shown_unit(here.component, now=now, today=today),
        "since": here and here.from_on,
        "last_read": form.last_read,
        "counted": position.kind == PositionKind.METER,
        "form": form,
        "in_water": position.kind in IN_WATER,
        "cautions": sorted(
            Caution.objects.filter(slug__in=slugs), key=lambda c: slugs.index(c.slug)
        ),
    }
    status = 400 if form.is_bound else 200
    return render(request, "systems/exchange_unit.html", context, status=status)


def exchanged(form, position, *, by, now):
    """The new fitting; None where it was refused, and then nothing was written."""
    said = dict(form.cleaned_data)
    try:
        with transaction.atomic():
            new = {name: said.get(name) for name in NEW}
            unit = said["unit"] or enter_unit(
                **new | {"hours_before": new["hours_before"] or 0}, by=by, now=now
            )
            asked = ("on", "reason", "meter_end_h", "meter_start_h", "removed_to", "under_warranty")
            return exchange(
                position,
                fitted=unit,
                by=by,
                now=now,
                warranty=form.warranty(),
                **{name: said[name] for name in asked if name in said},
            )
    except FittingRefused as refused:
        form.add_error(None, str(refused))
        return None


def known_position(request, pk):
    position = tables.placed(pk, System.objects.visible_to(request.user))
    if position is None:
        raise Http404
    return position


def last_read(position, here):
    """What a counter showed last, since the unit there was fitted."""
    if here is None:
        return None
    reads = Reading.objects.standing().filter(
        position=position,
        quantity=Quantity.RUN_HOURS,
        value__isnull=False,
        doubtful=False,
        set__taken_at__date__gte=here.from_on,
    )
    return reads.order_by("-set__taken_at").values_list("value", flat=True).first()


@require_safe
def unit_exchanged(request, pk):
    """What an exchange moved: hours, warranty, due days."""
    fitting = get_object_or_404(Fitting.objects.select_related("component__type"), pk=pk)
    position = known_position(request, fitting.position_id)
    now = timezone.now()
    today = site_date(now, position.system.site.time_zone)
    record = tables.exchange_of(fitting)
    if record is None:
        raise Http404
    old = Component.objects.select_related("type").filter(pk=record.before.get("unit")).first()
    context = {
        "position": position,
        "system": position.system,
        "fitting": fitting,
        "record": record,
        "new": tables.shown_unit(fitting.component, now=now, today=today),
        "old": old and tables.shown_unit(old, now=now, today=today),
        "days": tables.moved_days(record),
    }
    return render(request, "systems/unit_exchanged.html", context)


@require_safe
def unit(request, pk):
    """One serial unit: where it sat when, its hours, works, recalls and warranty."""
    shown = get_object_or_404(Component.objects.select_related("type"), pk=pk)
    now = timezone.now()
    told = tables.shown_unit(shown, now=now, today=timezone.localdate())
    seats = tables.seats_of(shown, told.hours)
    context = {
        "shown": told,
        "unit": shown,
        "seats": seats,
        "works": tables.works_on(shown, seats),
        "recalls": tables.recalls_of(shown),
        "now": now,
    }
    return render(request, "systems/unit.html", context)
