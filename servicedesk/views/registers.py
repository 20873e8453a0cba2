"""Loading the firm's register: look at what it would change, then load it."""

import io
import re

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from customers import access
from servicedesk.actions.registers import RegisterRefused, import_register
from servicedesk.forms.registers import UploadForm
from servicedesk.registers import columns, files, kept

SHOWN = 200
UNREADABLE = 422
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def load_register(request):
    """Choose a file; where it is faultless, its look-over follows."""
    _office_only(request.user)
    form = UploadForm(request.POST or None, request.FILES or None)
    status = 200
    if request.method == "POST":
        status = UNREADABLE
        if form.is_valid():
            content = form.cleaned_data["file"].read(files.BYTES_MAX + 1)
            try:
                _load(request, content, dry_run=True)
            except files.NotARegister as refusal:
                form.add_error("file", str(refusal))
            except RegisterRefused as refusal:
                return _faults(request, refusal, form.cleaned_data["file"].name)
            else:
                return redirect("check_register", kept.keep(content, now=timezone.now()))
    context = {"form": form, "columns": columns.COLUMNS, "notes": columns.NOTES}
    return render(request, "registers/load_register.html", context, status=status)


def check_register(request, digest):
    """What the kept file would change; the button loads it."""
    _office_only(request.user)
    content = kept.kept(digest) if re.fullmatch(r"[0-9a-f]{64}", digest) else None
    if content is None:
        messages.warning(request, _("This file is no longer kept here. Choose it again."))
        return redirect("load_register")
    loading = request.method == "POST"
    try:
        report = _load(request, content, dry_run=not loading)
    except RegisterRefused as refusal:  # what stands here has changed since the look-over
        return _faults(request, refusal, "")
    if loading:
        kept.forget(digest)
        messages.success(request, report.sentence())
        return redirect("systems")
    total = report.total()
    context = {"report": report, "total": total, "changes": report.changes[:SHOWN]}
    context["nothing_new"] = not (total.new or report.changes)
    return render(request, "registers/check_register.html", context)


@require_safe
def register_template(request, kind):
    """The empty template: the columns with one example row."""
    _office_only(request.user)
    if kind not in {"csv", "xlsx"}:
        raise Http404
    body = files.template_csv() if kind == "csv" else files.template_xlsx()
    answer = HttpResponse(body, content_type="text/csv; charset=utf-8" if kind == "csv" else XLSX)
    answer["Content-Disposition"] = f'attachment; filename="register.{kind}"'
    return answer


def _office_only(user):
    if not access.is_office(user):
        raise PermissionDenied


def _load(request, content, *, dry_run):
    return import_register(
        io.BytesIO(content), now=timezone.now(), by=request.user, dry_run=dry_run
    )


def _faults(request, refusal, name):
    context = {"faults": refusal.faults[:SHOWN], "count": len(refusal.faults), "name": name}
    return render(request, "registers/faults.html", context, status=UNREADABLE)
