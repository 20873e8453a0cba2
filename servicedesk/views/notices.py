"""The notices about thin ice: who has not acknowledged, the calls, the words, the local rules."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers.kinds import Role
from customers.models import Region, Site
from servicedesk.access import office_only
from servicedesk.actions.winter import heat, notices, rules, words
from servicedesk.actions.winter.blocking import WinterRefused
from servicedesk.forms.winter import CallForm, RulesForm, TextForm
from servicedesk.models import Hold, IceRules, NoticeDelivery, NoticeText
from servicedesk.planning.agency_texts import NOT_NEAR_AN_AERATOR, agency_texts
from servicedesk.planning.winter.notice_words import FIRST_WORDS
from servicedesk.tables.winter import notice_counts, notice_rows, places_with_rules


@require_safe
@office_only
def notice_list(request):
    """Who was told of thin ice and has not acknowledged; everybody, where it is asked for."""
    everybody = request.GET.get("all") == "yes"
    context = {
        "rows": notice_rows(everybody=everybody),
        "everybody": everybody,
        "counts": notice_counts(),
    }
    return render(request, "winter/notices.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def notice_call(request, pk):
    """The words to read out by phone, and who spoke and when."""
    delivery = get_object_or_404(
        NoticeDelivery.objects.select_related("contact__customer", "notice__pond__site", "text"),
        pk=pk,
    )
    now = timezone.now()
    with timezone.override(ZoneInfo(delivery.notice.pond.site.time_zone)):
        form = CallForm(request.POST or None, initial={"called_at": timezone.localtime(now)})
        if request.method == "POST" and form.is_valid():
            try:
                notices.record_call(delivery, **form.cleaned_data, by=request.user, now=now)
            except WinterRefused as refused:
                form.add_error(None, str(refused))
            else:
                messages.success(request, _("On record: who spoke, and when."))
                return redirect("notices")
        context = {"delivery": delivery, "form": form}
        return render(request, "winter/call.html", context, status=422 if form.errors else 200)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def notice_texts(request, language="en"):
    """The words in force, every version before, and a new one."""
    if language not in FIRST_WORDS:
        raise Http404
    now = timezone.now()
    in_force = words.text_in_force(language, now=now)
    form = TextForm(request.POST or None, initial={"text": in_force.text})
    if request.method == "POST":
        _manager_only(request)
        if form.is_valid():
            try:
                made = words.new_version(
                    language, form.cleaned_data["text"], by=request.user, now=now
                )
            except WinterRefused as refused:
                form.add_error("text", str(refused))
            else:
                messages.success(
                    request, _("Words no. %s hold for every notice from now on.") % made.version
                )
                return redirect("notice_texts", language=language)
    context = {
        "language": language,
        "languages": list(FIRST_WORDS),
        "in_force": in_force,
        "versions": NoticeText.objects.filter(language=language)
        .select_related("made_by")
        .order_by("-version"),
        "form": form,
        "may_write": request.user.role == Role.MANAGER,
    }
    return render(request, "winter/texts.html", context, status=422 if form.errors else 200)


@require_safe
@office_only
def ice_rules(request):
    """What the local authority asks, region by region; and what agencies print, cited."""
    regions, sites = places_with_rules()
    context = {
        "regions": regions,
        "sites": sites,
        "texts": agency_texts(),
        "not_near": NOT_NEAR_AN_AERATOR,
    }
    return render(request, "winter/rules.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def edit_ice_rules(request, kind, pk):
    """The rules of one region or one site."""
    model = {"region": Region, "site": Site}.get(kind)
    if model is None:
        raise Http404
    place = get_object_or_404(model, pk=pk)
    found = IceRules.objects.filter(**{kind: place}).first()
    form = RulesForm(request.POST or None, initial=_rules_initial(found))
    if request.method == "POST":
        _manager_only(request)
        if form.is_valid():
            try:
                rules.keep_rules(place, form.cleaned_data, by=request.user, now=timezone.now())
            except WinterRefused as refused:
                form.add_error(None, str(refused))
            else:
                messages.success(
                    request, _("Kept. Every winter there is judged by it from now on.")
                )
                return redirect("ice_rules")
    context = {"place": place, "kind": kind, "form": form, "rules": found}
    context["may_write"] = request.user.role == Role.MANAGER
    return render(request, "winter/edit_rules.html", context, status=422 if form.errors else 200)


def _rules_initial(found):
    if found is None:
        return {}
    names = ("sign_rule", "inspection_days", "permit", "no_choice", "asked", "source")
    return {name: getattr(found, name) for name in names} | {
        "checklist": "\n".join(found.checklist)
    }


@require_POST
@office_only
def tell_of_heat(request, pk):
    """Write to the owners under a heat hold."""
    hold = get_object_or_404(Hold, pk=pk)
    try:
        owed = heat.tell_of_heat(hold, by=request.user, now=timezone.now())
    except WinterRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Mails to write: %d. Nobody is told twice.") % owed)
    return redirect("hold", pk=pk)


def _manager_only(request):
    if request.user.role != Role.MANAGER:
        raise PermissionDenied(_("Only a manager changes this."))
