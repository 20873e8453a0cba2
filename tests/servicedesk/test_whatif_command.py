"""Comparing from the command line, with its child processes as they really run."""

import csv
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db.models.functions import Now
from django.utils import timezone

from servicedesk.actions.whatif import runs
from servicedesk.kinds import PlanState
from servicedesk.models import WhatIf, WhatIfSide
from servicedesk.planning.whatif.settings import Settings
from tests import make
from tests.machines import until

EMBEDDED = """
import django
django.setup()
from servicedesk import embedded
embedded.run(port=0, announce=lambda address: print("pages at", address, flush=True))
"""


def firm_with_work():
    make.firm()
    make.technician(), make.technician()
    for number in range(5):
        place = make.filter_position(
            of=make.system(site=make.site(lat=45 + number / 50, lon=-93.1))
        )
        place.pond = make.pond(site=place.system.site)
        place.save()
    return make.task(slug="filter_change", every=60)


@pytest.mark.django_db(transaction=True)
def test_command_prints_months_and_sums_and_writes_the_same_as_csv(
    program, test_database, tmp_path
):
    firm_with_work()
    file = tmp_path / "months.csv"
    words = "whatif --technicians -1 --interval filter_change=90d --ponds +2 --weeks 12"
    ran = program(**test_database | {"REDIS_URL": ""}).manage(
        *words.split(), "--iterations", "5", "--csv", str(file)
    )
    ran.says("What was assumed")
    assert ran.popen.wait(60) == 0

    said = ran.log.read_text()
    assert said.startswith("One technician fewer (Dario Lund ")
    assert (
        "2 ponds more; Filter change every 90 days: 0 late tasks in 12 weeks instead of 0" in said
    )
    assert "Late tasks, with those still undone" in said
    paid = [row for row in rows_of(file) if row["Measure"] == "Paid time"]
    assert [2 * float(row["B"]) for row in paid] == [float(row["A"]) for row in paid]
    assert WhatIf.objects.get().state == PlanState.DONE


@pytest.mark.django_db(transaction=True)
def test_jobs_play_a_comparison_and_stop_it_when_asked(program, test_database):
    firm_with_work()
    one_process = program(**test_database | {"REDIS_URL": ""}).start("-c", EMBEDDED)
    one_process.says(r"pages at (\S+)")
    asked = runs.ask_what_if(
        "x", Settings(), Settings(ponds=1), by=None, now=timezone.now(), weeks=150, iterations=5000
    )
    until(lambda: asked.sides.filter(done_weeks__gt=0).count() == 2, seconds=90, what="both sides")

    runs.cancel_what_if(asked, now=timezone.now())
    until(lambda: over(asked), seconds=30, what="the end")
    assert asked.state == PlanState.CANCELLED
    assert all(side.result["weeks_done"] > 0 for side in asked.sides.all())


def over(asked):
    asked.refresh_from_db()
    return asked.state not in runs.UNDER_WAY


def rows_of(file):
    with file.open(encoding="utf-8-sig", newline="") as opened:
        return list(csv.DictReader(opened))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--technicians", "-9"], "9 fewer cannot be"),
        (["--interval", "no_task=150d"], "There is no task no_task"),
        (["--interval", "filter_change=soon"], "is no interval"),
        (["--shop", "north"], "is no place"),
        (["--weeks", "0"], "--weeks lies between 1 and 156"),
        (["--iterations", "0"], "--iterations start at 1"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_begins(words, said):
    firm_with_work()
    with pytest.raises(CommandError, match=said):
        call_command("whatif", *words)
    assert not WhatIf.objects.exists()


@pytest.mark.django_db
def test_side_whose_child_never_came_is_given_up():
    firm_with_work()
    asked = runs.ask_what_if("x", Settings(), Settings(ponds=1), by=None, now=timezone.now())
    runs.start_what_ifs(launch=lambda side: None)
    WhatIfSide.objects.update(lease_until=Now() - timedelta(seconds=1))

    assert runs.collect_what_ifs(clock=timezone.now) == 1
    asked.refresh_from_db()
    assert (asked.state, asked.says) == (PlanState.FAILED, runs.DEAD)
