from servicedesk.actions.reminders.owe import owe
from servicedesk.actions.reminders.queue import (
    queue_not_done,
    queue_owner_tasks_due,
    queue_reminders,
    queue_system_off,
    queue_visit_proposals,
    queue_visit_reminders,
    queue_visit_report,
)
from servicedesk.actions.reminders.rhythms import queue_owner_rhythms
from servicedesk.actions.reminders.send import send_queued_messages

__all__ = [
    "owe",
    "queue_not_done",
    "queue_owner_rhythms",
    "queue_owner_tasks_due",
    "queue_reminders",
    "queue_system_off",
    "queue_visit_proposals",
    "queue_visit_reminders",
    "queue_visit_report",
    "send_queued_messages",
]
