"""The background jobs. Each may run any number of times, at once, anywhere."""

from celery import shared_task
from django.utils import timezone

from servicedesk.actions import jobs


@shared_task
def beat():
    jobs.record_beat(at=timezone.now())
