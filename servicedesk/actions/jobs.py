"""Signs of life of the background jobs."""

from datetime import datetime, timedelta

from django.conf import settings

from servicedesk.models import JobBeat

BEAT = "jobs"
STALE = timedelta(seconds=3 * settings.JOB_BEAT_S)


def record_beat(*, at: datetime) -> None:
    JobBeat.objects.update_or_create(name=BEAT, defaults={"beat_at": at})


def last_beat_at() -> datetime | None:
    return JobBeat.objects.filter(name=BEAT).values_list("beat_at", flat=True).first()
