"""The pages behind the buttons in a mail. Looking changes nothing; pressing acts, and once."""

from datetime import timedelta
from functools import wraps
from uuid import uuid4

from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from customers.signed_links import (
    LinkExpired,
    LinkForAnotherPurpose,
    LinkRefused,
    LinkRevoked,
    open_link,
)
from servicedesk.actions import answers
from servicedesk.actions.answers import AnswerRefused, NotTheirs
from servicedesk.actions.restarts.course import course_of, today_of
from servicedesk.actions.winter import answered as winter
from servicedesk.actions.work import WorkRefused
from servicedesk.emails import links, rows
from servicedesk.emails import restart as ramps
from servicedesk.forms.owner import ADVICE, FORMS, SIGNS, DidOwnForm
from servicedesk.kinds import AnswerKind, DefectSign
from servicedesk.models import OwnerAnswer, Photo
from servicedesk.pace import too_often
from servicedesk.planning.calendar import site_date
from servicedesk.planning.restart.calendar import ramp_calendar
from servicedesk.planning.restart.states import OPEN

OVER = (LinkExpired, LinkRevoked)
DANGERS = {DefectSign.SECOND_OPENING, DefectSign.TRIPPING_OUTLET, DefectSign.FISH_GASPING}


OPENED, REFUSED, ANSWERED = 240, 60, 30  # an hour; our judgement


def owner_door(view):
    """Opens the link of the address, or says why not; no login, no cache, the owner's language.

    Whoever opens one link again and again is held up at that link, and whoever tries addresses that
    are none at those: programs that look through mails hold nobody else up.
    """

    @login_not_required
    @never_cache
    @wraps(view)
    def opened(request, token, *args, **kwargs):
        now = timezone.now()
        try:
            link = open_link(token, frozenset(links.OFFERED), now)
        except LinkRefused as refused:
            tried = f"refused {asker(request)}"
            if too_often(tried, most=REFUSED, now=now):
                return slower(request)
            return refusal(request, refused)
        if too_often(f"link {link.pk} {asker(request)}", most=OPENED, now=now):
            return slower(request)
        with translation.override(link.contact.language):
            try:
                matter = answers.matter_of(link, now=now)
                return view(request, token, link, matter, *args, **kwargs)
            except NotTheirs:
                return refusal(request, LinkRevoked())
            except (AnswerRefused, WorkRefused) as refused:
                return said_no(request, str(refused), status=409)

    return opened


def refusal(request, refused):
    """An expired link is gone; one that we do not know was altered on its way."""
    if isinstance(refused, OVER):
        words = _("This link is no longer valid. Nothing was changed.")
        return said_no(request, words, status=410)
    if isinstance(refused, LinkForAnotherPurpose):
        words = _("This link was made for something else. Nothing was changed.")
        return said_no(request, words, status=404)
    words = _("This is not a link that we sent, or part of it is missing. Nothing was changed.")
    return said_no(request, words, status=404)


def asker(request):
    return request.META.get("REMOTE_ADDR", "")


def slower(request):
    words = _("This page was opened too often within an hour. Nothing was changed.")
    page = said_no(request, words, status=429, slow=True)
    page["Retry-After"] = "3600"
    return page


def said_no(request, words, *, status, slow=False):
    context = {"words": words, "slow": slow}
    return render(request, "owner/refused.html", context, status=status)


@owner_door
@require_safe
def owner_page(request, token, link, matter):
    """What the link is about, what may be pressed, and what was recorded."""
    context = page_of(token, link, matter) | {"recorded": recorded(link, timezone.now())}
    if link.purpose == links.REPORT:
        context["facts"] = matter.report.facts if matter.report else None
        return render(request, "owner/report.html", context)
    return render(request, "owner/page.html", context)


@owner_door
@require_safe
def owner_paper(request, token, link, matter):
    """The report on a visit as PDF, to whom its link was sent."""
    file = matter.report.open_paper() if matter.report else None
    if file is None:
        raise Http404
    return FileResponse(file, content_type="application/pdf", filename=matter.report.paper_name)


