"""What the firm does, how often, and what each figure rests on."""

from django.db.models import Count, Q
from django.shortcuts import render

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
