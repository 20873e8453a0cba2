"""The Celery application: the same jobs in one process and on workers."""

import logging
import os

from celery import Celery, signals

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "servicedesk.settings")

log = logging.getLogger(__name__)

app = Celery("servicedesk")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.set_default()  # a web thread asks for the current application and must not get another
app.autodiscover_tasks()


@signals.beat_init.connect
def wake_every_job(**kwargs):
    """Every job runs once at start: whoever stops each evening still gets the nightly ones."""
    for entry in sorted(app.conf.beat_schedule.values(), key=lambda entry: entry["schedule"]):
        try:
            app.send_task(entry["task"], retry=False)
        except Exception as error:
            log.warning("%s waits for its round: no broker answers (%s)", entry["task"], error)
