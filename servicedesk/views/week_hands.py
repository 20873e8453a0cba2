"""The manager's hand on a week: place, move, split, add, keep, take off, drop, and take back."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers.models import Pond
from servicedesk.access import office_only
from servicedesk.actions.routes import alternatives, by_hand, dropping, splitting, undoing
from servicedesk.actions.routes.later import altered_since
from servicedesk.actions.routes.refused import RouteRefused
from servicedesk.forms.week import AddForm, DropForm, MoveForm, PlaceForm, SplitForm
from servicedesk.models import Caution, DueItem, HandChange, Ticket
from servicedesk.planning.calendar import week_name
from servicedesk.tables.asked import date_at, monday_of, say_done, say_why_not, stop_named
from servicedesk.tables.waiting import all_can_wait
from servicedesk.tables.week import days_to_come

CHANGES_SHOWN = 100


def _today(request):
    """The date on the wall of the shop."""
    return date_at(request.firm, timezone.now())


def _who(request):
    """By whom, on which day and at what instant a change is made."""
    return {"by": request.user, "today": _today(request), "now": timezone.now()}


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def place_ticket(request, name, pk):
    """Put one waiting ticket on somebody's day, or on two days at one time."""
    monday, today = monday_of(name), _today(request)
    found = Ticket.objects.open().visible_to(request.user)
    ticket = get_object_or_404(found.select_related("task", "site", "system"), pk=pk)
    days = days_to_come(monday, today)
    if not days:
        raise Http404(_("This week is over."))
    people = max(ticket.task.crew, 2 if ticket.task.needs_boat else 1)
    form = PlaceForm(request.POST or None, people=people, days=days)
    if request.method == "POST" and form.is_valid():
        try:
            change = by_hand.place(
                ticket,
                technicians=form.technicians,
                day=form.cleaned_data["day"],
                start=form.cleaned_data.get("start"),
                **_who(request),
            )
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            words = _("%(task)s at %(site)s has its place.")
            say_done(request, words % {"task": ticket.task, "site": ticket.site}, change)
            return redirect("week", name=name)
    context = {
        "name": name,
        "ticket": ticket,
        "form": form,
        "people": people,
        "ponds": Pond.objects.filter(site=ticket.site),
        "cautions": Caution.objects.filter(slug__in=ticket.task.cautions),
    }
    status = 422 if form.errors else 200
    return render(request, "week/place_ticket.html", context, status=status)


