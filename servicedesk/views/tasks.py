"""What the firm does, how often, and what each figure rests on."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Q
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from customers import access
from servicedesk.actions import figures
from servicedesk.forms.figures import FigureForm
from servicedesk.models import Task


def tasks(request):
    """Every task with its clocks; the first thing asked of a figure is where it comes from."""
    shown = (
        Task.objects.prefetch_related("rhythms")
        .annotate(own_figures=Count("overrides", distinct=True), open_tickets=open_tickets())
        .order_by("-active", "name")
    )
    return render(request, "tickets/tasks.html", {"tasks": shown})


def open_tickets():
    return Count("tickets", filter=Q(tickets__closed_at=None), distinct=True)


def task(request, pk):
    """One task with its figures; the manager sees what a figure would move before it holds."""
    shown = get_object_or_404(Task.objects.prefetch_related("rhythms"), pk=pk)
    may_change = access.is_manager(request.user)
    if request.method == "POST" and not may_change:
        raise PermissionDenied
    form = FigureForm(request.POST or None, task=shown, initial={"from_on": timezone.localdate()})
    moved = None
    if request.method == "POST" and form.is_valid():
        try:
            moved = look_or_keep(request, form)
        except figures.FigureRefused as refused:
            form.add_error(None, str(refused))
        else:
            if moved is None:
                messages.success(request, _("The figure holds from its day on."))
                return redirect("task", pk)
    context = {
        "task": shown,
        "form": form if may_change else None,
        "moved": moved,
        "own": shown.overrides.select_related(
            "by", "rhythm", "site", "system", "component_type"
        ).order_by("-from_on", "-pk"),
    }
    refused = form.is_bound and moved is None
    return render(request, "tickets/task.html", context, status=400 if refused else 200)


def look_or_keep(request, form):
    """What the figure would move, or None where it was kept."""
    now, today = timezone.now(), timezone.localdate()
    if "keep" not in request.POST:
        return figures.moved_by(form.asked(), by=request.user, today=today, now=now)
    reason = form.cleaned_data["reason"]
    figures.set_figure(form.asked(), by=request.user, reason=reason, today=today, now=now)
    return None
