from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from servicedesk.actions import jobs

pytestmark = pytest.mark.django_db


def test_health_is_good_while_the_jobs_beat(client):
    jobs.record_beat(at=timezone.now())

    answer = client.get("/health/")

    assert (answer.status_code, answer.json()["status"]) == (200, "ok")


def test_health_is_bad_when_the_jobs_have_missed_three_beats(client):
    jobs.record_beat(at=timezone.now() - jobs.STALE - timedelta(seconds=1))

    answer = client.get("/health/")

    assert (answer.status_code, answer.json()["status"]) == (503, "the jobs do not run")


def test_health_is_bad_before_the_first_beat(client):
    assert client.get("/health/").status_code == 503


def test_health_is_bad_without_a_database(client):
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE servicedesk_jobbeat")

    answer = client.get("/health/")

    assert (answer.status_code, answer.json()["status"]) == (503, "the database does not answer")


def test_health_tells_nothing_but_its_state(client):
    assert set(client.get("/health/").json()) == {"status", "jobs_ran_at"}


def test_health_takes_no_orders(client):
    assert client.post("/health/").status_code == 405


def test_health_needs_no_login_and_no_script(page, live_server):
    jobs.record_beat(at=timezone.now())

    page.goto("/health/")

    assert '"ok"' in page.content()
