"""The nightly refresh on real processes: shared without overlap, killed, and beside other jobs."""

import json
import re
import time
from datetime import timedelta
from itertools import pairwise

import pytest
from celery import Celery
from django.db.models.functions import Now
from django.utils import timezone

from servicedesk.actions import due, refreshing
from servicedesk.actions.due import refresh_all
from servicedesk.models import DueItem, JobBeat, RefreshPart
from servicedesk.transport import broker_url
from tests import make
from tests.machines import until

pytestmark = pytest.mark.long
SITES = 24
TURNS = """
import json
import sys
import django

django.setup()

from django.utils import timezone

from servicedesk.actions import due, refreshing

refreshing.PART_SYSTEMS, due.CHUNK = 2, 1
taken = []
whole = refreshing.work_on

def work_on(part, *, clock):
    taken.append(part.number)
    whole(part, clock=clock)

refreshing.work_on = work_on
while refreshing.RefreshPart.objects.under_way().exists():
    refreshing.refresh_in_turn(clock=timezone.now)
print("took", json.dumps(taken), flush=True)
"""
HANGS_IN_A_PART = """
import time
import django

django.setup()

from django.utils import timezone

from servicedesk.actions import due, refreshing

due.CHUNK = 1
whole, calls = due.refresh_watched, []

def refresh_watched(chunk, *, now):
    calls.append(chunk)
    if len(calls) == 3:
        print("in the middle", flush=True)
        time.sleep(600)
    return whole(chunk, now=now)

due.refresh_watched = refresh_watched
refreshing.refresh_in_turn(clock=timezone.now)
"""
CELERY_WORKER = """
import sys
import time
import django

django.setup()

from django.db import connection
from servicedesk.actions import due, refreshing
from servicedesk.celery import app

due.CHUNK = 1
whole, compute, chunks = refreshing.work_on, due.refresh_watched, []

def hang_if_told():
    if sys.argv[1] == "hangs" and len(chunks) == 3:
        print("in the middle", flush=True)
        time.sleep(600)

def refresh_watched(chunk, *, now):
    computed = compute(chunk, now=now)
    chunks.append(chunk)
    if connection.vendor == "postgresql":
        hang_if_told()  # rows are written, and not committed; SQLite would let nobody else write
    return computed

def work_on(part, *, clock):
    def ticking():
        hang_if_told()
        return clock()

    print(f"begun {part.number} {time.time()}", flush=True)
    whole(part, clock=ticking)
    print(f"ended {part.number} {time.time()}", flush=True)

due.refresh_watched, refreshing.work_on = refresh_watched, work_on
app.worker_main(["worker", "--concurrency", "1", "--without-gossip", "--without-mingle"])
"""
WITH_SLOW_PARTS = """
import time
import django

django.setup()

from servicedesk import embedded
from servicedesk.actions import due, refreshing

refreshing.PART_SYSTEMS, due.CHUNK = 1, 1
whole = due.refresh_watched

def refresh_watched(chunk, *, now):
    time.sleep(0.25)  # of the 3 s after which a test's worker counts as stale
    return whole(chunk, now=now)

due.refresh_watched = refresh_watched
embedded.run(port=0, announce=lambda address: print(address, flush=True))
"""


@pytest.fixture
def sites(transactional_db):
    task = make.task()
    for _ in range(SITES):
        make.work(make.filter_position(), task, done_at=timezone.now() - timedelta(days=115))
    JobBeat.objects.update_or_create(name=due.BEAT, defaults={"beat_at": due.NEVER})


@pytest.fixture
def small_parts(monkeypatch):
    monkeypatch.setattr(refreshing, "PART_SYSTEMS", 2)


def all_is_as_a_full_refresh_leaves_it():
    return DueItem.objects.count() == SITES and refresh_all(now=timezone.now()).written == 0


