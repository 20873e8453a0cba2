"""Queue and send what is owed to owners at a moment."""

import json
from datetime import datetime

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from servicedesk.actions import reminders
from servicedesk.actions.reminders.gather import gather_lines
from servicedesk.actions.reminders.send import claimable


class Command(BaseCommand):
    help = "Queues and sends the mails that are owed; --dry-run says how many, and changes nothing."

    def add_arguments(self, parser):
        parser.add_argument("--dry-run", action="store_true")
        parser.add_argument("--at", help="a moment with its zone, such as 2026-11-25T14:00+00:00")
        parser.add_argument("--json", action="store_true")

    def handle(self, *, dry_run, at, json: bool, **options):
        now = moment(at) if at else timezone.now()
        if dry_run:
            with transaction.atomic():
                owed = queue_all(now)
                gather_lines(now=now)
                ready = claimable(now).count()
                transaction.set_rollback(True)
            self.say(json, {"queued_lines": owed, "ready_mails": ready, "sent_mails": 0})
            return
        owed = queue_all(now)
        sent = reminders.send_queued_messages(clock=(lambda: now) if at else timezone.now)
        self.say(json, {"queued_lines": owed, "sent_mails": sent})

    def say(self, as_json, counts):
        line = ", ".join(f"{name.replace('_', ' ')}: {count}" for name, count in counts.items())
        self.stdout.write(json.dumps(counts) if as_json else line)


def queue_all(now):
    queued = reminders.queue_reminders(clock=lambda: now)
    return queued + reminders.queue_owner_rhythms(clock=lambda: now)


def moment(text):
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise CommandError(
            f"{text!r} is not a moment with a zone: write it like 2026-11-25T14:00+00:00",
            returncode=2,
        )
    return at
