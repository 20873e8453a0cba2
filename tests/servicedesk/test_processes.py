"""The program as it really runs: one process, and workers on Redis."""

import json
import signal
import sqlite3
import time
import urllib.error
import urllib.request
from contextlib import closing, suppress

import pytest
from celery import Celery
from django.db import connection
from kombu.exceptions import OperationalError

from servicedesk.models import JobBeat
from servicedesk.transport import broker_url
from tests.machines import until
from tests.schemas import facts_of_postgres, facts_of_sqlite

pytestmark = pytest.mark.long
ADDRESS = r"http://127\.0\.0\.1:\d+/"
WORKER = ["worker", "--concurrency", "2", "--without-gossip", "--without-mingle"]
BEAT = ["beat", "--scheduler", "celery.beat:Scheduler"]

WITH_A_JOB_THAT_HANGS = """
import threading
import django
from celery import shared_task

django.setup()

from servicedesk import embedded
from servicedesk.celery import app

@shared_task(name="hang")
def hang():
    threading.Event().wait()

def announce(address):
    print(address, flush=True)
    app.send_task("hang")

embedded.run(port=0, announce=announce)
"""
WAKE = """
import django
from django.db import transaction

django.setup()

from servicedesk import wakeups

with transaction.atomic():
    wakeups.wake("servicedesk.tasks.beat")
"""


def health(address):
    """(status, what it says); None where nothing listens."""
    try:
        with urllib.request.urlopen(f"{address}health/", timeout=10) as answer:
            return answer.status, json.load(answer)["status"]
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.load(error)["status"]
    except OSError:
        return None


def healthy(address):
    return health(address) == (200, "ok")


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    """Where the first of these tests finds nothing, as on a machine where it never ran."""
    return tmp_path_factory.mktemp("embedded") / "data"


@pytest.fixture
def embedded(program, data):
    """A program with a data folder of its own."""
    return program(TESTING="no", DATA=data, DATABASE_URL="", REDIS_URL="")


def test_serve_runs_pages_and_jobs_in_one_process_and_keeps_the_data(embedded, data):
    first = embedded.manage("serve", "--port", "0")
    address = first.says(ADDRESS)[0]
    first.says(f"Open {address}start/")
    until(lambda: healthy(address), what="/health/")
    assert first.stop(signal.SIGINT, seconds=5) == 0
    with closing(sqlite3.connect(data / "servicedesk.sqlite3")) as database, database:
        database.execute(
            "INSERT INTO servicedesk_jobbeat (name, beat_at, says, reached) "
            "VALUES ('kept', '2026-01-01', 1, 0)"
        )

    second = embedded.manage("serve", "--port", "0")
    address = second.says(ADDRESS)[0]
    until(lambda: healthy(address), what="/health/")

    with closing(sqlite3.connect(data / "servicedesk.sqlite3")) as database:
        kept = database.execute("SELECT count(*) FROM servicedesk_jobbeat WHERE name = 'kept'")
        assert kept.fetchone() == (1,)
    assert second.stop(signal.SIGTERM, seconds=5) == 0


def test_migrations_make_the_tables_that_the_models_describe(request, program, test_database):
    """On the database that the tests run on, whose tables are made from the models."""
    if connection.vendor == "sqlite":
        embedded, data = (request.getfixturevalue(name) for name in ("embedded", "data"))
        assert embedded.manage("prepare", "-v0").popen.wait(120) == 0
        migrated = facts_of_sqlite(data / "servicedesk.sqlite3")
        described = facts_of_sqlite(connection.settings_dict["NAME"])
    else:
        url, redis = (request.getfixturevalue(name) for name in ("postgres_url", "redis_server"))
        production = program(TESTING="no", REDIS_URL=redis.url, DATABASE_URL=url)
        assert production.manage("prepare", "-v0").popen.wait(120) == 0
        migrated = facts_of_postgres(url)
        described = facts_of_postgres(test_database["DATABASE_URL"])

    assert len(migrated) > 1000
    assert migrated == described


