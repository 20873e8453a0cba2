"""What the phone does by itself: keep its day, ask whose it is, send closings and photos."""

import io
import json

from django.contrib import messages
from django.contrib.auth import SESSION_KEY
from django.contrib.auth.decorators import login_not_required
from django.http import JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from customers.models import User
from servicedesk import offline
from servicedesk.actions import check_ins
from servicedesk.actions.check_ins import CheckInRefused
from servicedesk.actions.visits.payload import Node, NotYours, VisitRefused
from servicedesk.actions.visits.photos import keep_visit_photo
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.models import CheckIn, Stop, Work
from servicedesk.photos import LARGEST_BYTES, NotAPhoto
from servicedesk.tables.visit import received_says

LARGEST_VISIT = 200_000  # bytes; photos travel by themselves
FORMATS = {"1", "2"}  # of a closing as phones have kept it; an earlier one is never taken out


@login_not_required
@never_cache
@require_safe
def day_worker(request):
    """The script that keeps the day's pages on the phone; it changes with every edition."""
    return render(
        request,
        "servicedesk/phone/worker.js",
        {"edition": offline.edition(), "assets": offline.assets()},
        content_type="text/javascript; charset=utf-8",
    )


@login_not_required
@require_safe
def day_manifest(request):
    """By this the day can be put on the phone's first screen."""
    firm = getattr(request.firm, "name", "")
    icons = [("icon-192.png", "192x192", "any"), ("icon-512.png", "512x512", "any maskable")]
    says = {
        "id": reverse("my_day"),
        "name": f"{gettext('My day')}, {firm}" if firm else gettext("My day"),
        "short_name": gettext("My day"),
        "start_url": reverse("my_day"),
        "scope": reverse("my_day"),
        "display": "standalone",
        "background_color": "#faf8f1",
        "theme_color": "#13232b",
        "icons": [
            {
                "src": offline.asset(f"servicedesk/{name}"),
                "sizes": sizes,
                "type": "image/png",
                "purpose": purpose,
            }
            for name, sizes, purpose in icons
        ],
    }
    return JsonResponse(says, content_type="application/manifest+json")


@login_not_required
@never_cache
@require_safe
def day_session(request):
    """Who is signed in, and with what token he sends; 401 for nobody, 403 for one who has left."""
    if not request.user.is_authenticated:
        gone = User.objects.filter(pk=request.session.get(SESSION_KEY), is_active=False)
        says = gettext("Sign in to send what is waiting.")
        return JsonResponse({"says": says}, status=403 if gone.exists() else 401)
    return JsonResponse(
        {
            "user": request.user.pk,
            "token": get_token(request),
            "now": timezone.now(),
            "edition": offline.edition(),
        }
    )


@login_not_required
@never_cache
@require_POST
def receive_visits(request):
    """A closing as the phone sends it: 201 new, 200 known, 400 with sentences, 401, 403, 422."""
    if not request.user.is_authenticated:
        return JsonResponse({"says": gettext("Sign in to send what is waiting.")}, status=401)
    if len(request.body) > LARGEST_VISIT:
        return JsonResponse({"says": gettext("This closing is too large.")}, status=413)
    payload, refused = _closing_in(request.body)
    if refused:
        return refused
    try:
        visit, new = receive_visit(payload, user=request.user, now=timezone.now())
    except NotYours as refusal:
        return JsonResponse({"says": str(refusal)}, status=403)
    except VisitRefused as refusal:
        faults = {
            name: {"says": f.says, "question": f.question, "meant_unit": f.meant_unit}
            for name, f in refusal.faults.items()
        }
        return JsonResponse({"says": str(refusal), "faults": faults}, status=400)
    if payload.get("shown") == "yes":
        for level, says in received_says(visit, new=new):
            messages.add_message(request, level, says)
    works = {str(w.ticket_id): w.state for w in Work.objects.filter(visit=visit)}
    answer = {"visit": str(visit.uuid), "received_at": visit.received_at, "works": works}
    return JsonResponse(answer, status=201 if new else 200)


@login_not_required
@never_cache
@require_POST
def receive_check_in(request, uuid):
    """What somebody alone said on a phone without signal: that he begins, or is all right."""
    if not request.user.is_authenticated:
        return JsonResponse({"says": gettext("Sign in to send what is waiting.")}, status=401)
    payload, refused = _closing_in(request.body)
    if refused:
        return refused
    now, node = timezone.now(), Node(payload, {})
    off = (node.instant("phone_at", "UTC") or now) - now
    key = node.uuid("check_in")
    if node.yes("all_right"):
        for mine in CheckIn.objects.filter(uuid=key, user=request.user):
            check_ins.end(mine, by=request.user, note="Said that he is all right.", now=now)
        return JsonResponse({"kept": str(uuid)})
    stop = Stop.objects.filter(route__published_at__isnull=False, uuid=node.uuid("stop")).first()
    begun_at, back_by = node.instant("begun_at", "UTC"), node.instant("back_by", "UTC")
    if None in (key, stop, begun_at, back_by):
        return JsonResponse({"says": gettext("This check-in cannot be read.")}, status=400)
    if stop.route.technician.user_id != request.user.pk:
        return JsonResponse({"says": gettext("This stop is not on your route.")}, status=403)
    try:
        check_ins.begin_kept(
            request.user, stop, key=key, begun_at=begun_at - off, back_by=back_by - off, now=now
        )
    except CheckInRefused as refusal:
        return JsonResponse({"says": str(refusal)}, status=400)
    return JsonResponse({"kept": str(uuid)}, status=201)


def _closing_in(body):
    """(what was sent, nothing), or (nothing, why it cannot be understood)."""
    try:
        payload = json.loads(body)
    except (ValueError, RecursionError):
        return None, JsonResponse({"says": gettext("This is not JSON.")}, status=400)
    if isinstance(payload, dict) and str(payload.get("format", 1)) not in FORMATS:
        says = gettext("This closing was kept by a newer page. Ask the office to update.")
        return None, JsonResponse({"says": says}, status=422)
    return payload, None


@login_not_required
@never_cache
@require_POST
def receive_photo(request, uuid):
    """A photo as the phone sends it, as it is; `?visit=` names its visit, which may come later."""
    if not request.user.is_authenticated:
        return JsonResponse({"says": gettext("Sign in to send what is waiting.")}, status=401)
    size = int(request.headers.get("Content-Length") or 0)
    if size > LARGEST_BYTES:
        return JsonResponse({"says": gettext("This photo is too large.")}, status=413)
    visit_key = Node(request.GET.dict(), {}).uuid("visit")
    if visit_key is None:
        return JsonResponse({"says": gettext("Which visit is this photo of?")}, status=400)
    content = request.read(size)
    try:
        photo, new = keep_visit_photo(
            uuid, visit_key, io.BytesIO(content), size, by=request.user, now=timezone.now()
        )
    except NotYours as refusal:
        return JsonResponse({"says": str(refusal)}, status=409)
    except NotAPhoto as refusal:
        return JsonResponse({"says": str(refusal)}, status=400)
    return JsonResponse({"photo": str(photo.uuid)}, status=201 if new else 200)
