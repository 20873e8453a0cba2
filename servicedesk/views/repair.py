"""When a day goes wrong: say what happened, see what would change, accept it, take it back."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from equipment.physics.units import readers_unit
from servicedesk.access import office_only
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.actions.routes.repairs import accept as accepting
from servicedesk.actions.routes.repairs.propose import propose
from servicedesk.forms.repair import FORMS, EmergencyForm
from servicedesk.models import Repair, Ticket
from servicedesk.planning.calendar import week_monday, week_name
from servicedesk.tables.asked import date_at
from servicedesk.tables.repair import repair_shown
from servicedesk.tables.tickets import tickets_listed
from servicedesk.tables.waiting import SHOWN
from servicedesk.tables.week import days_to_come


def _today(request):
    """The date on the wall of the shop."""
    return date_at(request.firm, timezone.now())


def _monday(name):
    try:
        return week_monday(name)
    except ValueError as error:
        raise Http404(str(error)) from None


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def repair_week(request, name):
    """Say what went wrong. The way out is worked out and shown; nothing changes yet."""
    days = days_to_come(_monday(name), _today(request))
    if not days:
        raise Http404(_("This week is over."))
    forms = {key: _form(request, key, days) for key in FORMS}
    form = forms.get(request.POST.get("what")) if request.method == "POST" else None
    if form is not None and form.is_valid():
        try:
            repair = propose(
                form.what(), by=request.user, today=_today(request), now=timezone.now()
            )
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            return redirect("repair", pk=repair.pk)
    context = {
        "name": name,
        "number": days[0].isocalendar().week,
        "sections": [(key, title, forms[key]) for key, (_form_class, title) in FORMS.items()],
        "open": request.POST.get("what") or request.GET.get("what", "away"),
        "repairs": Repair.objects.filter(monday_on=_monday(name), accepted_at__isnull=False)
        .select_related("accepted_by")
        .order_by("-accepted_at")[:20],
    }
    status = 422 if form is not None and form.errors else 200
    return render(request, "week/repair_week.html", context, status=status)


def _form(request, key, days):
    form_class, _title = FORMS[key]
    mine = request.method == "POST" and request.POST.get("what") == key
    start = {name: value for name, value in request.GET.items() if name != "what"}
    if request.GET.get("what") != key:
        start = {}
    more = {"zone": request.firm.time_zone if request.firm else "UTC"}
    more["unit"] = readers_unit("distance", request.user.units)
    if form_class is EmergencyForm:
        more["waiting"] = _waiting(request, start.get("ticket"), days)
    return form_class(request.POST if mine else None, days=days, initial=start, **more)


def _waiting(request, chosen, days):
    """Tickets that may be an emergency: the one asked for, and those that wait longest."""
    found = (
        tickets_listed(request.user)
        .filter(planned_on=None)
        .select_related("task", "site", "system")
    )
    rows = list(found.order_by("due_on", "pk")[:SHOWN])
    if chosen and chosen.isdigit() and int(chosen) not in {row.pk for row in rows}:
        one = Ticket.objects.open().visible_to(request.user).filter(pk=chosen)
        rows = [*one.select_related("task", "site", "system"), *rows]
    return rows


@never_cache
@require_safe
@office_only
def repair(request, pk):
    found = get_object_or_404(Repair.objects.select_related("accepted_by", "undone_by"), pk=pk)
    context = {
        "repair": found,
        "name": week_name(found.monday_on),
        "number": found.monday_on.isocalendar().week,
        "zone": request.firm.time_zone,
        **repair_shown(found),
    }
    return render(request, "week/repair.html", context)


@require_POST
@office_only
def accept_repair(request, pk):
    found = get_object_or_404(Repair, pk=pk)
    try:
        accepted = accepting.accept(
            found, by=request.user, today=_today(request), now=timezone.now()
        )
    except RouteRefused as refused:
        _say_why_not(request, refused)
        return redirect("repair", pk=pk)
    words = _("The days are changed. Nobody is mailed, because no owner's day changed.")
    if repair_shown(accepted)["owners"]:
        words = _("The days are changed. Owners whose day changed are told by mail.")
    messages.success(request, words)
    return redirect("repair", pk=pk)


@require_POST
@office_only
def undo_repair(request, pk):
    found = get_object_or_404(Repair, pk=pk)
    try:
        accepting.undo(found, by=request.user, today=_today(request), now=timezone.now())
    except RouteRefused as refused:
        _say_why_not(request, refused)
    else:
        messages.success(request, _("The days are as they were before."))
    return redirect("repair", pk=pk)


def _say_why_not(request, refused):
    for sentence in refused.sentences:
        messages.error(request, sentence)
