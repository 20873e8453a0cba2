"""What if: two settings of the firm compared over a simulated year. Nothing real is changed."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from customers.models import Site
from equipment.physics.units import readers_unit
from servicedesk.access import office_only
from servicedesk.actions.whatif import runs
from servicedesk.forms.whatif import SettingsForm, WhatIfForm
from servicedesk.models import Task, Technician, WhatIf
from servicedesk.planning.calendar import site_date
from servicedesk.planning.whatif.comparison import seconds_wanted
from servicedesk.planning.whatif.running import first_monday
from servicedesk.planning.whatif.year import ITERATIONS, WEEKS
from servicedesk.tables.whatif import (
    assumptions,
    changes_in_words,
    csv_of,
    progress_of,
    sheet_of,
)

A_PAGE = 30


@never_cache
@require_safe
@office_only
def what_ifs(request):
    found = WhatIf.objects.select_related("asked_by").order_by("-asked_at", "-pk")
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "whatif/what_ifs.html", {"page": page})


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def new_what_if(request):
    data, unit = request.POST or None, _unit(request)
    form = WhatIfForm(data, unit=unit)
    a, b = SettingsForm(data, prefix="a"), SettingsForm(data, prefix="b")
    if data and all([form.is_valid(), a.is_valid(), b.is_valid()]):
        if a.settings == b.settings:
            b.add_error(None, _("Both settings are the same. Change something in B."))
        else:
            return redirect("what_if", _ask(request, form, a.settings, b.settings).pk)
    sites = Site.objects.count()
    minutes = max(1, round(seconds_wanted(sites, WEEKS, ITERATIONS) / 60))
    context = {"form": form, "a": a, "b": b, "minutes": minutes, "sites": sites}
    status = 422 if form.errors or a.errors or b.errors else 200
    return render(request, "whatif/new_what_if.html", context, status=status)


def _ask(request, form, a, b):
    people = {str(row.pk): str(row) for row in Technician.objects.select_related("user")}
    tasks = dict(Task.objects.values_list("slug", "name"))
    words = tuple(changes_in_words(settings, people, tasks) for settings in (a, b))
    data = form.cleaned_data
    name = data["name"] or "; ".join(words[1]) or _("As today")
    return runs.ask_what_if(
        name[:120],
        a,
        b,
        by=request.user,
        now=timezone.now(),
        words=words,
        weeks=data["weeks"],
        iterations=data["iterations"],
        seed=data["seed"],
        rates=form.rates,
    )


def _unit(request):
    return readers_unit("distance", request.user.units)


@never_cache
@require_safe
@office_only
def what_if(request, pk):
    asked = get_object_or_404(WhatIf.objects.select_related("asked_by"), pk=pk)
    progress = progress_of(asked)
    context = {
        "asked": asked,
        "begins_on": first_monday(site_date(asked.asked_at, request.firm.time_zone)),
        "sides": asked.sides.defer("result").order_by("side"),
        "progress": progress,
        "sheet": sheet_of(asked, unit=_unit(request)),
        "assumptions": assumptions(asked, unit=_unit(request)),
    }
    return render(request, "whatif/what_if.html", context)


@never_cache
@require_safe
@office_only
def what_if_progress(request, pk):
    """A piece of the page, asked for every second; when the year is over the page loads anew."""
    asked = get_object_or_404(WhatIf, pk=pk)
    progress = progress_of(asked)
    if progress is None:
        return HttpResponseClientRefresh() if request.htmx else redirect("what_if", pk=pk)
    return render(request, "whatif/progress.html", {"asked": asked, "progress": progress})


@require_POST
@office_only
def cancel_what_if(request, pk):
    runs.cancel_what_if(get_object_or_404(WhatIf, pk=pk), now=timezone.now())
    return redirect("what_if", pk=pk)


@require_POST
@office_only
def delete_what_if(request, pk):
    asked = get_object_or_404(WhatIf, pk=pk)
    if asked.state in runs.UNDER_WAY:
        messages.error(request, _("It is still being simulated. Stop it first."))
        return redirect("what_if", pk=pk)
    asked.delete()
    messages.success(request, _("The comparison is deleted."))
    return redirect("what_ifs")


@require_safe
@office_only
def what_if_csv(request, pk):
    asked = get_object_or_404(WhatIf, pk=pk)
    answer = HttpResponse(csv_of(asked, unit=_unit(request)), content_type="text/csv")
    answer["Content-Disposition"] = f'attachment; filename="what-if-{asked.pk}.csv"'
    return answer
