"""The mails: what was said to whom, what waits, and what a person has to decide."""

from functools import wraps

from csp.constants import NONE, UNSAFE_INLINE
from csp.decorators import csp_replace
from django.conf import settings
from django.contrib import messages as notices
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from customers import access
from customers.models import SealBroken
from servicedesk.actions.reminders import decide
from servicedesk.emails import kept
from servicedesk.models import Message, Reminder
from servicedesk.tables import lay_out
from servicedesk.tables.messages import MessageFilter, MessageTable, alarms_shown, state_tag

OWED_SHOWN = 20


def for_the_office(view):
    @wraps(view)
    def opened(request, *args, **kwargs):
        if not access.is_office(request.user):
            raise PermissionDenied
        return view(request, *args, **kwargs)

    return opened


@require_safe
@for_the_office
def message_list(request):
    found = MessageFilter(
        request.GET, Message.objects.select_related("contact").order_by("-not_before", "-pk")
    )
    owed = Reminder.objects.filter(message=None, dropped_at=None)
    context = {
        "table": lay_out(MessageTable(found.qs), request),
        "filter": found,
        "owed": owed.select_related(
            "contact", "ticket__task", "ticket__site", "visit__site"
        ).order_by("not_before", "pk")[:OWED_SHOWN],
        "owed_count": owed.count(),
        "alarms": alarms_shown(timezone.now()),
        "to_files": settings.SMTP is None,
        "folder": settings.MAIL_FILES,
    }
    return render(request, "messages/list.html", context)


@require_safe
@never_cache
@for_the_office
def message(request, pk):
    shown = get_object_or_404(Message.objects.select_related("contact__customer"), pk=pk)
    lines = shown.reminders.select_related("ticket__task", "ticket__site", "visit__site")
    context = {
        "message": shown,
        "tag": state_tag(shown.state),
        "text": bodies_of(shown)[0],
        "has_html": bool(shown.html),
        "lines": lines.order_by("pk"),
        "to_decide": shown.state in decide.TO_DECIDE,
        "to_files": settings.SMTP is None,
    }
    return render(request, "messages/message.html", context)


@require_safe
@never_cache
@for_the_office
@csp_replace(
    {  # only what a mail carries in itself, and nothing that acts
        "style-src": [UNSAFE_INLINE],
        "script-src": [NONE],
        "img-src": [NONE],
        "connect-src": [NONE],
        "form-action": [NONE],
        "sandbox": True,
    }
)
def message_html(request, pk):
    """The HTML body as the owner sees it."""
    return HttpResponse(bodies_of(get_object_or_404(Message, pk=pk))[1])


@require_POST
@for_the_office
def message_again(request, pk):
    return decided(request, pk, _("It goes out once more."), decide.send_again)


@require_POST
@for_the_office
def message_settled(request, pk):
    note = request.POST.get("note", "").strip()
    return decided(request, pk, _("It is settled."), decide.settle, note=note)


def decided(request, pk, said, action, **more):
    shown = get_object_or_404(Message, pk=pk)
    try:
        action(shown, by=request.user, now=timezone.now(), **more)
    except decide.NothingToDecide:
        notices.info(request, _("There is nothing to decide here any more."))
    else:
        notices.success(request, said)
    return redirect("message", pk)


def bodies_of(shown):
    """As it went out where mails go to files, for whoever reads them here is the mailbox.

    With a mail server the owner's links are hidden: whoever has one can answer for the owner.
    """
    if settings.SMTP is None and shown.frozen is not None:
        try:
            return kept.bodies(kept.opened(shown.frozen))
        except SealBroken:
            pass
    return shown.text, shown.html
