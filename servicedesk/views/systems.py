"""A system, a pond: all that is known, as one story."""

from datetime import timedelta
from functools import partial
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import F, FilteredRelation, Q
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from customers import access
from customers.models import Ownership, Pond
from equipment.kinds import PositionUse
from equipment.models import (
    Assessment,
    ConfigurationLine,
    Position,
    ProfilePoint,
    Reading,
    StateChange,
    System,
)
from servicedesk.access import may_work_at
from servicedesk.actions import states
from servicedesk.actions.tickets import WELL_AWAY
from servicedesk.forms.closing import RESTART
from servicedesk.forms.states import RedateForm, StateForm, StrikeForm
from servicedesk.kinds import Outcome, WorkState
from servicedesk.models import Caution, Defect, DueItem, SystemCheck, Ticket, Work
from servicedesk.planning.calendar import week_name
from servicedesk.planning.standing import standing
from servicedesk.tables import PageFirst, lay_out
from servicedesk.tables.papers import papers_of
from servicedesk.tables.systems import SystemFilter, SystemTable, systems_listed

ENTERED_LATE = timedelta(days=1)
SOON = timedelta(days=120)
THURSDAY = 4  # from then on the next week is what is being made
HISTORY_ROWS = 60


def systems(request):
    now, today = timezone.now(), timezone.localdate()
    found = SystemFilter(
        request.GET, systems_listed(request.user, now=now, today=today), today=today
    )
    table = lay_out(SystemTable(PageFirst(found.qs), today=today), request)
    return render(request, "systems/systems.html", {"table": table, "filter": found})


def system(request, pk):
    now = timezone.now()
    shown = get_object_or_404(
        System.objects.visible_to(request.user)
        .select_related("site", "site__region")
        .prefetch_related("site__hazards"),
        pk=pk,
    )
    today = now.astimezone(ZoneInfo(shown.site.time_zone)).date()
    places = positions_of(shown)
    lying = [place for place in places if place.pond and place.use != PositionUse.REMOVED]
    ponds = list({place.pond_id: place.pond for place in lying}.values())
    changes = states_of(shown)
    readings = readings_of(shown)
    context = {
        "system": shown,
        "site": shown.site,
        "ponds": ponds,
        "places": places,
        "may_exchange": may_work_at(request.user, shown.site, today),
        "owners": owners_of(shown.site, ponds),
        "states": changes,
        "state": next((change for change in changes if change.at <= now), None),
        "configuration": configuration_of(shown, today),
        **due_by_nearness(DueItem.objects.filter(system=shown), today),
        "last": last_readings(readings),
        "said": said_of(shown),
        "papers": papers_of(request.user, SystemCheck.objects.filter(system=shown).values("visit")),
        "history": history_of(shown),
        "tickets": Ticket.objects.open()
        .filter(system=shown)
        .select_related("task", "position")
        .order_by("due_when_opened_on", "pk"),
        "defects": Defect.objects.standing()
        .filter(system=shown)
        .order_by(F("mended_at").asc(nulls_first=True), "-seen_at")[:HISTORY_ROWS],
        "today": today,
    }
    return render(request, "systems/system.html", context)


def readings_of(shown):
    """Readings that stand, newest first, as many as a chart has room for."""
    return list(
        Reading.objects.standing()
        .filter(set__system=shown)
        .select_related("set", "position")
        .order_by("-set__taken_at", "pk")[:600]
    )


def record_state(request, pk):
    """Writes down what a system did from a moment on; late news is entered at its own day."""
    shown = for_the_office(request, System, pk)
    with timezone.override(shown.site.time_zone):
        form = StateForm(request.POST or None, initial={"at": timezone.localtime()})
        if request.method == "POST" and form.is_valid():
            act = partial(states.record_state, shown, by=request.user, **form.facts())
            if done(request, form, act):
                return redirect("system", shown.pk)
        context = {"system": shown, "form": form, "caution": caution_on_starting()}
        return render(request, "systems/record_state.html", context, status=status_of(form))


def redate_state(request, pk):
    """A state that began at another moment; what was decided about it stays with it."""
    change = for_the_office(request, StateChange, pk)
    with timezone.override(change.system.site.time_zone):
        form = RedateForm(request.POST or None, initial={"at": timezone.localtime(change.at)})
        if request.method == "POST" and form.is_valid():
            act = partial(states.date_anew, change, by=request.user, **form.cleaned_data)
            if done(request, form, act):
                return redirect("system", change.system_id)
        context = {"change": change, "site": change.system.site, "form": form}
        return render(request, "systems/redate_state.html", context, status=status_of(form))


def strike_state(request, pk):
    """Strikes out a state entered by mistake; the row stays on record."""
    change = for_the_office(request, StateChange, pk)
    form = StrikeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        act = partial(states.strike_state, change, by=request.user, **form.cleaned_data)
        if done(request, form, act):
            return redirect("system", change.system_id)
    context = {"change": change, "site": change.system.site, "form": form}
    return render(request, "systems/strike_state.html", context, status=status_of(form))


def for_the_office(request, kind, pk):
    if not access.is_office(request.user):
        raise PermissionDenied
    return get_object_or_404(kind, pk=pk)


def done(request, form, act):
    """Whether the action took it; a refusal stands in the form beside what was typed."""
    try:
        act(now=timezone.now())
    except states.StateRefused as refused:
        form.add_error(None, str(refused))
        return False
    messages.success(request, _("Kept. Due days are computed again."))
    return True


def status_of(form):
    return 400 if form.is_bound else 200


def caution_on_starting():
    kept = Caution.objects.filter(slug="restart").first()
    return kept.text if kept else RESTART


