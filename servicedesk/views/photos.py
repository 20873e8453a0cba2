"""Photos that came from a phone, and whose visit did not."""

from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from servicedesk.access import office_only
from servicedesk.actions.visits.photos import lost_photos

MOST = 60


@require_safe
@office_only
def photos_without_visit(request):
    found = lost_photos(now=timezone.now()).select_related("by").order_by("-received_at", "pk")
    return render(request, "servicedesk/photos_without_visit.html", {"photos": found[:MOST]})
