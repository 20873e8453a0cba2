"""Starting a system again: readings, a named yes, the start, and each day of the ramp."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers import access as roles
from equipment.actions.profiles import ProfileRefused
from equipment.models import System
from servicedesk import access, offline
from servicedesk.actions.restarts import approve, run
from servicedesk.actions.restarts.course import today_of
from servicedesk.actions.restarts.known import known_of
from servicedesk.actions.restarts.propose import RestartRefused, propose_restart
from servicedesk.actions.states import state_at
from servicedesk.forms.restarts import (
    SEEN,
    ApproveForm,
    CloseForm,
    ReadForm,
    StartForm,
    StepForm,
    StopForm,
    WatchForm,
)
from servicedesk.models import Restart
from servicedesk.planning.calendar import site_date
from servicedesk.planning.restart.proposal import CURRENT, ICE, WATER
from servicedesk.planning.restart.states import RestartState
from servicedesk.tables.restarts import shown as restart_shown

OFFICE_ACTS = {"approve", "resume", "close", "watch"}  # a manager's name is asked for below
OFFERED = {
    RestartState.PROPOSED: ("approve", "close"),
    RestartState.APPROVED: ("start", "close"),
    RestartState.UNDER_WAY: ("step", "stop", "resume", "watch", "close"),
}


@require_safe
def restart(request, pk):
    """The restart of a system that is open, or the last one; before the first, what to do."""
    system = get_object_or_404(System.objects.select_related("site__region"), pk=pk)
    found = _of_system(system).first()
    return _page(request, system, found)


@require_http_methods(["GET", "HEAD", "POST"])
def read_restart(request, pk):
    """What is read at the pond before a start; the table then says how."""
    system = get_object_or_404(System.objects.select_related("site__region"), pk=pk)
    now = timezone.now()
    if not _may_work(request.user, system, now):
        raise PermissionDenied
    known = known_of(system, now=now)
    with timezone.override(system.site.time_zone):
        form = ReadForm(request.POST or None, known=known, units=request.user.units, opened_at=now)
        if request.method == "POST" and form.is_valid():
            try:
                propose_restart(system, form.told(), by=request.user, now=now)
            except ProfileRefused as refused:
                form.ask(refused.says) if refused.question else _refuse(form, refused.says)
            except RestartRefused as refused:
                form.add_error(None, str(refused))
            else:
                return redirect("restart", system.pk)
        state = state_at(system, now)
        context = {"system": system, "site": system.site, "known": known, "form": form}
        context |= {"cautions": [WATER, CURRENT, ICE], "system_state": state}
        status = 400 if form.is_bound else 200
        return render(request, "restarts/read_restart.html", context, status=status)


@require_POST
def restart_act(request, pk, act):
    """One thing to press on the page of a restart; what is refused stands there in words."""
    if act not in ACTS:
        raise Http404
    found = get_object_or_404(_all(), pk=pk)
    now = timezone.now()
    if not _may_press(request.user, act, found, now):
        raise PermissionDenied
    if act not in OFFERED.get(found.state, ()):
        messages.error(request, _("This was changed meanwhile. Look at it as it stands now."))
        return redirect("restart", found.system_id)
    with timezone.override(found.system.site.time_zone):
        form = _form(act, found, now, request.POST)
        if form is None or form.is_valid():
            try:
                said = ACTS[act](found, form, by=request.user, now=now)
            except RestartRefused as refused:
                if form is None:
                    messages.error(request, str(refused))
                    return redirect("restart", found.system_id)
                form.add_error(None, str(refused))
            else:
                messages.success(request, said)
                return redirect("restart", found.system_id)
    found.refresh_from_db()
    return _page(request, found.system, found, {act: form})


@never_cache
@require_safe
def day_restart(request, pk):
    """The guarded steps of a start, for the phone; kept for a pond without signal."""
    system = get_object_or_404(System.objects.select_related("site__region"), pk=pk)
    now = timezone.now()
    today = now.astimezone(ZoneInfo(system.site.time_zone)).date()
    own = access.stops_of(request.user, today).filter(site=system.site).exists()
    found = _of_system(system).first()
    if found and found.state not in OFFERED:
        found = None
    context = _context(request, system, found, now) | offline.quiet(request)
    with timezone.override(system.site.time_zone):
        page = render(request, "servicedesk/phone/day_restart.html", context)
    return offline.kept(request, page, now=timezone.localtime(), mine=own)


def _all():
    return Restart.objects.select_related(
        "system__site__region", "read_by", "approved_by", "started_by"
    ).prefetch_related("steps", "holds")


def _of_system(system):
    return _all().filter(system=system).order_by("-made_at", "-pk")


def _may_work(user, system, now):
    return access.may_work_at(user, system.site, site_date(now, system.site.time_zone))


def _may_press(user, act, found, now):
    """Whoever sees that something is wrong may stop a ramp."""
    if act in OFFICE_ACTS:
        return roles.is_office(user)
    return act == "stop" or _may_work(user, found.system, now)


def _refuse(form, says):
    for sentence in says:
        form.add_error(None, sentence)


def _context(request, system, found, now):
    context = {
        "system": system,
        "site": system.site,
        "known": known_of(system, now=now),
        "system_state": state_at(system, now),
        "cautions": found.proposed.get("cautions") if found else [WATER, CURRENT, ICE],
        "may_work": _may_work(request.user, system, now),
        "is_office": roles.is_office(request.user),
        "is_manager": roles.is_manager(request.user),
        "today": site_date(now, system.site.time_zone),
    }
    return context | (restart_shown(found, now=now) if found else {})


def _page(request, system, found, bound=None):
    now = timezone.now()
    with timezone.override(system.site.time_zone):
        context = _context(request, system, found, now)
        if found:
            offered = OFFERED.get(found.state, ())
            context["forms"] = {act: _form(act, found, now, None) for act in offered}
            context["forms"] |= bound or {}
            context["earlier"] = list(_of_system(system).exclude(pk=found.pk)[:20])
        status = 400 if bound else 200
        return render(request, "restarts/restart.html", context, status=status)


def _form(act, found, now, data):
    """The form behind a press, with names of its own beside the others; some ask nothing."""
    more = {"prefix": act}
    if act == "approve":
        return ApproveForm(data, restart=found, today=today_of(found, now), **more)
    if act == "step":
        return StepForm(data, today=today_of(found, now), minutes=_minutes(found, now), **more)
    kinds = {"start": StartForm, "stop": StopForm, "close": CloseForm, "watch": WatchForm}
    return kinds[act](data, **more) if act in kinds else None


def _minutes(found, now):
    due = restart_shown(found, now=now).get("today_step")
    return due and due.minutes


def _approve(found, form, *, by, now):
    approve.approve_restart(found, form.given(), by=by, now=now)
    return _("Approved. The owner is told by mail before the start.")


def _start(found, form, *, by, now):
    run.start_restart(found, by=by, now=now, told_how=form.cleaned_data["told_how"])
    return _("Started. Stay for the first half hour.")


def _step(found, form, *, by, now):
    run.record_step(found, form.cleaned_data["on"], form.said(), by=by, now=now)
    return _("Kept. The days to come follow from it.")


def _stop(found, form, *, by, now):
    typed = form.cleaned_data
    said = [str(dict(SEEN)[sign]) + "." for sign in typed["seen"]]
    said += [typed["words"]] if typed["words"] else []
    run.stop_ramp(found, said, by=by, now=now, stands_still=typed["switched_off"])
    return _("On hold. The managers are told at once.")


def _resume(found, form, *, by, now):
    run.resume_ramp(found, by=by, now=now)
    return _("It goes on, one step back.")


def _close(found, form, *, by, now):
    run.close_restart(found, by=by, reason=form.cleaned_data["reason"], now=now)
    return _("Closed. Before a start the water is read anew.")


def _watch(found, form, *, by, now):
    run.name_watcher(found, form.cleaned_data["on"], form.cleaned_data["name"], by=by, now=now)
    return _("Kept.")


ACTS = {
    "approve": _approve,
    "start": _start,
    "step": _step,
    "stop": _stop,
    "resume": _resume,
    "close": _close,
    "watch": _watch,
}