def positions_of(shown):
    """Positions with the component fitted now, in one question."""
    return list(
        Position.objects.filter(system=shown)
        .annotate(current=FilteredRelation("fittings", condition=Q(fittings__to_on=None)))
        .annotate(
            unit_id=F("current__component"),
            serial=F("current__component__serial"),
            maker=F("current__component__type__maker"),
            model=F("current__component__type__model"),
            fitted_on=F("current__from_on"),
        )
        .select_related("pond")
        .order_by("kind", "label")
    )


def owners_of(site, ponds):
    return (
        Ownership.objects.filter(Q(site=site) | Q(pond__in=ponds))
        .select_related("customer", "pond")
        .order_by(F("to_on").desc(nulls_first=True), "-from_on")
    )


def states_of(shown):
    """State changes that stand, newest first, each with the instant at which the next began."""
    changes = list(
        StateChange.objects.standing()
        .filter(system=shown)
        .select_related("by", "approved_by")
        .order_by("-at", "-state")
    )
    until = None
    for change in changes:
        change.until, until = until, change.at
        change.entered_late = change.entered_at - change.at > ENTERED_LATE
    return changes


def configuration_of(shown, today):
    """The lines of the configuration in force, deepest first."""
    lines = list(
        ConfigurationLine.objects.filter(
            configuration__system=shown, configuration__from_on__lte=today
        )
        .select_related("configuration", "position")
        .order_by("-configuration__from_on", F("depth_m").desc(nulls_last=True))
    )
    return [line for line in lines if line.configuration_id == lines[0].configuration_id]


def with_standing(items, today):
    """Due items in the order of their days, each with what it means today."""
    items = list(
        items.select_related("task", "position").order_by(
            "paused", F("due_on").asc(nulls_last=True), "pk"
        )
    )
    for item in items:
        item.standing = standing(
            today,
            opens_on=item.opens_on,
            due_on=item.due_on,
            closes_on=item.closes_on,
            paused=item.paused,
        )
    return items


def pull_week(item, today):
    """The week to which work may be pulled forward: it opens soon, and has no ticket yet."""
    alone = item.task.crew == 1 and not item.task.needs_boat
    if item.paused or item.opens_on is None or not alone:
        return ""
    if not today < item.opens_on <= today + WELL_AWAY:
        return ""
    return week_name(today + timedelta(days=7 if today.isoweekday() >= THURSDAY else 0))


def due_by_nearness(items, today):
    """`due` soon or late, and `later`, which the page keeps folded."""
    every = with_standing(items, today)
    for item in every:
        item.pull_week = pull_week(item, today)
    near = [item for item in every if item.due_on and item.due_on <= today + SOON]
    return {"due": near, "later": [item for item in every if item not in near]}


def last_readings(readings):
    """The newest value of each quantity and position; `readings` come newest first."""
    newest = {}
    for reading in readings:
        if reading.value is not None:
            newest.setdefault((reading.quantity, reading.position_id), reading)
    return list(newest.values())


def said_of(shown):
    """What the newest readings say, as it was kept; None before the first."""
    newest = Assessment.objects.filter(system=shown).order_by("-at", "-pk").first()
    return newest.basis if newest else None


def history_of(shown):
    """Work and visits, newest first, one entry for each stay."""
    entries = {}
    checks = SystemCheck.objects.filter(system=shown).select_related("visit__technician")
    for check in checks.order_by("-visit__arrived_at")[:HISTORY_ROWS]:
        entries["visit", check.visit_id] = {
            "at": check.visit.arrived_at,
            "visit": check.visit,
            "check": check,
            "works": [],
            "entered_late": check.visit.received_at - check.visit.arrived_at > ENTERED_LATE,
        }
    works = Work.objects.filter(system=shown).select_related(
        "task", "position", "user", "contact", "visit__technician"
    )
    for work in works.order_by("-done_at")[:HISTORY_ROWS]:
        key = ("visit", work.visit_id) if work.visit_id else ("work", work.pk)
        entry = entries.setdefault(
            key,
            {
                "at": work.done_at,
                "visit": work.visit,
                "works": [],
                "entered_late": work.entered_at - work.done_at > ENTERED_LATE,
            },
        )
        plain = work.outcome == Outcome.DONE and work.state == WorkState.ACCEPTED
        plain = plain and work.verified and not work.note
        entry.setdefault("plain" if plain else "works", []).append(work)
    return sorted(entries.values(), key=lambda entry: entry["at"], reverse=True)


def pond(request, pk):
    now = timezone.now()
    shown = get_object_or_404(Pond.objects.select_related("site", "site__region"), pk=pk)
    today = now.astimezone(ZoneInfo(shown.site.time_zone)).date()
    readings = list(
        Reading.objects.standing()
        .filter(set__pond=shown)
        .select_related("set", "position")
        .order_by("-set__taken_at", "pk")[:200]
    )
    context = {
        "pond": shown,
        "site": shown.site,
        "systems": System.objects.visible_to(request.user)
        .with_state(now)
        .filter(pk__in=Position.objects.lying().filter(pond=shown).values("system"))
        .order_by("name"),
        "owners": owners_of(shown.site, [shown]),
        **due_by_nearness(DueItem.objects.filter(pond=shown), today),
        "last": last_readings(readings),
        "profile": newest_profile(shown),
        "works": Work.objects.filter(pond=shown)
        .select_related("task", "user", "position")
        .order_by("-done_at")[:HISTORY_ROWS],
        "today": today,
    }
    return render(request, "systems/pond.html", context)


def newest_profile(shown):
    """Temperature and oxygen by depth, as last measured."""
    points = list(
        ProfilePoint.objects.filter(set__pond=shown)
        .select_related("set")
        .order_by("-set__taken_at", "depth_m")[:60]
    )
    return [point for point in points if point.set_id == points[0].set_id]
