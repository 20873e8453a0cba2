"""Putting right what a visit said of parts and defects."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from servicedesk import access
from servicedesk.actions.visits.corrections import CorrectionRefused
from servicedesk.actions.visits.corrections import correct_visit as correct
from servicedesk.forms.corrections import CorrectionForm
from servicedesk.models import Visit
from servicedesk.planning.calendar import site_date


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct_visit(request, uuid):
    """The office at any time, whoever was there on the day on which he sent it."""
    now = timezone.now()
    visit = get_object_or_404(Visit.objects.select_related("site", "technician"), uuid=uuid)
    if not access.may_correct(request.user, visit, today=site_date(now, visit.site.time_zone)):
        raise PermissionDenied(_("This visit is of another day. Ask the office to correct it."))
    form = CorrectionForm(request.POST or None, visit=visit)
    if request.method == "POST" and form.is_valid():
        because = form.cleaned_data["because"]
        try:
            changed = correct(visit, form.right, because=because, by=request.user, now=now)
        except CorrectionRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            says = ngettext("Put right: %d entry.", "Put right: %d entries.", changed) % changed
            messages.success(request, says)
            return redirect("day_visit", uuid=uuid)
    status = 422 if form.errors else 200
    context = {"visit": visit, "form": form}
    return render(request, "servicedesk/phone/correct_visit.html", context, status=status)
