"""Real parts for the tests: Redis, PostgreSQL, a mail server, and this program's own processes."""

import asyncio
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import uuid
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
import redis
from aiosmtpd.controller import Controller
from django.conf import settings

from tests.environment import FOLDER

ROOT = Path(__file__).parent.parent
POSTGRES = "postgresql://postgres@127.0.0.1:5432/postgres"


def until(true, *, seconds=60, what="it"):
    """Ask again until the answer is true; the answer. Fails the test when time is up."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if answer := true():
            return answer
        time.sleep(0.05)
    pytest.fail(f"waited {seconds} s for {what}")


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class RedisServer:
    """A Redis of the test's own, which may be killed and started again."""

    def __init__(self, folder):
        self.folder = folder
        self.port = free_port()
        self.url = f"redis://127.0.0.1:{self.port}/0"

    def start(self):
        self.process = subprocess.Popen(
            f"redis-server --port {self.port} --bind 127.0.0.1 --appendonly yes".split(),
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
        )
        until(self.answers, what="Redis")

    def answers(self):
        try:
            with redis.Redis(port=self.port) as client:
                return client.ping()
        except redis.RedisError:
            return False

    def waiting(self):
        """How many calls stand in the queue of the jobs."""
        with redis.Redis(port=self.port) as client:
            return client.llen("celery")

    def kill(self):
        self.process.kill()
        self.process.wait()


@pytest.fixture
def redis_server(need, tmp_path):
    need("redis", shutil.which("redis-server"), "no redis-server on this machine")
    server = RedisServer(tmp_path)
    server.start()
    yield server
    server.kill()


@pytest.fixture
def postgres_url(need):
    """The address of a new, empty database, gone after the test; POSTGRES_URL names the server."""
    base = os.environ.get("POSTGRES_URL", POSTGRES)
    name = f"servicedesk_{uuid.uuid4().hex[:12]}"
    try:
        server = psycopg.connect(base, autocommit=True, connect_timeout=5)
    except psycopg.OperationalError as error:
        need("postgres", False, error)
    with server:
        server.execute(f"CREATE DATABASE {name}")
        yield urlunsplit(urlsplit(base)._replace(path=f"/{name}"))
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@dataclass(frozen=True)
class Mail:
    sender: str
    recipients: tuple
    content: bytes


class SmtpSink:
    """A mail server that keeps what it takes, and answers as the test tells it to.

    answer: the reply to a mail; answers: replies to the next ones, before that.
    refused: replies by recipient, such as {"gone@example.com": "550 5.1.1 no such mailbox"}.
    lag_s: seconds between taking a mail and saying so.
    """

    def __init__(self):
        self.mails = []
        self.answer = "250 taken"
        self.answers = deque()
        self.refused = {}
        self.lag_s = 0.0
        self.controller = Controller(self, hostname="127.0.0.1", port=free_port())
        self.url = f"smtp://127.0.0.1:{self.controller.port}"
        self.port = self.controller.port

    def start(self):
        self.controller.start()

    def stop(self):
        self.controller.stop()

    async def handle_RCPT(self, server, session, envelope, address, options):
        if address in self.refused:
            return self.refused[address]
        envelope.rcpt_tos.append(address)
        return "250 known"

    async def handle_DATA(self, server, session, envelope):
        answer = self.answers.popleft() if self.answers else self.answer
        if answer.startswith("2"):
            mail = Mail(envelope.mail_from, tuple(envelope.rcpt_tos), envelope.content)
            self.mails.append(mail)
        await asyncio.sleep(self.lag_s)
        return answer


@pytest.fixture
def smtp_sink():
    sink = SmtpSink()
    sink.start()
    yield sink
    sink.stop()


class Process:
    """One process of this program, in a group of its own so that all of it can be killed."""

    def __init__(self, arguments, environment, log):
        self.log = log
        with log.open("wb") as output:
            self.popen = subprocess.Popen(
                [sys.executable, *arguments],
                cwd=ROOT,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def says(self, pattern, *, seconds=120):
        """Wait for a line; the match."""

        def match():
            found = re.search(pattern, self.log.read_text())
            if not found and self.popen.poll() is not None:
                pytest.fail(f"ended with {self.popen.returncode}: {self.log.read_text()}")
            return found

        return until(match, seconds=seconds, what=pattern)

    def kill(self):
        """SIGKILL to the process and all its children."""
        if self.popen.poll() is None:
            os.killpg(self.popen.pid, signal.SIGKILL)
        self.popen.wait()

    def stop(self, number=signal.SIGTERM, *, seconds=60):
        """Ask it to end; its exit status."""
        self.popen.send_signal(number)
        return self.popen.wait(seconds)


class Program:
    """Starts processes of this program with settings of the test's choice, and ends them all."""

    def __init__(self, folder, **settings):
        self.folder = folder
        self.environment = os.environ | {f"SERVICEDESK_{k}": str(v) for k, v in settings.items()}
        self.processes = []

    def start(self, *arguments):
        log = self.folder / f"process-{len(self.processes)}.log"
        self.processes.append(Process(arguments, self.environment, log))
        return self.processes[-1]

    def manage(self, *arguments):
        return self.start("manage.py", *arguments)

    def celery(self, *arguments):
        return self.start("-m", "celery", "-A", "servicedesk.celery", *arguments)

    def end(self):
        for process in self.processes:
            process.kill()


@pytest.fixture
def program(tmp_path, transactional_db):
    """Makes Programs: program(DATA=folder, REDIS_URL=address, ...).

    Its processes end before the database of the tests is emptied.
    """
    made = []

    def make(**settings):
        folder = tmp_path / f"program-{len(made)}"
        folder.mkdir()
        made.append(Program(folder, **settings))
        return made[-1]

    yield make
    for one in made:
        one.end()


@pytest.fixture
def test_database(transactional_db):
    """The settings that lead another process to the database of the tests."""
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        return {"DATA": FOLDER}
    url = urlsplit(os.environ["SERVICEDESK_DATABASE_URL"])
    return {"DATABASE_URL": urlunsplit(url._replace(path=f"/{database['NAME']}"))}