def test_second_start_on_one_data_folder_is_refused(embedded):
    running = embedded.manage("serve", "--port", "0")
    running.says(ADDRESS)

    second = embedded.manage("serve", "--port", "0")

    assert second.popen.wait(60) == 3
    assert "Another start is at work on the data folder" in second.log.read_text()
    assert running.popen.poll() is None


def test_port_that_is_taken_is_named(embedded, smtp_sink):
    refused = embedded.manage("serve", "--port", str(smtp_sink.port))

    assert refused.popen.wait(60) == 2
    assert f"port {smtp_sink.port} is taken" in refused.log.read_text()


def test_one_process_refuses_to_run_beside_redis(program, tmp_path):
    mixed = program(DATA=tmp_path / "data", DATABASE_URL="", REDIS_URL="redis://127.0.0.1:1/0")

    refused = mixed.manage("serve", "--port", "0")

    assert refused.popen.wait(60) == 2
    assert "SERVICEDESK_REDIS_URL is set" in refused.log.read_text()


def test_worker_that_hangs_is_replaced(program, test_database):
    hanging = program(REDIS_URL="", **test_database).start("-c", WITH_A_JOB_THAT_HANGS)
    address = hanging.says(ADDRESS)[0]

    hanging.says("taking a new worker")
    until(lambda: healthy(address), what="the new worker")

    assert hanging.stop(signal.SIGINT, seconds=5) == 0


def worker_at_work(production, caller):
    """Start a worker and wait until it has done a first job."""
    production.celery(*WORKER)
    caller.send_task("servicedesk.tasks.beat")
    until(JobBeat.objects.exists, what="the worker")
    JobBeat.objects.all().delete()


@pytest.fixture
def caller(redis_server):
    """Calls jobs over the test's Redis, as any other process would."""
    return Celery("caller", broker=broker_url(redis_server.url), set_as_current=False)


def test_wake_reaches_a_worker_over_redis(program, redis_server, caller, test_database):
    production = program(REDIS_URL=redis_server.url, **test_database)
    worker_at_work(production, caller)

    woken = production.start("-c", WAKE)

    assert woken.popen.wait(60) == 0
    until(JobBeat.objects.exists, what="the job")


def test_wake_without_redis_harms_nothing(program, test_database):
    woken = program(REDIS_URL="redis://127.0.0.1:1/0", **test_database).start("-c", WAKE)

    assert woken.popen.wait(60) == 0
    assert "waits for its next round: no broker answers" in woken.log.read_text()


def test_beat_gunicorn_and_worker_run_on_production_settings(program, redis_server, postgres_url):
    production = program(
        TESTING="no", HTTPS="yes", REDIS_URL=redis_server.url, DATABASE_URL=postgres_url
    )
    assert production.manage("prepare", "-v0").popen.wait(120) == 0
    production.celery(*WORKER)
    production.celery(*BEAT)
    web = production.start("-m", "gunicorn", "servicedesk.wsgi", "--bind", "127.0.0.1:0")

    address = f"{web.says(r'Listening at: (http://[0-9.:]+)')[1]}/"

    until(lambda: healthy(address), what="/health/")
    redirected = urllib.request.Request(f"{address}admin/", method="HEAD")
    with pytest.raises(OSError, match="SSL"):
        urllib.request.urlopen(redirected, timeout=10)
    for process in production.processes[1:]:
        assert process.stop() == 0


def test_worker_goes_on_after_redis_was_killed_under_load(
    program, redis_server, caller, test_database
):
    worker_at_work(program(REDIS_URL=redis_server.url, **test_database), caller)

    def call(seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            with suppress(OperationalError):
                caller.send_task("servicedesk.tasks.beat", retry=False)
            time.sleep(0.01)

    for _ in range(2):
        call(2)
        redis_server.kill()
        call(0.3)
        redis_server.start()
    call(2)

    until(lambda: redis_server.waiting() == 0, what="the queue to be worked off")
    JobBeat.objects.all().delete()
    caller.send_task("servicedesk.tasks.beat")
    until(JobBeat.objects.exists, what="a call after the restarts")
