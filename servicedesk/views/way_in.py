"""Getting in at a site: the way, who must be home, whose power it is, and agreed times."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from customers import access
from customers.kinds import ContactState
from customers.models import Contact, Ownership, Pond, Site
from servicedesk.actions import way_in as actions
from servicedesk.forms.way_in import AgreedForm, OwnerHoursForm, WayInForm
from servicedesk.models import Ticket
from servicedesk.planning.calendar import site_date


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def way_in(request, pk):
    if request.method == "POST" and not access.is_office(request.user):
        raise PermissionDenied(_("The manager and the office change this. Tell them."))
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    sent = request.POST.get("act") if request.method == "POST" else None
    forms = {
        "way": WayInForm(request.POST if sent == "way" else None, instance=site),
        "hours": OwnerHoursForm(request.POST if sent == "way" else None, site=site),
        "agreed": AgreedForm(request.POST if sent == "agreed" else None, prefix="agreed"),
    }
    if (sent == "way" and _kept(request, site, forms)) or (
        sent == "agreed" and _agreed(request, site, forms["agreed"])
    ):
        return redirect("way_in", pk)
    site.refresh_from_db()
    status = 422 if any(form.errors for form in forms.values()) else 200
    context = {"site": site, "forms": forms, **_shown(site, timezone.now())}
    return render(request, "systems/way_in.html", context, status=status)


def _shown(site, now):
    today = site_date(now, site.time_zone)
    owners = Ownership.objects.on_day(today).filter(Q(site=site) | Q(pond__site=site))
    tickets = Ticket.objects.open().filter(site=site)
    return {
        "ponds": Pond.objects.filter(site=site).order_by("pk"),
        "contacts": Contact.objects.filter(
            customer__in=owners.values("customer"), state=ContactState.ACTIVE
        ).order_by("pk"),
        "open_tickets": tickets.count(),
        "agreed": tickets.filter(promised_until__gt=now)
        .values_list("promised_from", "promised_until")
        .order_by("promised_from")
        .distinct(),
    }


def _kept(request, site, forms):
    if not (forms["way"].is_valid() and forms["hours"].is_valid()):
        return False
    actions.save_way_in(
        Site.objects.get(pk=site.pk),
        forms["way"].cleaned_data,
        forms["hours"].hours,
        by=request.user,
        now=timezone.now(),
    )
    messages.success(request, _("Kept."))
    return True


def _agreed(request, site, form):
    if not form.is_valid():
        return False
    try:
        count = actions.agree_visit(site, **form.cleaned_data, by=request.user, now=timezone.now())
    except actions.WayInRefused as refused:
        form.add_error(None, str(refused))
        return False
    says = ngettext(
        "The time is kept for %d ticket; the next planning holds it.",
        "The time is kept for %d tickets; the next planning holds it.",
        count,
    )
    messages.success(request, says % count)
    return True
