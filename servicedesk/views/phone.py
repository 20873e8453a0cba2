"""The technician's day on his phone: the stops, the way in, and closing tickets at the pond."""

from datetime import date, timedelta

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers import access as roles
from equipment.actions.readings import ReadingsRefused
from equipment.models import Reading, System
from servicedesk import access, offline
from servicedesk.actions.secrets import look_at, looked_at
from servicedesk.actions.visits.corrections import correct_visit_reading
from servicedesk.actions.visits.payload import NotYours, VisitRefused
from servicedesk.actions.visits.photos import keep_visit_photo, photo_key
from servicedesk.actions.visits.receive import receive_visit
from servicedesk.actions.visits.sent import visit_key
from servicedesk.actions.work import refuse_work, verify_work
from servicedesk.forms.blocks import payload_of
from servicedesk.forms.closing import ClosingForm
from servicedesk.models import DueItem, Photo, Route, Stop, Ticket, Visit, Work
from servicedesk.photos import NotAPhoto
from servicedesk.planning.calendar import site_date
from servicedesk.tables.day import stop_shown, stops_placed, stops_shown
from servicedesk.tables.papers import papers_of
from servicedesk.tables.publishing import news_shown
from servicedesk.tables.visit import received_says, visit_shown
from servicedesk.templatetags.restarts import with_steps


@never_cache
@require_safe
def my_day(request):
    """The stops of a day in driving order; the office may look at anybody's."""
    today = timezone.localdate()
    day, wrong = _day_asked(request, today)
    routes = Route.objects.filter(day=day, published_at__isnull=False).select_related(
        "technician__user"
    )
    office = roles.is_office(request.user)
    own = list(routes if office else routes.filter(technician__user=request.user))
    chosen = request.GET.get("technician", "")
    if office and len(own) > 1:
        own = [route for route in own if str(route.technician_id) == chosen]
    route = own[0] if own else None
    context = {
        "day": day,
        "today": today,
        "wrong": wrong,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "route": route,
        "routes": routes if office else [],
    }
    if not route and not context["routes"]:
        context["next_day"] = _next_day(request.user, day, office)
    if route:
        context["stops"], context["load"] = stops_shown(route, today)
        context["news"] = news_shown(route)
        context["is_own"] = route.technician.user_id == request.user.pk
        if context["is_own"] and day == today:
            context["keep"] = _pages_of(context["stops"])
    context |= offline.quiet(request)
    page = render(request, "servicedesk/phone/my_day.html", context, status=400 if wrong else 200)
    return offline.kept(request, page, now=timezone.localtime(), mine="keep" in context)


def _next_day(user, day, office):
    """The next published day with stops: the reader's own, for the office anybody's."""
    later = Route.objects.filter(day__gt=day, published_at__isnull=False, stops__isnull=False)
    mine = later if office else later.filter(technician__user=user)
    return mine.order_by("day").values_list("day", flat=True).first()


def _pages_of(stops):
    """The pages that the phone fetches in the morning, for ponds without signal."""
    pages = [reverse("my_day")]
    for stop in stops:
        pages.append(reverse("day_stop", args=[stop.uuid]))
        for ticket in (job["ticket"] for job in stop.jobs if not job["ticket"].closed_at):
            pages.append(reverse("close_ticket", args=[ticket.pk]))
            pages.append(reverse("ticket_not_done", args=[ticket.pk]))
    here = with_steps(System.objects.filter(site__in={stop.site_id for stop in stops}))
    return pages + [reverse("day_restart", args=[system.pk]) for system in here]


@never_cache
@require_POST
def see_news(request, pk):
    """The technician has seen what changed on his day."""
    route = get_object_or_404(Route, pk=pk, technician__user=request.user)
    Route.objects.filter(pk=route.pk).update(news={})
    return redirect(f"{reverse('my_day')}?on={route.day.isoformat()}")


def _day_asked(request, today):
    """(the day asked for, a sentence where it is none)."""
    text = request.GET.get("on", "")
    if not text:
        return today, ""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return today, gettext("%s is no date. Write it like 2026-06-01.") % text[:20]
    if not date(2000, 1, 2) <= day <= date(2100, 1, 1):
        return today, gettext("%s lies too far away. Choose another day.") % text[:20]
    return day, ""


def _refused(request, says):
    return render(request, "servicedesk/phone/refused.html", {"says": says}, status=403)


