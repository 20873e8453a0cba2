"""Recalls: what is recalled, every unit of it, and what became of each."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from customers import access
from servicedesk.actions import recalls as campaigns
from servicedesk.forms.recalls import OutcomeForm, RecallForm, SerialForm
from servicedesk.models import RecallCampaign, RecallUnit
from servicedesk.registers.sheets import as_csv
from servicedesk.tables.recalls import STANDS, recalls_listed, sheet_of, units_shown

A_PAGE = 50


@require_safe
def recalls(request):
    context = {"recalls": recalls_listed(), "may_open": access.is_manager(request.user)}
    return render(request, "recalls/recalls.html", context)


def open_recall(request):
    """The manager sees how many units are meant before anybody is written to."""
    _manager_only(request.user)
    form = RecallForm(request.POST or None)
    meant = None
    if request.method == "POST" and form.is_valid():
        try:
            if "open" in request.POST:
                campaign = campaigns.open_recall(
                    **form.cleaned_data, by=request.user, now=timezone.now()
                )
                messages.success(request, _("The recall is open. Owners are being written to."))
                return redirect("recall", campaign.pk)
            meant = stands_of(form.cleaned_data)
        except campaigns.RecallRefused as refused:
            form.add_error(None, str(refused))
    status = 400 if form.is_bound and meant is None else 200
    context = {"form": form, "meant": meant}
    return render(request, "recalls/open_recall.html", context, status=status)


def stands_of(asked):
    """How many units stand where, in words, and how many of them have to be looked at."""
    counted = campaigns.count_units(
        asked["types"], asked["serial_from"], asked["serial_to"], now=timezone.now()
    )
    stands = [(STANDS[stood], count) for stood, count in counted.stood.items()]
    return {"stands": stands, "look": counted.look, "all": counted.stood.total()}


@require_safe
def recall(request, pk):
    """The sheet of one recall."""
    campaign = get_object_or_404(RecallCampaign.objects.select_related("opened_by"), pk=pk)
    units = units_shown(campaign)
    page = Paginator(units, A_PAGE).get_page(request.GET.get("page"))
    context = {
        "campaign": campaign,
        "types": campaign.types.order_by("maker", "model"),
        "units": page,
        "waiting": sum(unit.waits for unit in units),
        "may_write": access.is_office(request.user) and campaign.closed_at is None,
        "may_close": access.is_manager(request.user) and campaign.closed_at is None,
        "outcome": OutcomeForm(auto_id=False),
        "serial": SerialForm(auto_id=False),
    }
    return render(request, "recalls/recall.html", context)


@require_safe
def recall_csv(request, pk):
    campaign = get_object_or_404(RecallCampaign, pk=pk)
    answer = HttpResponse(as_csv(sheet_of(units_shown(campaign))), content_type="text/csv")
    answer["Content-Disposition"] = f'attachment; filename="recall-{campaign.pk}.csv"'
    return answer


@require_POST
def close_recall(request, pk):
    _manager_only(request.user)
    campaign = get_object_or_404(RecallCampaign, pk=pk)
    try:
        campaigns.close_recall(campaign, by=request.user, now=timezone.now())
        messages.success(request, _("The recall is closed."))
    except campaigns.RecallRefused as refused:
        messages.error(request, str(refused))
    return redirect("recall", pk)


@require_POST
def recall_outcome(request, pk):
    """What became of a unit in the shop or in stock, or what is known without a visit."""
    return _write(request, pk, OutcomeForm(request.POST), campaigns.record_outcome)


@require_POST
def recall_serial(request, pk):
    """A serial number that somebody has read after all."""
    return _write(request, pk, SerialForm(request.POST), campaigns.record_serial)


def _write(request, pk, form, act):
    if not access.is_office(request.user):
        raise PermissionDenied
    unit = get_object_or_404(RecallUnit.objects.select_related("campaign", "component"), pk=pk)
    try:
        if not form.is_valid():
            raise campaigns.RecallRefused(_("Fill in the field first. Nothing is changed."))
        act(unit, **form.cleaned_data, by=request.user, now=timezone.now())
        messages.success(request, _("Written down."))
    except campaigns.RecallRefused as refused:
        messages.error(request, str(refused))
    return redirect("recall", unit.campaign_id)


def _manager_only(user):
    if not access.is_manager(user):
        raise PermissionDenied
