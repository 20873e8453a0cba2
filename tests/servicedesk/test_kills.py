"""Killed in the middle of sending, twenty times: no reminder is lost, and none is sent anew."""

import email
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter, defaultdict
from datetime import UTC, datetime, timedelta

import pytest
from celery import Celery
from django.db.models.functions import Now

from customers.kinds import ContactRoleKind, MailTopic
from customers.models import Contact, ContactRole
from equipment.kinds import SystemState
from servicedesk.actions.reminders.owe import SEND
from servicedesk.kinds import LeftOffReason, MessageState
from servicedesk.models import Message, Reminder, SystemCheck
from servicedesk.transport import broker_url
from tests import make
from tests.machines import ROOT, until

pytestmark = pytest.mark.long
KILLS = 20
OWED_EACH_TIME = 12
PAST = timedelta(hours=1)

# Imports once and forks whole processes, because starting Python forty times takes minutes.
FORKS = """
import os
import sys
import django

django.setup()

from django.urls import get_resolver

from servicedesk import embedded
from servicedesk.celery import app

assert get_resolver().url_patterns
for line in sys.stdin:
    child = os.fork()
    if not child:
        os.setsid()
        os.dup2(2, 1)
        RUN
        os._exit(0)
    print(child, flush=True)
    os.waitpid(child, 0)
    print("ended", flush=True)
"""
ONE_PROCESS = FORKS.replace("RUN", "embedded.run(port=0)")
WORKER = FORKS.replace(
    "RUN", 'app.worker_main(["worker", "--concurrency", "2", "--without-mingle"])'
)


class Starter:
    """Starts the same process again and again, each in a group of its own to be killed."""

    def __init__(self, script, program):
        self.log = (program.folder / "starter.log").open("w")
        self.popen = subprocess.Popen(
            [sys.executable, "-c", script],
            cwd=ROOT,
            env=program.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self.log,
            text=True,
        )
        self.group = None

    def start(self):
        self.popen.stdin.write("start\n")
        self.popen.stdin.flush()
        self.group = int(self.popen.stdout.readline())

    def kill(self):
        os.killpg(self.group, signal.SIGKILL)
        self.group = None
        assert self.popen.stdout.readline() == "ended\n"

    def end(self):
        if self.group:
            self.kill()
        self.popen.communicate()
        self.log.close()


@pytest.fixture
def starter(program):
    """Makes Starters: starter(script, REDIS_URL=address, ...)."""
    made = []

    def make(script, **settings):
        made.append(Starter(script, program(**settings)))
        return made[-1]

    yield make
    for one in made:
        one.end()


@pytest.fixture
def owe_some(transactional_db):
    """Owes a warning, which waits for no morning, to some contacts who were never written to."""
    make.firm()
    owner = make.customer()
    site = make.site(owner=owner)
    system = make.system(site=site, state=SystemState.FAILED)
    visit = make.visit(site=site)
    check = SystemCheck.objects.create(
        visit=visit,
        system=system,
        found_running=False,
        left_running=False,
        left_off_reason=LeftOffReason.FAILED,
    )
    facts = {"system": system.pk, "check": check.pk, "ice": True}

    def owe_some():
        now = datetime.now(UTC)
        known = Contact.objects.count()
        contacts = Contact.objects.bulk_create(
            Contact(customer=owner, name="Ines Halvorsen", email=f"ines{number}@example.com")
            for number in range(known, known + OWED_EACH_TIME)
        )
        ContactRole.objects.bulk_create(
            ContactRole(contact=contact, role=ContactRoleKind.OWNER, from_on=make.LONG_AGO)
            for contact in contacts
        )
        Reminder.objects.bulk_create(
            Reminder(
                contact=contact,
                topic=MailTopic.SYSTEM_OFF,
                period=f"visit:{visit.pk}",
                visit=visit,
                facts=facts,
                owed_at=now,
                not_before=now,
            )
            for contact in contacts
        )

    return owe_some


def kill_in_the_middle(starter, smtp_sink, chance):
    """Kill once some mails of this start went out; whether one was in hand at that moment."""
    before = len(smtp_sink.mails)
    until(lambda: len(smtp_sink.mails) >= before + 3, what="mails to go out")
    time.sleep(chance.uniform(0, 0.06))
    starter.kill()
    in_hand = Message.objects.filter(state=MessageState.SENDING)
    # Nobody waits a minute here: the leases of the dead run out at once.
    return bool(in_hand.update(lease_until=Now() - PAST))


def all_settled():
    owed = Reminder.objects.filter(message=None).exists()
    settled = [MessageState.SENT, MessageState.UNSURE]
    return not owed and not Message.objects.exclude(state__in=settled).exists()


def check_that_nothing_was_lost(smtp_sink):
    taken = defaultdict(list)
    for mail in smtp_sink.mails:
        taken[email.message_from_bytes(mail.content)["Message-ID"]].append(mail.content)
    states = dict(Message.objects.values_list("message_id", "state"))
    never = {key for key, state in states.items() if state == MessageState.SENT} - set(taken)
    again = Counter(len(copies) for copies in taken.values())

    assert len(states) == Reminder.objects.count() == KILLS * OWED_EACH_TIME
    assert never == set()
    assert set(taken) <= set(states)
    # A kill between the bytes and our noting it may double the one mail in hand, as it was.
    assert all(len(set(copies)) == 1 for copies in taken.values())
    assert sum((copies - 1) * mails for copies, mails in again.items()) <= KILLS
    assert sum(state == MessageState.UNSURE for state in states.values()) <= 1


def test_no_reminder_is_lost_when_the_one_process_is_killed(
    starter, owe_some, test_database, smtp_sink
):
    embedded = starter(ONE_PROCESS, REDIS_URL="", SMTP_URL=smtp_sink.url, **test_database)
    smtp_sink.lag_s = 0.02
    chance = random.Random(1)
    in_hand = 0
    for _ in range(KILLS):
        owe_some()
        embedded.start()
        in_hand += kill_in_the_middle(embedded, smtp_sink, chance)

    embedded.start()
    until(all_settled, seconds=180, what="the rest to be sent")

    assert in_hand >= KILLS / 2
    check_that_nothing_was_lost(smtp_sink)


def test_no_reminder_is_lost_when_a_worker_is_killed(
    starter, owe_some, test_database, redis_server, smtp_sink
):
    worker = starter(WORKER, REDIS_URL=redis_server.url, SMTP_URL=smtp_sink.url, **test_database)
    caller = Celery("caller", broker=broker_url(redis_server.url), set_as_current=False)
    smtp_sink.lag_s = 0.02
    chance = random.Random(2)
    in_hand = 0
    for _ in range(KILLS):
        owe_some()
        caller.send_task(SEND)
        worker.start()
        in_hand += kill_in_the_middle(worker, smtp_sink, chance)

    caller.send_task(SEND)
    worker.start()
    until(all_settled, seconds=180, what="the rest to be sent")

    assert in_hand >= KILLS / 2
    check_that_nothing_was_lost(smtp_sink)
