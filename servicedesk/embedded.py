"""One process on one machine: the web pages, the worker and the beat, with no other server."""

import fcntl
import logging
import signal
import socket
import threading
from contextlib import contextmanager
from functools import partial
from queue import Empty, SimpleQueue

import waitress
from celery import beat, bootsteps
from django.conf import settings
from django.core.management.base import CommandError
from django.core.wsgi import get_wsgi_application
from django.db import Error as DatabaseError
from django.db import close_old_connections
from django.utils import timezone

from servicedesk.actions import jobs
from servicedesk.celery import app

log = logging.getLogger(__name__)

PORTS = range(8000, 8020)
JOB_S = 3.0  # how long a stop waits for the job in hand; what is cut off is done at the next start
REQUEST_S = 1.0


def run(*, port=None, prepare=None, announce=None):
    """Serve pages and run jobs until Ctrl-C or SIGTERM, then stop both within five seconds.

    port: None takes the first free one of PORTS, 0 any free one.
    prepare: called with nothing else at work on the data folder, before the first page.
    announce: called with the address, such as "http://127.0.0.1:8000/", once pages are served.
    Raises CommandError where the data folder (exit status 3) or the port (2) is taken.
    """
    if not app.conf.broker_url.startswith("memory:"):
        raise CommandError(
            "SERVICEDESK_REDIS_URL is set, and one process for pages and jobs uses no Redis. "
            "Unset it, or start gunicorn, a Celery worker and beat as the README says.",
            returncode=2,
        )
    with hold_data_folder(), listening_socket(port) as listening:
        address = "http://{}:{}".format(*listening.getsockname())
        if not settings.ADDRESS_IS_SET:
            settings.PUBLIC_ADDRESS = address  # a mail's link leads to where the pages are
        if prepare:
            prepare()
        _serve_until_stopped(listening, announce and partial(announce, f"{address}/"))


@contextmanager
def hold_data_folder():
    """Keep every other start off the data folder; the lock dies with the process."""
    folder = settings.DATA
    folder.mkdir(parents=True, exist_ok=True)
    try:
        opened = (folder / "lock").open("a")
    except OSError as error:
        raise CommandError(
            f"Nothing can be written to the data folder {folder} ({error.strerror}). Give this "
            "user the right to write there, or name another folder in SERVICEDESK_DATA.",
            returncode=2,
        ) from None
    with opened as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CommandError(
                f"Another start is at work on the data folder {folder}. Stop it first (Ctrl-C in "
                "its window), or give this one a folder of its own in SERVICEDESK_DATA.",
                returncode=3,
            ) from None
        yield


def listening_socket(port):
    """A socket bound on this machine alone; pages go to the world through a proxy with HTTPS."""
    for number in PORTS if port is None else [port]:
        bound = socket.socket()
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind(("127.0.0.1", number))
        except (OSError, OverflowError):
            bound.close()
        else:
            return bound
    tried = f"ports {PORTS[0]} to {PORTS[-1]} are" if port is None else f"port {port} is"
    raise CommandError(
        f"On this machine {tried} taken or not allowed. Name a free one with --port, for "
        "example --port 8080; --port 0 takes any.",
        returncode=2,
    )


def _serve_until_stopped(listening, announce):
    stops = SimpleQueue()  # the one queue that a signal handler may fill
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda number, frame: stops.put(number))
    settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
    server = waitress.create_server(
        get_wsgi_application(),
        sockets=[listening],
        threads=4,
        clear_untrusted_proxy_headers=True,
        **_proxy(),
    )
    threading.Thread(target=server.run, name="web", daemon=True).start()
    crew = Crew()
    if announce:
        announce()
    while not _stop_asked(stops):
        crew.watch()
    crew.stop()
    server.task_dispatcher.shutdown(timeout=REQUEST_S)


def _proxy():
    """What a proxy on this machine says in headers is taken; anybody else's is dropped."""
    taken = {"x-forwarded-proto"} if settings.SECURE_SSL_REDIRECT else set()
    if settings.PROXIES:
        taken |= {"x-forwarded-for"}
    if not taken:
        return {}
    return {
        "trusted_proxy": "127.0.0.1",
        "trusted_proxy_count": max(1, settings.PROXIES),
        "trusted_proxy_headers": taken,
    }


def _stop_asked(stops):
    try:
        return stops.get(timeout=settings.JOB_BEAT_S)
    except Empty:
        return None


class Crew:
    """The worker and the beat; a worker that no longer beats is replaced."""

    def __init__(self):
        self.beat = Beat()
        self._take_worker()
        self.beat.start()

    def _take_worker(self):
        self.worker = Worker()
        self.worker_since = timezone.now()
        self.worker.start()

    def watch(self):
        """Replace a worker that has not beaten for too long: a solo worker knows no time limit."""
        now = timezone.now()
        try:
            beat_at = jobs.last_beat_at() or self.worker_since
        except DatabaseError:
            log.exception("the beat of the jobs cannot be read")
            return
        finally:
            close_old_connections()
        if now - max(beat_at, self.worker_since) > jobs.STALE:
            log.error("the jobs have not beaten since %s: taking a new worker", beat_at)
            self.worker.leave()
            self._take_worker()

    def stop(self):
        self.beat.service.stop()
        self.worker.leave()
        self.worker.join(timeout=JOB_S)
        if self.worker.is_alive():
            log.warning("a job was cut off; it is done again at the next start")


class Worker(threading.Thread):
    def __init__(self):
        super().__init__(name="worker", daemon=True)
        self.controller = app.WorkController(
            pool="solo",
            concurrency=1,
            without_mingle=True,
            without_gossip=True,
            without_heartbeat=True,
        )

    def run(self):
        self.controller.start()

    def leave(self):
        """Take no further job. Celery's own flag would stop the worker that comes after, too."""
        self.controller.consumer.blueprint.state = bootsteps.CLOSE


class Beat(threading.Thread):
    def __init__(self):
        super().__init__(name="beat", daemon=True)
        # In memory: nothing may depend on when a job ran last, and its file breaks on hard stops.
        self.service = beat.Service(app, scheduler_cls=beat.Scheduler, max_interval=1)

    def run(self):
        self.service.start()
