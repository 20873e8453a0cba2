"""Whatever happens to workers, mail server and tickets: the outbox keeps its word.

The outbox is the real one; only the conversation with the mail server is played, because nobody
can make a real one die at a chosen byte. The same is tried on a real one in test_outbox_smtp.
"""

import re
from collections import Counter, defaultdict
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.db.models.functions import Now
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule, run_state_machine_as_test

from servicedesk.actions import reminders
from servicedesk.actions.reminders import book, send, truth
from servicedesk.emails.relay import Answer, Verdict
from servicedesk.kinds import MessageState, TicketEnd
from servicedesk.models import Message, Reminder, Ticket
from tests import make
from tests.servicedesk.actions.outbox import Clock, owed_task

TAKEN = Answer(Verdict.TAKEN, 250, "taken")
LATER = Answer(Verdict.LATER, 451, "try again")
ENDED = {
    MessageState.SENT,
    MessageState.FAILED,
    MessageState.CANCELLED,
    MessageState.SUPPRESSED,
    MessageState.UNSURE,
}
HAPPENINGS = [
    "taken",
    "later",
    "no such address",
    "no answer",
    "closed meanwhile",
    "killed before the bytes",
    "killed before they were taken",
    "killed after they were taken",
    "slow, overtaken before the bytes",
    "slow, overtaken during the bytes",
]
ZONE = ZoneInfo("America/Chicago")


class Killed(BaseException):
    """As by SIGKILL: the open transaction is gone, and nothing of ours runs after it."""


class World:
    """A mail server that does what is asked of it, and remembers what it was told and when."""

    def __init__(self, clock):
        self.clock = clock
        self.plan = []
        self.accepted = defaultdict(list)  # Message-ID: the bytes
        self.ambiguous = Counter()  # by Message-ID
        self.refused = set()  # addresses that were said not to exist
        self.days = defaultdict(set)  # (address, day): Message-IDs
        self.happening, self.depth, self.broken = "taken", 0, []

    def __call__(self):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *fault):
        pass

    def reach(self):
        pass

    def give_up(self):
        pass

    def must(self, kept, promise):
        """Noted here and told by the machine: the outbox itself survives what a mail raises."""
        if not kept:
            self.broken.append(promise)

    def envelope(self, to):
        self.must(to not in self.refused, "tried again after a dead address")
        happening = self.plan.pop(0) if self.plan else "taken"
        if happening == "killed before the bytes":
            raise Killed
        if happening == "no such address":
            self.refused.add(to)
            return Answer(Verdict.DEAD, 550, "5.1.1 unknown")
        if happening == "closed meanwhile":
            Ticket.objects.update(closed_at=self.clock(), end=TicketEnd.DONE)
        if happening == "slow, overtaken before the bytes":
            self.overtake()
        self.happening = happening
        return TAKEN

    def data(self, content):
        happening, self.happening = self.happening, "taken"
        key = re.search(rb"Message-ID: (<[^>]+>)", content)[1].decode()
        self.look_at(key)
        if happening == "later":
            return LATER
        if happening in {"no answer", "killed before they were taken"}:
            self.ambiguous[key] += 1
            if happening == "no answer":
                return Answer(Verdict.UNSURE, words="no answer")
            raise Killed
        if happening == "slow, overtaken during the bytes":
            self.ambiguous[key] += 1
            self.overtake()
            return LATER
        self.take(key, content)
        if happening == "killed after they were taken":
            self.ambiguous[key] += 1
            raise Killed
        return TAKEN

    def overtake(self):
        """The lease ends while this worker is slow, and another one works through all."""
        if self.depth:
            return
        self.depth = 1
        lapse()
        reminders.send_queued_messages(clock=self.clock, open_relay=self)
        self.depth = 0

    def look_at(self, key):
        lines = Reminder.objects.filter(message__message_id=key)
        self.must(not lines.filter(ticket__closed_at__isnull=False).exists(), "of a closed ticket")
        local = self.clock().astimezone(ZONE)
        self.must(8 <= local.hour < 20, "in quiet hours")
        self.must(local.isoweekday() != 7, "on a Sunday")

    def take(self, key, content):
        self.accepted[key].append(content)
        self.must(len(self.accepted[key]) <= 1 + self.ambiguous[key], "sent again without a doubt")
        self.must(len(self.accepted[key]) <= 2, "sent again more than once")
        self.must(len(set(self.accepted[key])) == 1, "not the same bytes")
        to = re.search(rb"^To: .*?([\w.]+@example\.com)", content, re.MULTILINE)[1]
        day = self.clock().astimezone(ZONE).date()
        self.days[to, day].add(key)
        if not self.ambiguous[key]:
            sure = [k for k in self.days[to, day] if not self.ambiguous[k]]
            self.must(len(sure) <= 1, "two mails on one day")


def lapse():
    Message.objects.filter(state=MessageState.SENDING).update(
        lease_until=Now() - timedelta(seconds=1)
    )


def plans(machine):
    """What becomes of the next mails, one after another."""
    return st.lists(st.sampled_from(machine.happenings), min_size=2, max_size=6)


