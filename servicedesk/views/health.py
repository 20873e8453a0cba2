"""Whether pages, database and jobs are alive, for whoever watches the machine."""

from django.contrib.auth.decorators import login_not_required
from django.db import Error as DatabaseError
from django.http import JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from servicedesk.actions import jobs


@login_not_required
@never_cache
@require_safe
def health(request):
    now = timezone.now()
    try:
        beat_at = jobs.last_beat_at()
    except DatabaseError:
        return JsonResponse({"status": "the database does not answer"}, status=503)
    if beat_at is None or now - beat_at > jobs.STALE:
        return JsonResponse({"status": "the jobs do not run", "jobs_ran_at": beat_at}, status=503)
    return JsonResponse({"status": "ok", "jobs_ran_at": beat_at})
