"""Handing over a system: the sheet, its steps, its photos, and putting it into service."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers import access
from customers.models import Pond
from equipment.actions.readings import ReadingsRefused
from equipment.kinds import NOT_IN_SERVICE, SystemState
from equipment.models import System
from servicedesk.actions.commissioning import steps
from servicedesk.actions.commissioning.begin import (
    BeginRefused,
    next_key,
    plan_system,
)
from servicedesk.actions.commissioning.begin import (
    begin_commissioning as begin,
)
from servicedesk.actions.commissioning.first import keep_first_readings, keep_start
from servicedesk.actions.commissioning.fitted import keep_compressor
from servicedesk.actions.commissioning.missing import missing_of
from servicedesk.actions.commissioning.pictures import keep_photo
from servicedesk.actions.commissioning.said import Said, StepRefused
from servicedesk.actions.commissioning.service import put_in_service as put
from servicedesk.actions.commissioning.service import wanting
from servicedesk.actions.commissioning.sheet import sheet_of
from servicedesk.forms.commissioning.base import STEPS
from servicedesk.forms.commissioning.compressor import CompressorForm
from servicedesk.forms.commissioning.lines import LinesForm
from servicedesk.forms.commissioning.readings import ReadingsForm
from servicedesk.forms.commissioning.service import PlanForm, ServiceForm
from servicedesk.forms.commissioning.steps import (
    ElectricsForm,
    PapersForm,
    PeopleForm,
    PondForm,
    SiteForm,
    StartForm,
)
from servicedesk.kinds import Step
from servicedesk.models import Caution, Photo
from servicedesk.photos import NotAPhoto
from servicedesk.tables.commissioning import answered_of, facts_of, steps_of

FORMS = {
    Step.SITE: (SiteForm, steps.keep_site),
    Step.PEOPLE: (PeopleForm, steps.keep_people),
    Step.POND: (PondForm, steps.keep_ponds),
    Step.ELECTRICS: (ElectricsForm, steps.keep_electrics),
    Step.COMPRESSOR: (CompressorForm, keep_compressor),
    Step.LINES: (LinesForm, steps.keep_line_step),
    Step.START: (StartForm, keep_start),
    Step.READINGS: (ReadingsForm, keep_first_readings),
    Step.PAPERS: (PapersForm, steps.keep_papers),
}
CAUTIONS = {  # what is said where the person acts
    Step.SITE: ["insects"],
    Step.ELECTRICS: ["electricity", "digging", "self_start"],
    Step.COMPRESSOR: ["self_start", "heat"],
    Step.LINES: ["boat", "cold_water", "lightning", "digging", "between_ponds"],
    Step.START: ["restart", "ice", "electricity"],
    Step.READINGS: ["electricity", "heat", "pressure_test"],
    Step.PAPERS: ["ice", "bank_only"],
}
NEXT = dict(zip(FORMS, [*list(FORMS)[1:], None], strict=True))


@require_http_methods(["GET", "HEAD", "POST"])
def new_system(request):
    """Enters a system that is to be built; its commissioning record opens with it."""
    if not access.is_office(request.user):
        raise PermissionDenied
    pond = Pond.objects.filter(pk=_number(request.GET.get("pond"))).first()
    start = {"pond": pond.key if pond else "", "key": next_key()}
    form = PlanForm(request.POST or None, initial=start | {"installed_on": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            system = plan_system(typed["pond"].site, by=request.user, now=timezone.now(), **typed)
        except BeginRefused as refused:
            form.add_error(None, str(refused))
        else:
            return redirect("commissioning", system.pk)
    status = 400 if form.is_bound else 200
    return render(request, "commissioning/new_system.html", {"form": form}, status=status)


@require_safe
def commissioning(request, pk):
    """The record: what is missing, the steps, and all that is known, to read and to print."""
    return _sheet_page(request, _system(request, pk))


@require_POST
def begin_commissioning(request, pk):
    if not access.is_office(request.user):
        raise PermissionDenied
    system = _system(request, pk)
    try:
        begin(system, because="begun by hand", by=request.user, now=timezone.now())
    except BeginRefused as refused:
        messages.error(request, str(refused))
    return redirect("commissioning", pk)


@require_http_methods(["GET", "HEAD", "POST"])
def commissioning_step(request, pk, step):
    """One step: what was typed is kept, photos at once, and what is odd is asked about."""
    system = _system(request, pk)
    if step not in list(Step):
        raise Http404
    sheet, step = _sheet(system), Step(step)
    if sheet is None or sheet.record.in_service_at is not None:
        messages.info(request, _("This record is closed. The system's own pages go on."))
        return redirect("commissioning", pk)
    with timezone.override(sheet.site.time_zone):
        return _step_page(request, sheet, step)


@require_POST
def put_in_service(request, pk):
    """The system goes into service by the name of whoever presses the button."""
    system = _system(request, pk)
    sheet = _sheet(system)
    if sheet is None:
        raise Http404
    with timezone.override(sheet.site.time_zone):
        form, questions = ServiceForm(request.POST, sheet=sheet), []
        if form.is_valid() and not (questions := form.questions()):
            now, said = timezone.now(), Said(doubts=form.confirmed)
            try:
                put(sheet.record, said=said, by=request.user, now=now, **form.cleaned_data)
            except StepRefused as refused:
                form.add_error(refused.field or None, str(refused))
            else:
                messages.success(
                    request,
                    _("In service. A second set of readings falls due 7 to 30 days from now."),
                )
                return redirect("commissioning", pk)
        return _sheet_page(request, system, form=form, questions=questions, status=400)


@require_safe
def photo(request, uuid):
    """A photo, to the firm's people alone."""
    shown = get_object_or_404(Photo, uuid=uuid)
    try:
        answer = FileResponse(shown.file.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404 from None
    answer["Cache-Control"] = "private, max-age=86400, immutable"
    return answer


def _sheet_page(request, system, *, form=None, questions=(), status=200):
    now, sheet = timezone.now(), _sheet(system)
    if sheet is None:
        state = System.objects.with_state(now).get(pk=system.pk).state_now
        waits = state is None or state in NOT_IN_SERVICE | {SystemState.COMMISSIONING}
        context = {"system": system, "may_begin": waits and access.is_office(request.user)}
        return render(request, "commissioning/none.html", context)
    with timezone.override(sheet.site.time_zone):
        missing = missing_of(sheet)
        if form is None and not missing and sheet.record.in_service_at is None:
            timed = sheet.hours_per_day is not None and sheet.hours_per_day < 24
            state = SystemState.RUNNING_TIMER if timed else SystemState.RUNNING
            form = ServiceForm(sheet=sheet, initial={"at": timezone.localtime(), "state": state})
        context = {
            "sheet": sheet,
            "system": system,
            "missing": missing,
            "wanting": wanting(len(missing)),
            "steps": steps_of(sheet, missing),
            "facts": facts_of(sheet, request.user.units),
            "answered": answered_of(sheet),
            "form": form,
            "questions": questions,
        }
        return render(request, "commissioning/sheet.html", context, status=status)


def _step_page(request, sheet, step):
    now = timezone.now()
    form, questions = _form(request, sheet, step, now), []
    if request.method == "POST":
        kept = _keep_photos(request, sheet, form, now)
        sure = form.is_valid() and not (questions := form.questions())
        if sure and _keep(request, sheet, step, form, now):
            return _onward(request, sheet, step)
        if kept:
            form.sheet = _sheet(sheet.system)
    missing = missing_of(sheet)
    slugs = CAUTIONS.get(step, [])
    cautions = {row.slug: row for row in Caution.objects.filter(slug__in=slugs)}
    context = {
        "sheet": sheet,
        "system": sheet.system,
        "form": form,
        "questions": questions,
        "step": step,
        "title": STEPS[step],
        "steps": steps_of(sheet, missing),
        "missing": [gap for gap in missing if gap.step == step],
        "cautions": [cautions[slug] for slug in slugs if slug in cautions],
        "back": _before(step),
    }
    status = 400 if request.method == "POST" else 200
    return render(request, "commissioning/step.html", context, status=status)


def _form(request, sheet, step, now):
    own = {}
    if step == Step.LINES:
        number = _number(request.POST.get("plate") or request.GET.get("plate"))
        own["plate"] = next((p for p in sheet.plates if p.pk == number), None)
        if own["plate"] is None and "plate" not in request.GET and request.method != "POST":
            own["plate"] = next((p for p in sheet.plates if p.pk not in sheet.lines), None)
    if step == Step.READINGS:
        own["now"] = now
    made, _keep_step = FORMS[step]
    return made(request.POST or None, request.FILES or None, sheet=sheet, user=request.user, **own)


def _keep_photos(request, sheet, form, now):
    """Photos are kept at once, whatever else is wrong on the page; how many were."""
    kept = 0
    for kind in form.pictures:
        file = request.FILES.get(f"photo_{kind}")
        if file is None:
            continue
        try:
            keep_photo(sheet, kind, file, file.size, by=request.user, now=now)
            kept += 1
        except (NotAPhoto, StepRefused) as refused:
            form.add_error(f"photo_{kind}", str(refused))
    if kept:
        says = ngettext("%s photo kept.", "%s photos kept.", kept)
        messages.success(request, says % kept)
    return kept


def _keep(request, sheet, step, form, now):
    """Whether the action took it; a refusal stands in the form beside what was typed."""
    _form_class, keep = FORMS[step]
    try:
        keep(sheet, said=form.said(), by=request.user, now=now, **form.values())
    except StepRefused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, str(refused))
        return False
    except ReadingsRefused as refused:
        form.add_error(None, str(refused))
        return False
    return True


def _onward(request, sheet, step):
    messages.success(request, _("Kept: %s.") % STEPS[step])
    pk = sheet.system.pk
    if request.POST.get("then") == "again":
        return redirect("commissioning_step", pk, step)
    following = NEXT[step]
    if request.POST.get("then") == "sheet" or following is None:
        return redirect("commissioning", pk)
    return redirect("commissioning_step", pk, following)


def _before(step):
    order = list(FORMS)
    place = order.index(step)
    return order[place - 1] if place else None


def _system(request, pk):
    return get_object_or_404(System.objects.visible_to(request.user).select_related("site"), pk=pk)


def _sheet(system):
    today = timezone.now().astimezone(ZoneInfo(system.site.time_zone)).date()
    return sheet_of(system.pk, on=today)


def _number(word):
    return int(word) if word and word.isdecimal() and len(word) < 15 else None
