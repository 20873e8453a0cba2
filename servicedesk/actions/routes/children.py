"""Child processes that calculate: started, left alone, and given up when their parent is gone."""

import os
import subprocess
import sys

from django.conf import settings

from servicedesk.models import Solve

NICE = 10  # pages and mails go first

_started: list[subprocess.Popen] = []


def launch(solve: Solve) -> None:
    """Start the process that works a solve, and return at once."""
    start("solve", str(solve.plan_run_id), "--seed", str(solve.seed))


def start(*words: str) -> None:
    """Run a command of this program beside it, and return at once.

    Embedded, it ends with the process that started it; a worker may come and go.
    """
    reap()
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), *words]
    if settings.REDIS is None:
        command += ["--parent", str(os.getpid())]
    child = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        start_new_session=True,  # a Ctrl-C is for the program; a child sees it by its parent's end
    )
    os.setpriority(os.PRIO_PROCESS, child.pid, NICE)
    _started.append(child)


def started() -> list[subprocess.Popen]:
    """Those that this process started and has not let go of."""
    return list(_started)


def reap() -> None:
    """Let go of those that have ended, so that none is left a zombie."""
    _started[:] = [child for child in _started if child.poll() is None]
