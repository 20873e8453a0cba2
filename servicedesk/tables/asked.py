"""What a request about a week asks for, and how it is answered where it is refused."""

from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404

from servicedesk.models import Stop
from servicedesk.planning.calendar import site_date, week_monday


def date_at(firm, now):
    """The date on the wall of the shop."""
    return site_date(now, getattr(firm, "time_zone", "UTC"))


def monday_of(name):
    try:
        return week_monday(name)
    except ValueError as error:
        raise Http404(str(error)) from None


def stop_named(uuid):
    stops = Stop.objects.select_related("route__technician__user", "site")
    return get_object_or_404(stops, uuid=uuid)


def say_why_not(request, refused):
    for sentence in refused.sentences:
        messages.error(request, sentence)


def say_done(request, words, change):
    """What was done, with a button that takes it back."""
    messages.success(request, words, extra_tags=f"undo:{change.pk}" if change.pk else "")