class Outbox(RuleBasedStateMachine):
    happenings = HAPPENINGS

    def __init__(self):
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.clock = Clock()
        self.world = World(self.clock)
        self.ended = {}
        self.contacts = [make.contact() for _number in range(2)]

    @initialize()
    def begin(self):
        self.owe(0)

    @rule(who=st.integers(0, 1))
    def owe(self, who):
        if Reminder.objects.count() < 6:
            owed_task(contact=self.contacts[who], now=self.clock())

    @rule()
    def close_a_ticket(self):
        ticket = Ticket.objects.open().first()
        if ticket:
            Ticket.objects.filter(pk=ticket.pk).update(closed_at=self.clock(), end=TicketEnd.DONE)

    @rule(hours=st.sampled_from([1, 10, 30]))
    def time_goes_by(self, hours):
        self.clock.go(hours=hours)

    @rule(plan=st.runner().flatmap(plans))
    def work(self, plan):
        """Workers come round, each a few minutes after the last, and each may die."""
        self.world.plan = list(plan)
        for _worker in plan:
            self.clock.go(minutes=5)
            lapse()
            try:
                reminders.send_queued_messages(clock=self.clock, open_relay=self.world)
            except Killed:
                self.world.depth = 0
            self.check()
            if not self.world.plan:
                break

    def check(self):
        assert self.world.broken == []
        states = dict(Message.objects.values_list("message_id", "state"))
        for key, state in states.items():
            assert self.ended.setdefault(key, state) == state or self.ended[key] not in ENDED
            self.ended[key] = state
            if state == MessageState.SENT:
                assert self.world.accepted[key], "said to be sent, and was not"

    def teardown(self):
        try:
            self.world.plan = []
            for _half_day in range(10):
                lapse()
                self.clock.go(hours=11)
                reminders.send_queued_messages(clock=self.clock, open_relay=self.world)
            self.check()
            left = Reminder.objects.filter(dropped_at=None).exclude(message__state__in=ENDED)
            assert not left.exists(), "a line was lost"
        finally:
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)


QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]


def try_all(machine, examples, steps, **more):
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            derandomize=True,
            report_multiple_bugs=False,
            database=None,
            suppress_health_check=QUIET,
            **more,
        ),
    )


@pytest.mark.long
@pytest.mark.django_db
def test_outbox_keeps_its_word_whatever_happens():
    try_all(Outbox, 40, 10)


def no_fence(monkeypatch):
    def held(pk, owner):
        return Message.objects.filter(pk=pk)

    monkeypatch.setattr(book, "held", held)
    monkeypatch.setattr(send, "held", held)


def no_look_at_the_live_state(monkeypatch):
    monkeypatch.setattr(truth, "untrue", lambda lines, *, now: {})
    monkeypatch.setattr(truth, "stopped", lambda: truth.Q(pk=None))


def marked_as_sent_before_it_is(monkeypatch):
    marked = send.mark_before_data

    def mark(pk, owner, *, now):
        going = marked(pk, owner, now=now)
        if going:
            Message.objects.filter(pk=pk).update(state=MessageState.SENT, sent_at=now)
        return going

    monkeypatch.setattr(send, "mark_before_data", mark)


def nobody_takes_over_from_the_dead(monkeypatch):
    def claimable(now):
        return Message.objects.filter(state=MessageState.QUEUED, not_before__lte=now)

    monkeypatch.setattr(send, "claimable", claimable)


def dead_address_tried_again(monkeypatch):
    monkeypatch.setattr(book, "_dead", book._again)
    monkeypatch.setattr(book, "mark_address_dead", lambda *a, **k: None)


def doubt_forgotten(monkeypatch):
    monkeypatch.setattr(book, "_unsure", book._again)
    taken = send._take

    def take(message, *given, **more):
        taken(message, *given, **more)
        Message.objects.filter(pk=message.pk).update(unsure_attempts=0)

    monkeypatch.setattr(send, "_take", take)


def written_anew_at_each_attempt(monkeypatch):
    taken = send._take

    def take(message, *given, **more):
        taken(message, *given, **more)
        Message.objects.filter(pk=message.pk).update(frozen=None)

    monkeypatch.setattr(send, "_take", take)


def quiet_hours_only_when_owed(monkeypatch):
    monkeypatch.setattr(send, "_later_than_now", lambda message, firm, *, now: None)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("break_it", "happenings"),
    [
        (no_fence, ["slow, overtaken before the bytes"]),
        (no_look_at_the_live_state, ["closed meanwhile"]),
        (marked_as_sent_before_it_is, ["killed before they were taken"]),
        (nobody_takes_over_from_the_dead, ["killed before the bytes"]),
        (dead_address_tried_again, ["no such address"]),
        (doubt_forgotten, ["no answer", "killed after they were taken"]),
        (written_anew_at_each_attempt, ["killed after they were taken"]),
        (quiet_hours_only_when_owed, ["later"]),
    ],
)
def test_the_same_search_finds_an_outbox_that_breaks_its_word(break_it, happenings, monkeypatch):
    """Searched where the fault would show, so that it is short; the promises are the same."""
    break_it(monkeypatch)
    machine = type("Broken", (Outbox,), {"happenings": [*happenings, "taken"]})

    with pytest.raises(AssertionError):
        try_all(machine, 60, 10, phases=[Phase.generate])