@never_cache
@require_safe
def day_stop(request, uuid):
    """One stop: way in, hazards, cautions, what is to be done and what was measured last."""
    stop = _stop(uuid)
    if not _may_see(request.user, stop):
        return _refused(request, gettext("This stop is on another person's route."))
    today = timezone.localdate()
    shown = stop_shown(stop, today=today)
    shown["may_see_secrets"] = stop.route.day == today or roles.is_office(request.user)
    own = _is_own(request, stop)
    if own and stop.has_secrets:
        shown["secrets"] = looked_at(stop.site, by=request.user, today=today) or None
    shown |= offline.quiet(request)
    page = render(request, "servicedesk/phone/day_stop.html", shown)
    return offline.kept(request, page, now=timezone.localtime(), mine=own)


def _is_own(request, stop):
    """Whether it is a stop of this person's own route of today."""
    own = stop is not None and stop.route.technician.user_id == request.user.pk
    return own and stop.route.day == timezone.localdate()


@never_cache
@require_POST
def show_way_in(request, uuid):
    """The gate code, on a tap; the look is kept."""
    stop, now = _stop(uuid), timezone.now()
    today = timezone.localdate()
    if not access.may_see_secrets(request.user, stop.site, today=today):
        return _refused(
            request,
            gettext(
                "Codes are shown on the day of the visit only. Ask the office if you need one."
            ),
        )
    secrets = look_at(stop.site, by=request.user, at=now, today=today)
    shown = stop_shown(stop, today=today) | {"secrets": secrets}
    return render(request, "servicedesk/phone/day_stop.html", shown)


@never_cache
@require_POST
def see_claim(request, uuid):
    """One of ours has looked at what the owner says he did: it was done, or it was not."""
    stop, now = _stop(uuid), timezone.now()
    today = site_date(now, stop.site.time_zone)
    if not access.may_work_at(request.user, stop.site, today):
        return _refused(request, gettext("This stop is not on your route of today."))
    number = request.POST.get("item", "")
    if not number.isdecimal() or len(number) > 15:
        raise Http404
    item = get_object_or_404(DueItem, pk=number, site=stop.site)
    claims = Work.objects.counting().filter(
        place_key=item.place_key, task=item.task_id, verified=False
    )
    for claim in claims.order_by("pk"):
        if request.POST.get("seen") == "yes":
            verify_work(claim, by=request.user, now=now)
        else:
            refuse_work(claim, by=request.user, now=now, reason="looked at the pond: not done")
    messages.success(request, gettext("Noted what you saw."))
    return redirect("day_stop", uuid=uuid)


def _stop(uuid):
    return get_object_or_404(stops_placed(timezone.localdate()), uuid=uuid)


def _may_see(user, stop):
    return roles.is_office(user) or stop.route.technician.user_id == user.pk


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def close_ticket(request, pk):
    """Close a ticket, and with it whatever else was done at the same stop."""
    return _closing(request, pk, "servicedesk/phone/close_ticket.html")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def ticket_not_done(request, pk):
    """Say why a ticket could not be done; nothing is due later for it."""
    return _closing(request, pk, "servicedesk/phone/ticket_not_done.html", alone=True)


def _closing(request, pk, template, *, alone=False):
    now = timezone.now()
    ticket = get_object_or_404(
        Ticket.objects.visible_to(request.user).select_related(
            "site", "task", "system", "position", "pond"
        ),
        pk=pk,
    )
    today = site_date(now, ticket.site.time_zone)
    if request.method == "POST":
        return _posted(request, ticket, template, now=now, today=today, alone=alone)
    day, _ = _day_asked(request, today)
    if not access.may_close(request.user, ticket, today, day):
        return _refused(
            request,
            gettext(
                "This ticket is not on your route of that day. Ask the office to put it there."
            ),
        )
    stop = _stop_of(request.user, ticket, day)
    late = day != today
    page = _form_page(request, ticket, stop, template, now=now, today=today, alone=alone, late=late)
    return offline.kept(request, page, now=timezone.localtime(), mine=_is_own(request, stop))


