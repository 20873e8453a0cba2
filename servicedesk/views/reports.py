"""Reports on visits, to the firm's people."""

from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from servicedesk.access import may_read_visit
from servicedesk.models import ServiceReport


@require_safe
def report(request, pk):
    """The report as its owner reads it, with its other versions, to the firm's people."""
    shown = report_for(request.user, pk)
    versions = ServiceReport.objects.filter(visit=shown.visit).order_by(
        "language", "units", "-version"
    )
    context = {"report": shown, "facts": shown.facts, "versions": versions}
    return render(request, "reports/report.html", context)


@require_safe
def report_paper(request, pk):
    """The PDF as it was made; each version under its own name."""
    shown = report_for(request.user, pk)
    file = shown.open_paper()
    if file is None:
        raise Http404
    return FileResponse(file, content_type="application/pdf", filename=shown.paper_name)


def report_for(user, pk):
    found = ServiceReport.objects.select_related("visit__site", "visit__technician", "customer")
    shown = get_object_or_404(found, pk=pk)
    if not may_read_visit(user, shown.visit):
        raise PermissionDenied
    return shown
