"""Lists of tickets, and the single ticket with all that bears on it."""

from zoneinfo import ZoneInfo

from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from customers.models import Pond
from servicedesk.models import Caution, Decision, DueItem, OwnerAnswer, StopTicket, Ticket, Work
from servicedesk.planning.standing import standing
from servicedesk.tables import lay_out
from servicedesk.tables.tickets import TicketFilter, TicketTable, rows_of, tickets_listed

HISTORY_ROWS = 30


def tickets(request):
    today = timezone.localdate()
    found = TicketFilter(request.GET, tickets_listed(request.user), today=today)
    table = lay_out(TicketTable(rows_of(found.qs, today)), request)
    return render(request, "tickets/tickets.html", {"table": table, "filter": found})


def ticket(request, pk):
    return render(request, "tickets/ticket.html", ticket_shown(request.user, pk, timezone.now()))


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
        "decisions": Decision.objects.filter(**same, occasion=shown.occasion)
        .select_related("by")
        .order_by("-decided_at"),
        "stops": StopTicket.objects.filter(ticket=shown)
        .select_related("stop__route__technician__user")
        .order_by("-stop__arrive_at"),
        "answers": OwnerAnswer.objects.filter(ticket=shown)
        .select_related("contact")
        .order_by("-recorded_at"),
        "today": today,
    }


def ponds_of(ticket):
    """The ticket's own pond, or those that its system feeds."""
    if ticket.pond_id:
        return [ticket.pond]
    return list(Pond.objects.filter(positions__system=ticket.system_id).distinct().order_by("pk"))