@owner_door
@require_safe
def owner_photo(request, token, link, matter, uuid):
    """A photo that the report names; no other."""
    named = matter.report.facts["photos"] if matter.report else ()
    if str(uuid) not in {photo["uuid"] for photo in named}:
        raise Http404
    shown = get_object_or_404(Photo, uuid=uuid)
    try:
        return FileResponse(shown.file.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404 from None


@owner_door
@require_safe
def owner_ramp_calendar(request, token, link, matter):
    """The days of a ramp as they stand now, for a calendar program."""
    start = matter.start
    if start is None:
        raise Http404
    planned = ramps.planned_days(start)
    coming, _held = ramp_days(start)
    today, on = today_of(start, timezone.now()), {day.on for day in coming}
    file = ramp_calendar(
        matter.water.name,
        [day.timer for day in coming],
        gone=[day.timer for day in planned if day.on not in on and day.on > today],
        uid=f"ramp-{start.pk}",
        summary=_("%(water)s: the air runs") % {"water": matter.water.name},
        words=_("Look for fish at the surface, smell and dark water. Do not lengthen the run."),
        written_at=start.approved_at,
        sequence=len([step for step in start.steps.all() if step.end]) + start.holds.count() * 2,
    )
    return HttpResponse(file, content_type="text/calendar; charset=utf-8")


@owner_door
@require_http_methods(["GET", "HEAD", "POST"])
def owner_answer(request, token, link, matter, kind):
    """One thing to press. GET and HEAD show it, POST records it."""
    if kind not in links.OFFERED[link.purpose]:
        raise Http404
    if gone := nothing_to_press(kind, matter):
        return render(request, "owner/page.html", page_of(token, link, matter) | {"gone": gone})
    form = bound_form(request, kind, matter)
    if request.method == "POST" and form.is_valid():
        if answered_too_often(link, timezone.now()):
            return slower(request)
        if kind in winter.KINDS:
            given, now = form.cleaned_data, timezone.now()
            winter.record(link, matter, kind, given, uuid=given.pop("uuid"), now=now)
        else:
            record(link, matter, kind, form)
        return redirect("owner_page", token)
    context = page_of(token, link, matter) | {"kind": kind, "form": form}
    return render(request, f"owner/{kind}.html", context, status=422 if form.errors else 200)


@owner_door
@require_POST
def owner_undo(request, token, link, matter, uuid):
    """Take an answer back, for a day."""
    answer = get_object_or_404(OwnerAnswer, uuid=uuid, link=link)
    answers.take_back(answer, now=timezone.now())
    return redirect("owner_page", token)


@csrf_exempt  # a mail program posts here by itself (RFC 8058): no cookie, no form
@owner_door
@require_http_methods(["GET", "HEAD", "POST"])
def owner_stop_at_one_click(request, token, link, matter):
    """The address of the List-Unsubscribe header."""
    if link.purpose != links.STOP:
        raise Http404
    if request.method == "POST":
        answers.stop_reminders(link, matter.topic, uuid=uuid4(), now=timezone.now())
        return HttpResponse(_("You get no more mails of this kind."), content_type="text/plain")
    return redirect("owner_answer", token, AnswerKind.STOP_REMINDERS)


def answered_too_often(link, now):
    lately = OwnerAnswer.objects.filter(link=link, recorded_at__gt=now - timedelta(hours=1))
    return lately.count() >= ANSWERED


def page_of(token, link, matter):
    offered = [kind for kind in links.OFFERED[link.purpose] if not nothing_to_press(kind, matter)]
    if all(visit.confirmed for visit in matter.visits):
        offered = [kind for kind in offered if kind != AnswerKind.CONFIRM]
    ramp = ramp_of(matter.start) if matter.start else {}
    return ramp | {
        "token": token,
        "acting_for": short_name(link.contact),
        "customer": link.contact.customer,
        "matter": matter,
        "offered": offered,
        "dangers": [(words, ADVICE[sign]) for sign, words in SIGNS if sign in DANGERS],
    }


def ramp_days(start):
    """The days of a ramp still to come in the reader's words, and whether it is on hold."""
    if start.state not in OPEN:
        return [], False
    walk = course_of(start, today=today_of(start, timezone.now()))
    return [ramps.ramp_day(start, day.on, day.minutes) for day in walk.coming], walk.held


def ramp_of(start):
    days, held = ramp_days(start)
    return {"ramp_days": days, "ramp_held": held, "ramp_over": start.state not in OPEN}


def short_name(contact):
    """Ines H., for whoever got the mail from somebody else."""
    first, *rest = contact.name.split()
    return f"{first} {rest[-1][0]}." if rest else first


def recorded(link, now):
    """What was pressed by this link, newest first, and whether it can still be taken back."""
    found = (
        OwnerAnswer.objects.filter(link=link)
        .select_related("ticket__task")
        .order_by("-recorded_at", "-pk")
    )
    return [
        {
            "answer": answer,
            "advice": ADVICE.get(answer.said.get("sign", "").replace(" ", "_")),
            "may_undo": answer.undone_at is None and now - answer.recorded_at <= answers.UNDO_FOR,
        }
        for answer in found[:10]
    ]


def nothing_to_press(kind, matter):
    """Why there is nothing to answer any more; empty where there is."""
    if kind == AnswerKind.CONFIRM and not matter.visits:
        return _("No visit is planned here at the moment, so there is nothing to confirm.")
    if matter.asked and kind in {AnswerKind.DID_IT_MYSELF, AnswerKind.REMIND_LATER}:
        over = _("This is done, or was answered. You need not do anything.")
        return over if answers.is_settled(matter.asked) else ""
    if kind == AnswerKind.DID_IT_MYSELF and not matter.own_tasks:
        return _("This job is done, or not waiting any more. You need not do anything.")
    if kind == AnswerKind.NOTICE_READ and matter.notice.acknowledged_at:
        return _("This notice is acknowledged. Please go on keeping everyone off the ice.")
    if kind == AnswerKind.ANOTHER_DAY and matter.ticket and matter.ticket.closed_at:
        return _("This job is done, or not waiting any more. You need not do anything.")
    return ""


def bound_form(request, kind, matter):
    site = matter.site or (matter.visits[0].stop.site if matter.visits else None)
    today = site_date(timezone.now(), site.time_zone if site else "UTC")
    parts = []
    if kind == AnswerKind.DID_IT_MYSELF and not matter.asked:
        fitting = rows.parts_that_fit(matter.own_tasks, on=today)
        parts = list({part.pk: part for of in fitting.values() for part in of}.values())
    data = request.POST if request.method == "POST" else None
    form = DidOwnForm if matter.asked and kind == AnswerKind.DID_IT_MYSELF else FORMS[kind]
    start = {"sign": request.GET.get("sign")} if kind == AnswerKind.PROBLEM else None
    return form(data, matter=matter, today=today, parts=parts, initial=start)


def record(link, matter, kind, form):
    given, now = form.cleaned_data, timezone.now()
    uuid = given.pop("uuid")
    said = {name: str(value) for name, value in given.items() if value}
    if kind == AnswerKind.CONFIRM:
        answers.confirm_visits(link, matter.visits, uuid=uuid, now=now)
    elif kind == AnswerKind.ANOTHER_DAY:
        answers.ask_another_day(link, matter, said, uuid=uuid, now=now)
    elif kind == AnswerKind.DID_IT_MYSELF and matter.asked:
        done = {"done_on": given["done_on"], "note": given["note"]}
        answers.did_own(link, matter.asked, **done, uuid=uuid, now=now)
    elif kind == AnswerKind.REMIND_LATER:
        answers.remind_later(link, matter.asked, uuid=uuid, now=now)
    elif kind == AnswerKind.DID_IT_MYSELF:
        done = {"done_on": given["done_on"], "note": given["note"], "part": form.chosen_part}
        answers.did_it_myself(link, given["ticket"], **done, uuid=uuid, now=now)
    elif kind == AnswerKind.PROBLEM:
        seen = {"sign": given["sign"], "text": given["words"]}
        answers.report_problem(link, matter, **seen, uuid=uuid, now=now)
    elif kind == AnswerKind.STOP_REMINDERS:
        answers.stop_reminders(link, matter.topic, uuid=uuid, now=now)
    else:
        answers.say(link, kind, matter, said, uuid=uuid, now=now)
