"""Working alone: a check-in on the phone, and its end by him or by the office."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from customers import access as roles
from servicedesk import access
from servicedesk.actions import check_ins
from servicedesk.actions.check_ins import CheckInRefused
from servicedesk.models import CheckIn, Stop
from servicedesk.planning.calendar import site_date

NEXT = timedelta(days=1)


@require_POST
def begin_check_in(request, uuid):
    """Alone here, back by a time of today at the pond."""
    stops = Stop.objects.filter(route__published_at__isnull=False).select_related("site")
    stop = get_object_or_404(stops, uuid=uuid)
    now = timezone.now()
    today = site_date(now, stop.site.time_zone)
    if not access.may_work_at(request.user, stop.site, today):
        raise PermissionDenied(_("This stop is not on your route of today."))
    try:
        back_by = _instant(request.POST.get("back_by", ""), now, stop.site.time_zone)
        check_ins.begin(request.user, stop, back_by=back_by, now=now)
    except CheckInRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("You are checked in. The office is alarmed if you are late."))
    return redirect(reverse("day_stop", args=[uuid]) + "#alone")


def _instant(text, now, zone):
    """A time of the clock as the next such time; what lies too far away is refused later."""
    try:
        at = time.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise CheckInRefused(_("Write the time like 14:30.")) from None
    day = site_date(now, zone)
    back_by = datetime.combine(day, at, ZoneInfo(zone))
    return back_by if back_by > now else datetime.combine(day + NEXT, at, ZoneInfo(zone))


@require_POST
def longer_check_in(request, uuid):
    """He is all right and needs more time."""
    mine = _mine(request, uuid)
    try:
        check_ins.stay_longer(mine, now=timezone.now())
    except CheckInRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("You have half an hour more."))
    return _back(mine)


@require_POST
def end_check_in(request, uuid):
    """I am all right."""
    mine = _mine(request, uuid)
    note = "Said on the phone that he is all right."
    if check_ins.end(mine, by=request.user, note=note, now=timezone.now()):
        messages.success(request, _("Good. Your check-in has ended."))
    else:
        messages.info(request, _("This check-in had ended already."))
    return _back(mine)


def _mine(request, uuid):
    found = CheckIn.objects.select_related("user", "site", "stop")
    return get_object_or_404(found, uuid=uuid, user=request.user)


def _back(check_in):
    if check_in.stop:
        return redirect(reverse("day_stop", args=[check_in.stop.uuid]) + "#alone")
    return redirect("my_day")


@require_POST
def resolve_check_in(request, uuid):
    """The office has heard of him; who, when and how stays on record."""
    if not roles.is_office(request.user):
        raise PermissionDenied
    check_in = get_object_or_404(CheckIn, uuid=uuid)
    note = " ".join(request.POST.get("note", "").split())
    if not note:
        messages.error(request, _("Write how he is, and who spoke with him."))
    elif check_ins.end(check_in, by=request.user, note=note, now=timezone.now()):
        messages.success(request, _("Noted. The check-in has ended."))
    else:
        messages.info(request, _("Somebody else had ended it already."))
    return redirect("home")
