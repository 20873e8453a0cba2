"""What a scanned label opens: the system for our people, a page to report for anybody else."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from customers import access as roles
from servicedesk import access
from servicedesk.actions import labels as actions
from servicedesk.forms.labels import LabelReportForm
from servicedesk.forms.owner import ADVICE, SIGNS
from servicedesk.models import Label, LabelReport
from servicedesk.planning.calendar import site_date


@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def label_page(request, code):
    """Our people go on to the system, whoever else scanned reads whom to call and may report.

    It says nothing of the owner, of where this is, or of the way in.
    """
    label = _label(code)
    if label is None:
        return render(request, "labels/unknown.html", status=404)
    if request.user.is_authenticated:
        return _to_the_system(request.user, label)
    form = LabelReportForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            sent = _report(request, label, form.cleaned_data)
        except actions.TooMany:
            return render(request, "labels/too_many.html", status=429)
        return redirect("label_reported", label.code, sent.uuid)
    context = {"form": form, "label": label, "dangers": _dangers()}
    status = 422 if form.errors else 200
    return render(request, "labels/page.html", context, status=status)


def _label(code):
    standing = Label.objects.standing().filter(code=code.upper())
    return standing.select_related("system__site").first()


def _to_the_system(user, label):
    site = label.system.site
    if roles.is_technician(user):
        today = site_date(timezone.now(), site.time_zone)
        if stop := access.stops_of(user, today).filter(site=site).first():
            return redirect("day_stop", stop.uuid)
    return redirect("system", label.system_id)


def _report(request, label, said):
    sender = salted_hmac("servicedesk.labels", request.META.get("REMOTE_ADDR", "")).hexdigest()
    return actions.report(
        label,
        uuid=said["uuid"],
        sign=said["sign"],
        text=said["words"],
        name=said["name"],
        phone=said["phone"],
        sender=sender,
        photo=said["photo"],
        now=timezone.now(),
    )


def _dangers():
    return [(words, ADVICE[sign]) for sign, words in SIGNS if sign in actions.ALARMS]


@login_not_required
@never_cache
@require_safe
def label_reported(request, code, uuid):
    """What to do now, by what was seen."""
    sent = get_object_or_404(LabelReport.objects.select_related("label"), uuid=uuid)
    if sent.label.code != code.upper():
        raise Http404
    context = {"sent": sent, "seen": dict(SIGNS)[sent.sign], "advice": ADVICE[sent.sign]}
    return render(request, "labels/reported.html", context)
