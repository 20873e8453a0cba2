"""The first page: what needs the manager and the office. A technician starts with his day."""

from collections import Counter
from datetime import timedelta

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Max
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from customers import access
from customers.models import Region
from equipment.actions.assessment import patterns_at
from equipment.kinds import GONE, SystemState
from equipment.models import System
from servicedesk.actions.commissioning.missing import missing_of
from servicedesk.actions.commissioning.service import wanting
from servicedesk.actions.commissioning.sheet import sheets_of
from servicedesk.kinds import Harm, MessageState, OfficeTaskKind, PlanState
from servicedesk.models import (
    CheckIn,
    Commissioning,
    DueItem,
    JobBeat,
    Message,
    OfficeTask,
    OwnerAnswer,
    PlanRun,
    Route,
    Ticket,
)
from servicedesk.planning.calendar import week_name
from servicedesk.tables.systems import ponds_of_systems, to_look_at

JOBS_LATE_AFTER = timedelta(minutes=5)
SHOWN = 12


def home(request):
    if not access.is_office(request.user):
        return redirect("/day/")
    now, today = timezone.now(), timezone.localdate()
    context = {
        "answers": OwnerAnswer.objects.filter(handled_at=None, undone_at=None)
        .select_related("contact__customer", "ticket__task", "ticket__site", "ticket__pond")
        .order_by("-urgent", "recorded_at"),
        "office_tasks": OfficeTask.objects.filter(handled_at=None)
        .exclude(kind__in=[OfficeTaskKind.SILENT, OfficeTaskKind.CHECK_IN])
        .select_related("site", "contact", "ticket__task", "label_report__photo")
        .order_by("-urgent", "due_on", "opened_at"),
        "alone": CheckIn.objects.under_way()
        .select_related("user", "site", "office_task")
        .order_by("back_by", "pk"),
        "overdue": overdue_by_harm(today),
        "to_look_at": to_look_at(request.user),
        "open_tickets": Ticket.objects.open().count(),
        "off": with_ponds(off_systems(request.user, now)),
        "silent": OfficeTask.objects.filter(handled_at=None, kind=OfficeTaskKind.SILENT)
        .select_related("site")
        .order_by("opened_at", "pk")[: SHOWN + 1],
        "handovers": handovers(now, today),
        "together": moved_together(now),
        "weeks": weeks(today),
        "mail": mail_state(now),
        "today": today,
        "shown": SHOWN,
    }
    return render(request, "home.html", context)


def moved_together(now):
    """(region, what is said of it) where many sites moved alike: said once, here."""
    found = patterns_at(now)
    names = dict(Region.objects.filter(pk__in=found).values_list("pk", "name")) if found else {}
    return [(names.get(pk, ""), one.says) for pk, those in found.items() for one in those]


def overdue_by_harm(today):
    """How many due days are past their tolerance, worst harm first."""
    counted = dict(
        DueItem.objects.filter(closes_on__lt=today, paused=False)
        .values_list("task__harm")
        .annotate(Count("pk"))
        .order_by()
    )
    return [(harm, counted[harm]) for harm in Harm if counted.get(harm)]


def off_systems(user, now):
    """Systems that failed or were switched off, the longest off first."""
    return (
        System.objects.visible_to(user)
        .with_state(now)
        .filter(state_now__in=[SystemState.FAILED, SystemState.SHUT_OTHER])
        .select_related("site")
        .prefetch_related(ponds_of_systems())
        .order_by("state_since", "pk")
    )


def with_ponds(systems):
    """As many systems as are shown and one more, each with its ponds."""
    found = list(systems[: SHOWN + 1])
    for system in found:
        system.ponds = [position.pond for position in system.in_water]
    return found


def handovers(now, today):
    """Systems that are handed over now, the oldest record first, each with what is missing."""
    gone = System.objects.with_state(now).filter(state_now__in=GONE)
    records = Commissioning.objects.open().exclude(system__in=gone.values("pk"))
    found = sheets_of(records.order_by("begun_at", "pk")[:SHOWN], on=today, to_count=True)
    for sheet in found:
        sheet.says = wanting(len(missing_of(sheet)))
    return found


def weeks(today):
    """This week and the next: how far their routes are."""
    monday = today - timedelta(days=today.isoweekday() - 1)
    mondays = [monday, monday + timedelta(days=7)]
    routes = Route.objects.filter(
        day__gte=mondays[0], day__lt=mondays[1] + timedelta(days=7)
    ).annotate(stop_count=Count("stops"))
    running = set(
        PlanRun.objects.filter(
            monday_on__in=mondays, state__in=[PlanState.QUEUED, PlanState.RUNNING]
        ).values_list("monday_on", flat=True)
    )
    found = list(routes)
    return [
        _week([r for r in found if first <= r.day < first + timedelta(days=7)], first, running)
        for first in mondays
    ]


def _week(routes, first, running):
    return {
        "monday": first,
        "name": week_name(first),
        "stops": sum(route.stop_count for route in routes),
        "published": any(route.published_at for route in routes),
        "drafts": any(route.stop_count and not route.published_at for route in routes),
        "planning": first in running,
    }


def mail_state(now):
    """How many mails wait, failed or need a decision, and whether the jobs are alive."""
    counted = Counter(
        dict(
            Message.objects.exclude(state__in=[MessageState.SENT, MessageState.CANCELLED])
            .values_list("state")
            .annotate(Count("pk"))
            .order_by()
        )
    )
    beat_at = JobBeat.objects.aggregate(last=Max("beat_at"))["last"]
    return {
        "waiting": counted[MessageState.QUEUED] + counted[MessageState.SENDING],
        "failed": counted[MessageState.FAILED],
        "unsure": counted[MessageState.UNSURE],
        "beat_at": beat_at,
        "jobs_late": beat_at is None or now - beat_at > JOBS_LATE_AFTER,
    }


@require_POST
def handle_answer(request, pk):
    """Somebody has dealt with what an owner said; it leaves the first page."""
    return handle(request, get_object_or_404(OwnerAnswer, pk=pk), _("The answer is handled."))


@require_POST
def handle_office_task(request, pk):
    """One about somebody who is not back ends with a note, and only at the top of the page."""
    tasks = OfficeTask.objects.exclude(kind=OfficeTaskKind.CHECK_IN)
    return handle(request, get_object_or_404(tasks, pk=pk), _("The task is done."))


def handle(request, thing, said):
    """Marks once; whoever presses second changes nothing."""
    if not access.is_office(request.user):
        raise PermissionDenied
    marked = type(thing).objects.filter(pk=thing.pk, handled_at=None)
    if marked.update(
        handled_at=timezone.now(),
        handled_by=request.user,
        handled_note=request.POST.get("note", "")[:250],
    ):
        messages.success(request, said)
    else:
        messages.info(request, _("Somebody else had handled it already."))
    return redirect("home")
