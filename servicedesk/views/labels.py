"""Labels for cabinets: the office prints them."""

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import OuterRef, Subquery
from django.http import QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from equipment.models import System
from servicedesk.access import office_only
from servicedesk.actions import labels as actions
from servicedesk.charts.codes import code_svg
from servicedesk.forms.labels import SHEETS, LabelFilter
from servicedesk.models import Label

AT_ONCE = 500  # labels on one page to print
A_PAGE = 100


@never_cache
@office_only
@require_safe
def labels(request):
    """The systems, each with its label: which are to be printed, and on what."""
    standing = Label.objects.standing().filter(system=OuterRef("pk"))
    listed = _listed(request.user).annotate(
        code=Subquery(standing.values("code")[:1]),
        printed_at=Subquery(standing.values("printed_at")[:1]),
    )
    found = LabelFilter(request.GET, listed)
    page = Paginator(found.qs, A_PAGE).get_page(request.GET.get("page"))
    query = request.GET.copy()
    query.pop("page", None)
    context = {
        "filter": found,
        "page": page,
        "query": query.urlencode(),
        "sheets": [(key, sheet.words) for key, sheet in SHEETS.items()],
        "at_once": AT_ONCE,
        "address": settings.PUBLIC_ADDRESS,
        "address_is_set": settings.ADDRESS_IS_SET,
    }
    return render(request, "labels/labels.html", context)


def _listed(user):
    listed = System.objects.visible_to(user).select_related("site")
    return listed.order_by("site__name", "key")


@never_cache
@office_only
@require_POST
def label_sheet(request):
    """Labels to print; a system that has none yet gets its code now."""
    systems = _chosen(request)
    if not systems:
        messages.error(request, _("Choose at least one system."))
        return redirect("labels")
    kind = request.POST.get("sheet") if request.POST.get("sheet") in SHEETS else "a4-21"
    made = actions.make_labels([system.pk for system in systems], now=timezone.now())
    printed = [_printed(system, made[system.pk]) for system in systems]
    context = {
        "kind": kind,
        "sheet": SHEETS[kind],
        "pages": _batches(printed, SHEETS[kind].each),
        "count": len(printed),
        "codes": " ".join(label["code"] for label in printed),
        "full": len(printed) == AT_ONCE,
    }
    return render(request, "labels/sheet.html", context)


def _batches(rows, size):
    return [rows[first : first + size] for first in range(0, len(rows), size)]


def _chosen(request):
    """The ticked systems; with "all" every one that the list was narrowed to."""
    listed = _listed(request.user)
    if request.POST.get("which") == "all":
        listed = LabelFilter(QueryDict(request.POST.get("query", "")[:500]), listed).qs
    else:
        ticked = [pk for pk in request.POST.getlist("system") if pk.isdecimal() and len(pk) < 16]
        listed = listed.filter(pk__in=ticked)
    return list(listed[:AT_ONCE])


def _printed(system, label):
    address = settings.PUBLIC_ADDRESS + reverse("label_page", args=[label.code])
    return {"system": system, "code": label.code, "svg": code_svg(address)}


@office_only
@require_POST
def labels_printed(request):
    """Somebody says that the sheets came out well."""
    codes = request.POST.get("codes", "").split()[:AT_ONCE]
    count = actions.mark_printed(codes, now=timezone.now())
    says = ngettext("%s label is marked as printed.", "%s labels are marked as printed.", count)
    messages.success(request, says % count)
    return redirect("labels")


@never_cache
@office_only
@require_http_methods(["GET", "HEAD", "POST"])
def replace_label(request, pk):
    """A new code for a label that was lost or copied; the old one ends."""
    system = get_object_or_404(System.objects.visible_to(request.user), pk=pk)
    if request.method == "POST":
        actions.replace_label(system, now=timezone.now())
        messages.success(request, _("The old label opens nothing any more. Print the new one."))
        return redirect(f"{reverse('labels')}?text={system.key}")
    label = Label.objects.standing().filter(system=system).first()
    return render(request, "labels/replace.html", {"system": system, "label": label})
