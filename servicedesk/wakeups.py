"""Wake a job by name, after commit. The row says what is owed; a lost call costs one sweep."""

import logging
from functools import partial

from celery import current_app
from django.db import transaction

log = logging.getLogger(__name__)


def wake(name):
    """Have the job run soon, such as "servicedesk.tasks.send_reminders"; never raises."""
    transaction.on_commit(partial(_send, name))


def _send(name):
    try:
        current_app.send_task(name, retry=False, expires=10)
    except Exception as error:
        log.warning("%s waits for its next round: no broker answers (%s)", name, error)
