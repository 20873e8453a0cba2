"""The database of the tests, and what may be missing on a machine and what may not."""

import os

import hypothesis
import pytest
from django.conf import settings
from django.core.cache import caches
from django.db import connection

from tests.environment import FOLDER

pytest_plugins = [
    "tests.machines",
    "tests.browser",
    "tests.phones",
    "tests.road_service",
    "tests.weather_service",
]

# How long an example takes says more of what else the machine is doing than of our code.
hypothesis.settings.register_profile("any_machine", deadline=None)
hypothesis.settings.load_profile("any_machine")

REQUIRED = set(filter(None, os.environ.get("REQUIRE", "").split(",")))


def pytest_configure(config):
    config.addinivalue_line("markers", "long: takes many seconds, and begins before the others")
    unknown = REQUIRED - {"postgres", "redis", "chromium"}
    if unknown:
        raise pytest.UsageError(f"REQUIRE names parts that no test knows: {', '.join(unknown)}")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config, items):
    """Long tests go first in each worker's share, so that none is left when the others are done."""
    workers = getattr(config, "workerinput", {}).get("workercount", 1)
    long = [item for item in items if item.get_closest_marker("long")]
    files = list(dict.fromkeys(item.path for item in long))
    items[:] = [item for item in items if not item.get_closest_marker("long")]
    share = len(items) // workers
    for worker in reversed(range(workers)):
        own = files[worker::workers]
        items[worker * share : worker * share] = [item for item in long if item.path in own]


@pytest.fixture(scope="session")
def need():
    """Skips a test that needs a part this machine lacks; fails it where REQUIRE names the part."""

    def need(part, found, missing):
        if not found:
            (pytest.fail if part in REQUIRED else pytest.skip)(f"{part}: {missing}")
        return found

    return need


@pytest.fixture(scope="session")
def django_db_use_migrations():
    """No: tables made from the models stand in half a second instead of ten.

    tests/servicedesk/test_processes.py holds that the migrations make the same.
    """
    return False


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix):
    """On SQLite a file, as in real life: threads and other processes share it."""
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        database["TEST"]["NAME"] = str(FOLDER / "servicedesk.sqlite3")


@pytest.fixture(autouse=True)
def nobody_asked_before():
    """What one test opened often holds up no other."""
    caches["pace"].clear()


@pytest.fixture(autouse=True)
def no_child_outlives_its_test():
    """With workers nobody ends a child process that calculates: it would hold the database."""
    from servicedesk.actions.routes import children  # noqa: PLC0415 (needs the settings)

    yield
    for child in children.started():
        child.kill()
        child.wait()
    children.reap()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """On PostgreSQL a session that is still open keeps the database from being dropped.

    All tests are over by then: what is left is a thread of a server whose browser has not hung up,
    or a child of a process that was killed, which sees only at its next step that it is alone.
    """
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