def _posted(request, ticket, template, *, now, today, alone):
    try:
        payload = payload_of(request.POST)
        _keep_photos(request, payload, now=now)
        visit, new = receive_visit(payload, user=request.user, now=now)
    except NotYours as refusal:
        return _refused(request, str(refusal))
    except VisitRefused as refusal:
        stop = _stop_of(request.user, ticket, today)
        return _form_page(
            request,
            ticket,
            stop,
            template,
            now=now,
            today=today,
            alone=alone,
            typed=request.POST,
            faults=refusal.faults,
        )
    for level, says in received_says(visit, new=new):
        messages.add_message(request, level, says)
    return redirect("day_visit", uuid=visit.uuid)


def _keep_photos(request, payload, *, now):
    """Photos of a form that comes without script; they are kept even if the closing is not."""
    of = visit_key(payload)
    for file in request.FILES.getlist("photos"):
        key = photo_key(of, file)
        try:
            keep_visit_photo(key, of, file, file.size, by=request.user, now=now)
        except NotAPhoto as refusal:
            messages.error(request, f"{file.name}: {refusal}")


def _form_page(
    request, ticket, stop, template, *, now, today, alone, late=False, typed=None, faults=None
):
    site = Ticket.objects.open().filter(site=ticket.site) | Ticket.objects.filter(pk=ticket.pk)
    tickets = list(site.select_related("site", "task", "system", "position", "pond"))
    if alone:
        tickets = [one for one in tickets if one == ticket]
    tickets = [ticket if one == ticket else one for one in tickets]
    form = ClosingForm(
        ticket,
        tickets,
        user=request.user,
        now=now,
        today=today,
        stop=stop,
        late=late,
        typed=typed,
        faults=faults,
    )
    context = {
        "form": form,
        "ticket": ticket,
        "stop": stop,
        "query": f"?on={stop.route.day:%Y-%m-%d}" if late and stop else "",
    } | offline.quiet(request)
    return render(request, template, context, status=400 if faults else 200)


def _stop_of(user, ticket, day):
    """The stop of this person's route at the ticket's site; for the office, anybody's."""
    stops = Stop.objects.filter(route__published_at__isnull=False, route__day=day)
    if not roles.is_office(user):
        stops = stops.filter(route__technician__user=user)
    stops = stops.filter(site=ticket.site).select_related("route__technician")
    return stops.order_by("pk").first()


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def day_visit(request, uuid):
    """What was received of a visit; a reading typed wrong is corrected here by a new one."""
    now = timezone.now()
    visit = get_object_or_404(Visit.objects.select_related("site", "stop", "technician"), uuid=uuid)
    if not access.may_read_visit(request.user, visit):
        return _refused(request, gettext("Somebody else made this visit."))
    today = site_date(now, visit.site.time_zone)
    may_correct = access.may_correct(request.user, visit, today=today)
    faults = {}
    if request.method == "POST":
        if not may_correct:
            return _refused(
                request, gettext("This visit is of another day. Ask the office to correct it.")
            )
        faults = _correct(request, visit, now=now)
        if not faults:
            return redirect("day_visit", uuid=uuid)
    rows = _readings_of(visit).order_by("set__moment", "quantity", "pk")
    shown = visit_shown(visit, reading_set_rows=rows, typed=request.POST, faults=faults)
    shown |= {"may_correct": may_correct, "next": _next_stop(visit)}
    shown["papers"] = papers_of(request.user, [visit])
    shown["photos"] = Photo.objects.filter(visit=visit).order_by("pk")
    status = 400 if faults else 200
    return render(request, "servicedesk/phone/day_visit.html", shown, status=status)


def _readings_of(visit):
    standing = Reading.objects.standing().filter(set__visits=visit)
    return standing.select_related("set__system", "set__pond", "position")


def _next_stop(visit):
    if visit.stop is None:
        return None
    later = Stop.objects.filter(route=visit.stop.route_id, number__gt=visit.stop.number)
    return later.order_by("number").first()


def _correct(request, visit, *, now):
    """The faults of a correction; empty when it was taken."""
    number = request.POST.get("reading", "")
    if not number.isdecimal() or len(number) > 15:
        raise Http404
    wrong = get_object_or_404(_readings_of(visit), pk=number)
    try:
        correct_visit_reading(
            visit,
            wrong,
            text=request.POST.get("typed", "")[:40],
            unit=request.POST.get("unit", ""),
            by=request.user,
            now=now,
            confirmed=request.POST.get("confirmed") == "yes",
        )
    except ReadingsRefused as refusal:
        return refusal.faults
    messages.success(request, gettext("Corrected. The first value stays on record."))
    return {}
