"""Lists of tickets, and the single ticket with all that bears on it."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from customers import access
from customers.models import Pond
from equipment.models import Position
from servicedesk.actions import tickets as actions
from servicedesk.actions import work as work_actions
from servicedesk.actions.routes.parts import why_held
from servicedesk.actions.way_in import AGREE_FIRST
from servicedesk.forms.tickets import CancelForm, PostponeForm, WaiveForm
from servicedesk.models import (
    Caution,
    Decision,
    DueItem,
    OwnerAnswer,
    PartOrder,
    StopTicket,
    Ticket,
    Work,
)
from servicedesk.planning.calendar import week_name
from servicedesk.planning.standing import standing
from servicedesk.tables import lay_out
from servicedesk.tables.papers import papers_of
from servicedesk.tables.tickets import TicketFilter, TicketTable, rows_of, tickets_listed

HISTORY_ROWS = 30
DEEDS = {
    "postpone": (PostponeForm, gettext_lazy("Postpone")),
    "waive": (WaiveForm, gettext_lazy("Do without")),
    "cancel": (CancelForm, gettext_lazy("Cancel this ticket")),
}


def tickets(request):
    today = timezone.localdate()
    found = TicketFilter(request.GET, tickets_listed(request.user), today=today)
    table = lay_out(TicketTable(rows_of(found.qs, today)), request)
    return render(request, "tickets/tickets.html", {"table": table, "filter": found})


@require_safe
def ticket(request, pk):
    context = ticket_shown(request.user, pk, timezone.now())
    if access.is_office(request.user) and not context["ticket"].closed_at:
        context["deeds"] = deeds_of(context["ticket"])
        context["weeks"] = weeks_to_place_in(timezone.localdate())
    return render(request, "tickets/ticket.html", context)


def weeks_to_place_in(today):
    return [
        (_("Place by hand this week"), week_name(today)),
        (_("Place by hand next week"), week_name(today + timedelta(days=7))),
    ]


@require_POST
def postpone_ticket(request, pk):
    return decide(request, pk, "postpone", actions.postpone_ticket)


@require_POST
def waive_ticket(request, pk):
    return decide(request, pk, "waive", actions.waive_ticket)


@require_POST
def cancel_ticket(request, pk):
    return decide(request, pk, "cancel", actions.cancel_ticket)


@require_POST
def withdraw_decision(request, pk):
    """Takes a decision back; the due day and the ticket are as if it had not been made."""
    if not access.is_office(request.user):
        raise PermissionDenied
    decision = get_object_or_404(Decision, pk=pk)
    actions.withdraw_decision(decision, now=timezone.now())
    messages.success(request, _("The decision is taken back."))
    about = Ticket.objects.filter(
        place_key=decision.place_key, task=decision.task_id, occasion=decision.occasion
    ).order_by("-opened_at")
    newest = about.first()
    return redirect("ticket", newest.pk) if newest else redirect("tickets")


def decide(request, pk, deed, act):
    """Carries a decision out, or shows the ticket again with what was typed and what is wrong."""
    if not access.is_office(request.user):
        raise PermissionDenied
    now = timezone.now()
    decided = get_object_or_404(Ticket.objects.visible_to(request.user), pk=pk)
    form = DEEDS[deed][0](request.POST)
    if form.is_valid():
        try:
            act(decided, by=request.user, now=now, **form.cleaned_data)
        except actions.TicketRefused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Kept: %s") % form.cleaned_data["reason"])
            return redirect("ticket", pk)
    context = ticket_shown(request.user, pk, now) | {"deeds": deeds_of(decided, deed, form)}
    return render(request, "tickets/ticket.html", context, status=400)


def deeds_of(ticket, deed=None, form=None):
    """The decisions that can be taken; the one that was refused keeps what was typed."""
    return [
        {
            "words": words,
            "form": form if name == deed else kind(),
            "address": reverse(f"{name}_ticket", args=[ticket.pk]),
        }
        for name, (kind, words) in DEEDS.items()
    ]


def ticket_shown(user, pk, now):
    """Everything the page of one ticket says."""
    shown = get_object_or_404(
        Ticket.objects.visible_to(user).select_related(
            "task", "site", "system", "position", "pond", "component__type"
        ),
        pk=pk,
    )
    today = now.astimezone(ZoneInfo(shown.site.time_zone)).date()
    same = {"place_key": shown.place_key, "task": shown.task_id}
    due = DueItem.objects.filter(**same, occasion=shown.occasion).first()
    names = [shown.occasion, *(due.basis.get("known_as", ()) if due else ())]
    return {
        "ticket": shown,
        "ponds": ponds_of(shown),
        "due": due,
        "standing": standing(
            today,
            opens_on=due.opens_on if due else None,
            due_on=due.due_on if due else shown.due_when_opened_on,
            closes_on=due.closes_on if due else None,
            paused=due.paused if due else False,
        ),
        "cautions": Caution.objects.filter(slug__in=shown.task.cautions),
        "works": Work.objects.filter(**same)
        .select_related("task", "position", "user")
        .order_by("-done_at")[:HISTORY_ROWS],
        "decisions": Decision.objects.filter(**same, occasion__in=names)
        .select_related("by")
        .order_by("-decided_at"),
        "stops": StopTicket.objects.filter(ticket=shown)
        .select_related("stop__route__technician__user")
        .order_by("-stop__arrive_at"),
        "answers": OwnerAnswer.objects.filter(ticket=shown)
        .select_related("contact")
        .order_by("-recorded_at"),
        "papers": papers_of(user, Work.objects.filter(ticket=shown).values("visit")),
        "today": today,
        **waits_of(shown, today, now),
    }


def waits_of(ticket, today, now):
    """What keeps an open ticket back, and the parts that were ordered for it."""
    held = why_held(today=today, now=now).get(ticket.pk) if not ticket.closed_at else None
    orders = PartOrder.objects.filter(ticket=ticket).select_related("part").order_by("-pk")
    return {"held": held, "agree_first": held == AGREE_FIRST, "orders": orders}


def ponds_of(ticket):
    """The ticket's own pond, or those that its system feeds."""
    if ticket.pond_id:
        return [ticket.pond]
    return list(
        Pond.objects.filter(
            pk__in=Position.objects.lying().filter(system=ticket.system_id).values("pond")
        ).order_by("pk")
    )


@require_POST
def accept_work(request, pk):
    return judge(request, pk, _("The closing counts now."), work_actions.accept_work)


@require_POST
def refuse_work(request, pk):
    return judge(request, pk, _("The closing does not count."), work_actions.refuse_work)


@require_POST
def verify_work(request, pk):
    return judge(request, pk, _("The work is marked as seen by us."), work_actions.verify_work)


def judge(request, pk, said, act):
    """What the office says of a closing under review, or of work that others reported."""
    if not access.is_office(request.user):
        raise PermissionDenied
    work = get_object_or_404(Work, pk=pk)
    try:
        act(work, by=request.user, now=timezone.now())
    except work_actions.WorkRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, said)
    if work.ticket_id:
        return redirect("ticket", work.ticket_id)
    return redirect("system", work.system_id) if work.system_id else redirect("tickets")