def test_two_processes_share_a_round_and_take_no_part_twice(
    program, test_database, sites, small_parts
):
    refreshing.begin_round(now=timezone.now())
    calling = program(REDIS_URL="redis://127.0.0.1:1/0", **test_database)

    two = [calling.start("-c", TURNS) for _ in range(2)]

    taken = [json.loads(one.says(r"took (\[.*\])")[1]) for one in two]
    assert sorted(taken[0] + taken[1]) == list(range(1, SITES // 2 + 1))
    assert sum(RefreshPart.objects.values_list("looked_at", flat=True)) == SITES
    assert all_is_as_a_full_refresh_leaves_it()


def test_part_of_a_killed_process_goes_on_where_it_stopped(program, test_database, sites):
    calling = program(REDIS_URL="redis://127.0.0.1:1/0", **test_database)
    killed = calling.start("-c", HANGS_IN_A_PART)
    killed.says("in the middle")
    killed.kill()
    assert DueItem.objects.count() == 2
    assert refreshing.take_part() is None  # until its lease is over
    RefreshPart.objects.update(lease_until=Now() - timedelta(seconds=1))

    assert refreshing.refresh_in_turn(clock=timezone.now) is True

    part = RefreshPart.objects.get()
    assert (part.looked_at, part.tries) == (SITES, 2)
    assert all_is_as_a_full_refresh_leaves_it()


def test_workers_on_redis_bring_a_round_to_its_end(
    program, redis_server, test_database, sites, small_parts
):
    program(REDIS_URL=redis_server.url, **test_database).celery(
        "worker", "--concurrency", "2", "--without-gossip", "--without-mingle"
    )
    refreshing.begin_round(now=timezone.now())

    caller = Celery("caller", broker=broker_url(redis_server.url), set_as_current=False)
    caller.send_task("servicedesk.tasks.refresh_due")

    until(lambda: not RefreshPart.objects.under_way().exists(), what="the round")
    assert RefreshPart.objects.count() == SITES // 2
    assert all_is_as_a_full_refresh_leaves_it()


def test_of_two_workers_one_is_killed_in_the_middle_of_a_part_and_no_part_is_done_twice_at_once(
    program, redis_server, test_database, sites, monkeypatch
):
    monkeypatch.setattr(refreshing, "PART_SYSTEMS", 4)
    refreshing.begin_round(now=timezone.now())
    calling = program(REDIS_URL=redis_server.url, **test_database)
    caller = Celery("caller", broker=broker_url(redis_server.url), set_as_current=False)

    def called_and_free(parts):
        caller.send_task("servicedesk.tasks.refresh_due")  # as the beat does each minute
        time.sleep(0.5)
        return RefreshPart.objects.filter(done_at=None).count() == parts

    first = calling.start("-c", CELERY_WORKER, "hangs")
    caller.send_task("servicedesk.tasks.refresh_due")
    first.says("in the middle")
    second = calling.start("-c", CELERY_WORKER, "works")
    until(lambda: called_and_free(1), what="all other parts")
    held = RefreshPart.objects.get(done_at=None)
    assert held.lease_by is not None

    first.kill()
    killed_at = time.time()
    RefreshPart.objects.update(lease_until=Now() - timedelta(seconds=1))
    until(lambda: called_and_free(0), what="the part of the killed worker")

    spans = turns(first, ends_at=killed_at) + turns(second, ends_at=time.time())
    assert {number for number, _begun, _ended in spans} == set(range(1, SITES // 4 + 1))
    assert [n for n, *_ in turns(first, ends_at=killed_at)][-1] == held.number
    spans.sort()
    for (number, _begun, ended), (other, begun, _ended) in pairwise(spans):
        assert number != other or ended <= begun
    assert sum(RefreshPart.objects.values_list("looked_at", flat=True)) == SITES
    assert all_is_as_a_full_refresh_leaves_it()


def turns(worker, *, ends_at):
    """(part, begun, ended) of each turn that a worker's log tells of."""
    told = re.findall(r"(begun|ended) (\d+) (\d+\.\d+)", worker.log.read_text())
    begun = [(int(number), float(at)) for what, number, at in told if what == "begun"]
    ended = [float(at) for what, _number, at in told if what == "ended"]
    return [(n, at, end) for (n, at), end in zip(begun, [*ended, ends_at], strict=False)]


def test_beat_and_mails_have_their_turn_in_one_process_during_a_round(
    program, test_database, sites, smtp_sink
):
    contact = make.contact()
    make.firm()
    JobBeat.objects.filter(name="jobs").delete()
    serving = program(REDIS_URL="", SMTP_URL=smtp_sink.url, **test_database).start(
        "-c", WITH_SLOW_PARTS
    )
    serving.says(r"http://127\.0\.0\.1:\d+/")
    until(RefreshPart.objects.filter(done_at__isnull=False).exists, what="a part")

    now = timezone.now()
    make.message(contact=contact, made_at=now, not_before=now, give_up_at=now + timedelta(days=1))
    until(lambda: smtp_sink.mails, what="the mail")
    assert RefreshPart.objects.under_way().exists()
    beats = set()
    until(lambda: beats_heard(beats) and round_is_over(), what="the round")

    assert len(beats) >= 3
    assert "taking a new worker" not in serving.log.read_text()


def beats_heard(beats):
    beats.update(JobBeat.objects.filter(name="jobs").values_list("beat_at", flat=True))
    return beats


def round_is_over():
    return not RefreshPart.objects.under_way().exists()
