"""The check-in of somebody alone, on the pages of the phone."""

from datetime import timedelta

from django import template
from django.db.models import Q
from django.db.models.functions import Now

from servicedesk.models import CheckIn, Stop
from servicedesk.planning.calendar import site_date

register = template.Library()
MARGIN = timedelta(minutes=30)  # our judgement
STEP_S = 300
DANGERS = {"boat", "cold_water", "ice", "electricity"}  # keys of cautions


@register.inclusion_tag("servicedesk/phone/alone.html", takes_context=True)
def check_in(context, stop=None):
    """What is under way, or at a stop of today the form to begin.

    The time is the database's, so that a page that was kept says nothing it cannot know.
    """
    request = context.get("request")
    if request is None or not request.user.is_authenticated:
        return {}
    under_way = CheckIn.objects.under_way().filter(user=request.user)
    found = under_way.annotate(is_late=Q(back_by__lte=Now())).select_related("site").first()
    shown = {"check_in": found, "firm": context.get("firm")}
    if found is None and stop is not None:
        shown |= _to_begin(stop, request.user, context.get("jobs", ()))
    return shown


def _to_begin(stop, user, jobs):
    if stop.route.technician.user_id != user.pk:
        return {}
    at = Stop.objects.filter(pk=stop.pk).annotate(at=Now()).values_list("at", flat=True).get()
    if site_date(at, stop.site.time_zone) != stop.route.day:
        return {}
    back_by = max(stop.leave_at, at) + MARGIN
    back_by += timedelta(seconds=-back_by.timestamp() % STEP_S)
    tasks = [job["ticket"].task for job in jobs]
    not_alone = any(task.needs_boat or task.crew > 1 for task in tasks)
    careful = not_alone or any(DANGERS & set(task.cautions) for task in tasks)
    return {"stop": stop, "back_by": back_by, "not_alone": not_alone, "careful": careful}
