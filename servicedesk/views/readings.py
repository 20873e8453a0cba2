"""What was measured at a system, on which gauges, and what it says."""

from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers import access as roles
from equipment.actions import assessment, baselines, causes, gauges
from equipment.actions.rigs import setups_of
from equipment.models import Baseline, Configuration, Gauge, Position, ReadingSet, System
from equipment.physics import units
from servicedesk.actions.assessing import assess, changes_of
from servicedesk.forms.readings import GaugeForm
from servicedesk.models import Visit
from servicedesk.tables.readings import Readings, other_causes
from servicedesk.tables.valves import balance


@require_safe
def system_readings(request, pk):
    """Readings over time with their band, line by line, and what they say."""
    shown, now = _system(request, pk), timezone.now()
    today = now.astimezone(ZoneInfo(shown.site.time_zone)).date()
    judged = _judged(shown, now, request.user.units)
    hung = list(Gauge.objects.filter(system=shown).order_by("-from_on", "pk"))
    readings = Readings(judged, on=today, gauges=hung, visits=_visits(judged.history.sets))
    offered = readings.offered()
    asked = request.GET.get("show", "")
    word = asked if asked in dict(offered) else next((w for w, _name in offered), "")
    context = {
        "system": shown,
        "site": shown.site,
        "ponds": _ponds(shown),
        "said": assessment.told(judged.verdict),
        "offered": offered,
        "word": word,
        "chart": readings.chart(word) if word else None,
        "changes": readings.changes(word) if word else [],
        "lines": readings.lines(),
        "rows": readings.rows(word),
        "gauges": hung,
        "baselines": _baselines(shown),
        "proposals": [one for one in judged.verdict.proposals if one.set],
        "other_causes": other_causes(_slugs(judged.verdict)),
        "not_found": causes.NOT_FOUND,
        "key": uuid4(),
        "today": today,
    }
    return render(request, "systems/system_readings.html", context)


@require_POST
def confirm_baseline(request, pk):
    """A set of readings becomes what its configuration is compared with."""
    if not roles.is_office(request.user):
        raise PermissionDenied
    shown, now = _system(request, pk), timezone.now()
    number = request.POST.get("set", "")
    if not number.isdecimal() or len(number) > 15:
        raise Http404
    taken = get_object_or_404(ReadingSet, pk=number, system=shown)
    configuration = get_object_or_404(Configuration, pk=taken.configuration_id)
    try:
        baselines.confirm_baseline(configuration, taken, by=request.user, now=now)
    except baselines.BaselineRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Confirmed. Later readings are compared with these."))
        assess([shown.pk], now=now)
    return redirect("system_readings", shown.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def record_gauge(request, pk):
    """Writes down which gauge hangs there; readings of those days go over to it."""
    shown, now = _system(request, pk), timezone.now()
    today = now.astimezone(ZoneInfo(shown.site.time_zone)).date()
    form = GaugeForm(
        request.POST or None, reader_units=request.user.units, initial={"from_on": today}
    )
    if request.method == "POST" and form.is_valid():
        try:
            gauges.record_gauge(shown, by=request.user, now=now, **form.facts())
        except gauges.GaugeRefused as refused:
            form.add_error(None, str(refused))
        else:
            assess([shown.pk], now=now)
            messages.success(request, _("Kept. A new series of readings begins that day."))
            return redirect("system_readings", shown.pk)
    status = 400 if form.is_bound else 200
    return render(
        request, "systems/record_gauge.html", {"system": shown, "form": form}, status=status
    )


def _system(request, pk):
    return get_object_or_404(
        System.objects.visible_to(request.user).select_related("site", "site__region"), pk=pk
    )


def _judged(shown, now, reader_units):
    mass = assessment.patterns_at(now)
    changes = changes_of([shown.pk], now=now)
    found = assessment.judge([shown.pk], now=now, changes=changes, mass=mass, units=reader_units)
    return found[shown.pk]


def _slugs(verdict):
    return [one.slug for one in verdict.ranking.causes] if verdict.ranking else []


def _ponds(shown):
    places = Position.objects.lying().filter(system=shown).select_related("pond")
    return list({place.pond_id: place.pond for place in places.order_by("pk")}.values())


def _visits(sets):
    """The visit of each set, by its key."""
    through = Visit.reading_sets.through
    rows = through.objects.filter(readingset__in=[one.key for one in sets])
    return dict(rows.values_list("readingset_id", "visit__uuid"))


def _baselines(shown):
    """What readings are compared with, the newest first, one line for each set."""
    rows = Baseline.objects.filter(configuration__system=shown).select_related(
        "configuration", "position", "confirmed_by", "from_set"
    )
    found = {}
    for row in rows.order_by("-from_set__taken_at", "quantity", "pk"):
        found.setdefault(row.from_set_id, []).append(row)
    return list(found.values())


@require_safe
def valve_sheet(request, pk):
    """What each line gets with today's valves, and how they would share the air as wanted."""
    shown, now = _system(request, pk), timezone.now()
    today = now.astimezone(ZoneInfo(shown.site.time_zone)).date()
    setup = setups_of([shown.pk])[shown.pk]
    rig = setup.rigs(today).get(setup.key_on(today))
    labels = [line.label for line in rig.lines] if rig else []
    wanted, wrong = _shares(request.GET, labels)
    context = {
        "system": shown,
        "site": shown.site,
        "ponds": _ponds(shown),
        "configuration": setup.names.get(setup.key_on(today), ""),
        "balance": balance(rig, wanted),
        "wrong": wrong,
        "today": today,
    }
    return render(request, "systems/valve_sheet.html", context)


def _shares(asked, labels):
    """(share by line, a sentence where one cannot be read); a decimal comma is fine."""
    wanted, wrong = {}, ""
    for label in labels:
        text = asked.get(f"share {label}", "").strip()
        if not text:
            continue
        try:
            wanted[label] = units.typed_number(text[:20])
        except ValueError as error:
            wrong = str(error)
    if wanted and (min(wanted.values()) < 0 or not any(wanted.values())):
        wrong = _("Give each line 0 or more, and at least one line some air.")
        wanted = {}
    return wanted, wrong


@require_POST
def confirm_cause(request, pk):
    """What it was in the end; it shifts what is expected of all systems."""
    shown, now = _system(request, pk), timezone.now()
    back = request.POST.get("visit", "")
    visit = Visit.objects.filter(uuid=_uuid(back)).first() if _uuid(back) else None
    try:
        causes.confirm_cause(
            shown,
            cause=request.POST.get("cause") or request.POST.get("other", ""),
            found_at=visit.left_at or visit.arrived_at if visit else now,
            by=request.user,
            now=now,
            key=_uuid(request.POST.get("uuid", "")) or uuid4(),
            note=request.POST.get("note", ""),
        )
    except causes.CauseRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Noted. What is found counts for what is expected next."))
    if visit:
        return redirect("day_visit", uuid=visit.uuid)
    return redirect("system_readings", shown.pk)


def _uuid(text):
    try:
        return UUID(text)
    except ValueError:
        return None