@require_POST
@office_only
def place_best(request, name, pk):
    """Take the best alternative of work that the last plan left out."""
    found = Ticket.objects.open().visible_to(request.user)
    ticket = get_object_or_404(found.select_related("task", "site"), pk=pk)
    left = alternatives.alternative_of(ticket, monday_of(name))
    if left is None:
        messages.error(request, _("No day of this week is known for it. Place it by hand."))
        return redirect("place_ticket", name=name, pk=pk)
    people = alternatives.people_of(left)
    try:
        change = by_hand.place(
            ticket, technicians=people, day=left.day, start=left.meet_at, **_who(request)
        )
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        names = _(" and ").join(str(person) for person in people)
        said = {"task": ticket.task, "site": ticket.site, "technician": names}
        said["day"] = date_format(left.day, "l j F")
        words = _("%(task)s at %(site)s is placed with %(technician)s on %(day)s.")
        say_done(request, words % said, change)
    return redirect("week", name=name)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def pull_forward(request, name, pk):
    """Put work that falls due soon on somebody's day, before its ticket opens by itself."""
    found = DueItem.objects.select_related("task", "site", "system")
    item = get_object_or_404(found, pk=pk, task__crew=1, task__needs_boat=False)
    days = days_to_come(monday_of(name), _today(request))
    if not days:
        raise Http404(_("This week is over."))
    form = PlaceForm(request.POST or None, people=1, days=days)
    if request.method == "POST" and form.is_valid():
        try:
            change = by_hand.pull_forward(
                item,
                technician=form.technicians[0],
                day=form.cleaned_data["day"],
                **_who(request),
            )
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            words = _("%(task)s at %(site)s is pulled forward.")
            say_done(request, words % {"task": item.task, "site": item.site}, change)
            return redirect("week", name=name)
    context = {"name": name, "item": item, "form": form}
    context["ponds"] = Pond.objects.filter(site=item.site)
    status = 422 if form.errors else 200
    return render(request, "week/pull_forward.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def move_stop(request, uuid):
    stop, today = stop_named(uuid), _today(request)
    days = days_to_come(stop.route.day, today)
    start = {"technician": stop.route.technician_id, "day": stop.route.day.isoformat()}
    form = MoveForm(request.POST or None, days=days, initial=start)
    name = week_name(stop.route.day)
    if request.method == "POST" and form.is_valid():
        site = stop.site
        try:
            change = by_hand.move(stop, **_who(request), **form.cleaned_data)
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
            stop = stop_named(uuid)
        else:
            say_done(request, _("%(site)s was moved.") % {"site": site}, change)
            return redirect("week", name=name)
    context = {
        "name": name,
        "stop": stop,
        "form": form,
        "ponds": Pond.objects.filter(site=stop.site),
        "zone": request.firm.time_zone,
    }
    status = 422 if form.errors else 200
    return render(request, "week/move_stop.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def split_stop(request, uuid):
    """Give part of a stop's work to somebody else, or to another day."""
    stop, today = stop_named(uuid), _today(request)
    work = [ticket for ticket, _closes_on in dropping.open_work(stop)]
    form = SplitForm(request.POST or None, days=days_to_come(stop.route.day, today), work=work)
    name = week_name(stop.route.day)
    if request.method == "POST" and form.is_valid():
        try:
            change = by_hand.split(stop, **_who(request), **form.cleaned_data)
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            words = _("The work at %(site)s stands on two days now.")
            say_done(request, words % {"site": stop.site}, change)
            return redirect("week", name=name)
    context = {"name": name, "stop": stop, "form": form, "work": work}
    context["together"] = [t for t in work if t.task.crew > 1 or t.task.needs_boat]
    return render(request, "week/split_stop.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def add_to_stop(request, uuid):
    """Bring more work of its site to a stop: open tickets, and what falls due soon."""
    stop = stop_named(uuid)
    tickets, items = splitting.work_near(stop, today=_today(request))
    sent = request.POST if request.method == "POST" else None
    form = AddForm(sent, near=tickets, soon=items)
    if request.method == "POST" and form.is_valid():
        try:
            change = by_hand.add(stop, **_who(request), **form.cleaned_data)
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            words = _("More is done at %(site)s now.")
            say_done(request, words % {"site": stop.site}, change)
            return _to_day(stop)
    context = {"name": week_name(stop.route.day), "stop": stop, "form": form}
    context["nothing"] = not tickets and not items
    return render(request, "week/add_to_stop.html", context, status=422 if form.errors else 200)


@require_POST
@office_only
def take_off_stop(request, uuid):
    stop = stop_named(uuid)
    tickets = [ticket.pk for ticket, _closes_on in dropping.open_work(stop)]
    try:
        change = by_hand.take_off(stop, **_who(request))
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        words = _("%(site)s was taken off its day and waits for a place.")
        if all_can_wait(request.user, tickets, stop.route.day, today=_today(request)):
            words = _(
                "%(site)s was taken off its day. Nothing there is due this week: it can wait."
            )
        say_done(request, words % {"site": stop.site}, change)
    return redirect("week", name=week_name(stop.route.day))


@require_http_methods(["GET", "HEAD", "POST"])
@office_only
def drop_stop(request, uuid):
    """Take a stop off and leave it alone until a day; the page says when its tolerance ends."""
    stop = stop_named(uuid)
    work = dropping.open_work(stop)
    ends = min((closes_on for _ticket, closes_on in work if closes_on), default=None)
    form = DropForm(request.POST or None, ends=ends, today=_today(request))
    name = week_name(stop.route.day)
    if request.method == "POST" and form.is_valid():
        until, reason = form.cleaned_data["until"], form.cleaned_data["reason"]
        try:
            change = by_hand.drop_until(stop, until_on=until, reason=reason, **_who(request))
        except RouteRefused as refused:
            form.add_error(None, refused.sentences)
        else:
            words = _("%(site)s is not planned before %(day)s.")
            say_done(
                request, words % {"site": stop.site, "day": date_format(until, "j F Y")}, change
            )
            return redirect("week", name=name)
    context = {"name": name, "stop": stop, "form": form, "work": work, "ends": ends}
    context["is_over"] = bool(ends and ends < _today(request))
    return render(request, "week/drop_stop.html", context, status=422 if form.errors else 200)


@require_POST
@office_only
def keep_stop(request, uuid):
    stop, stays = stop_named(uuid), request.POST.get("keep") == "yes"
    try:
        change = by_hand.keep(stop, stays=stays, **_who(request))
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        words = _("%(site)s keeps its day.") if stays else _("%(site)s may move again.")
        say_done(request, words % {"site": stop.site}, change)
    return _to_day(stop)


def _to_day(stop):
    return redirect(
        "week_day",
        name=week_name(stop.route.day),
        technician=stop.route.technician.user.get_username(),
        day=stop.route.day.isoformat(),
    )


@never_cache
@require_safe
@office_only
def hand_changes(request, name):
    """What was changed by hand in a week, the newest first, each with a way back."""
    monday = monday_of(name)
    found = HandChange.objects.filter(monday_on=monday).select_related("by", "undone")
    changes = list(found.order_by("-pk")[:CHANGES_SHOWN])
    altered = altered_since(changes)
    for change in changes:
        change.altered = altered.get(change.pk, "")
    context = {
        "name": name,
        "number": monday.isocalendar().week,
        "changes": changes,
        "may_undo": undoing.may_undo(changes, monday, _today(request)),
        "is_shortened": len(changes) == CHANGES_SHOWN,
    }
    return render(request, "week/hand_changes.html", context)


@require_POST
@office_only
def undo_change(request, pk):
    change = get_object_or_404(HandChange, pk=pk)
    try:
        back = undoing.undo(change, **_who(request))
    except RouteRefused as refused:
        say_why_not(request, refused)
    else:
        say_done(request, back.says, back)
    if request.POST.get("from") == "changes":
        return redirect("hand_changes", name=week_name(change.monday_on))
    return redirect("week", name=week_name(change.monday_on))
