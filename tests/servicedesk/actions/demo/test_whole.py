"""The whole demo, and the command that builds it."""

import json
import os
import subprocess
import sys
from datetime import date, timedelta

import pytest
from django.conf import settings

from customers.models import Ownership, Pond
from equipment.models import System
from servicedesk.actions.demo import people
from servicedesk.actions.demo.building import SYSTEMS, DemoRefused, build_demo
from servicedesk.models import Technician, Ticket, Work

pytestmark = pytest.mark.long
TODAY = date(2026, 11, 25)  # a Wednesday


@pytest.mark.django_db
def test_whole_demo_has_what_the_firm_is_promised():
    demo = build_demo(today=TODAY)

    assert demo.systems == System.objects.count() - 1 == SYSTEMS >= 150  # and one is handed over
    assert Pond.objects.count() >= 120
    assert 100 <= Ticket.objects.open().count() <= 180
    assert demo.published == [TODAY, TODAY + timedelta(days=1)]
    assert Ticket.objects.open().filter(stops=None).count() >= 80  # for the coming week
    assert Technician.objects.count() == 3
    first, last = (
        Work.objects.filter(visit__isnull=False).earliest("done_at"),
        Work.objects.latest("done_at"),
    )
    assert (last.done_at - first.done_at).days > 700
    assert Ownership.objects.filter(customer__name="Oxlip Green Golf").count() == 2
    assert Pond.objects.filter(site__ownerships__customer__name="Oxlip Green Golf").count() == 12


@pytest.mark.django_db
def test_demo_touches_no_firm_that_is_there():
    people.make_firm()
    people.make_crew(today=TODAY)

    with pytest.raises(DemoRefused, match="firm in this database already"):
        build_demo(today=TODAY, number=20)
    with pytest.raises(DemoRefused, match="at least 20"):
        build_demo(today=TODAY, number=3)


def demo(folder, *words):
    env = {
        **os.environ,
        "SERVICEDESK_DATA": str(folder),
        "SERVICEDESK_SMTP_URL": "smtp://127.0.0.1:9",
    }
    command = [sys.executable, "manage.py", "demo", "--no-serve", "--json", *words]
    return subprocess.run(
        command, cwd=settings.BASE_DIR, env=env, capture_output=True, text=True, check=False
    )


def test_command_keeps_an_old_demo_and_builds_anew_when_told(tmp_path):
    made = json.loads(demo(tmp_path, "--systems", "20", "--today", "2026-11-25").stdout)
    kept = json.loads(demo(tmp_path, "--today", "2026-11-27").stdout)
    refused = demo(tmp_path, "--reset", "--systems", "3")
    anew = json.loads(demo(tmp_path, "--reset", "--systems", "21", "--today", "2026-11-27").stdout)

    assert (made["today"], made["systems"], made["old"]) == ("2026-11-25", 20, "")
    assert kept["today"] == "2026-11-25"
    assert "--reset" in kept["old"]
    assert refused.returncode == 2
    assert "at least 20" in refused.stderr
    assert (anew["today"], anew["systems"], anew["old"]) == ("2026-11-27", 21, "")
    assert (tmp_path / "demo" / "servicedesk.sqlite3").exists()
