"""Planning in child processes, as it really runs: nothing waits for it, nothing is left over."""

import json
import time
import urllib.request
from datetime import timedelta

import pytest
from django.utils import timezone

from servicedesk.actions.routes import hands, plans
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.kinds import MessageState, PlanState
from servicedesk.models import Message, PlanRun, Solve
from tests import make
from tests.machines import until
from tests.servicedesk.actions.routes import weeks

pytestmark = [pytest.mark.long, pytest.mark.django_db(transaction=True)]

TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())
EMBEDDED = """
import django
django.setup()
from servicedesk import embedded
embedded.run(port=0, announce=lambda address: print("pages at", address, flush=True))
"""
FOR_EVER = 10_000_000  # iterations


@pytest.fixture
def one_process(program, test_database):
    """Pages and jobs together, on the database of the tests; it has no use for Redis."""
    return program(**test_database | {"REDIS_URL": ""}).start("-c", EMBEDDED)


@pytest.fixture
def dario():
    make.firm(
        time_zone="America/Chicago",
        shop_lat=44.9,
        shop_lon=-93.2,
        quiet_from="23:59",
        quiet_until="00:01",
        mail_on_sunday=True,
    )
    return make.technician()


def call_out(monday, **fields):
    """A ticket that no refresh of due days closes again."""
    return weeks.ticket(occasion="call:1", due_when_opened_on=monday, **fields)


def ask(**fields):
    start = {"by": None, "today": TODAY, "now": timezone.now(), "iterations": FOR_EVER}
    return plans.ask_for_plan(MONDAY, **start | fields)


def under_way(run):
    return run.solves.filter(done_iterations__gt=0).count() == 2


def test_pages_and_mails_go_on_while_a_week_is_planned(one_process, dario):
    address = one_process.says(r"pages at (\S+)")[1]
    until(lambda: healthy(address), what="the first beat of the jobs")
    for number in range(30):
        call_out(MONDAY, task=make.task(slug=f"call-{number}"))
    run = ask()
    until(lambda: under_way(run), seconds=90, what="both children")

    contact = make.contact(email="ines@example.com")
    site = make.site(owner=contact.customer, lat=44.95, lon=-93.0)
    later = MONDAY + timedelta(days=7)
    ticket = call_out(later, site=site)
    hands.place_by_hand(ticket, technicians=[dario], day=later, start=None, today=TODAY)
    publish_week(later, by=None, today=TODAY, now=timezone.now())
    slowest, end = 0.0, time.monotonic() + 60
    while time.monotonic() < end and not mail_was_sent(contact):
        begin = time.monotonic()
        assert healthy(address)
        slowest = max(slowest, time.monotonic() - begin)
        time.sleep(0.2)

    assert mail_was_sent(contact)
    assert slowest < 5
    assert under_way(run)
    assert run.solves.filter(state=PlanState.RUNNING).count() == 2
    plans.cancel_plan(run, now=timezone.now())
    until(lambda: is_over(run), seconds=60, what="the end of the planning")
    run.refresh_from_db()
    assert run.state == PlanState.CANCELLED
    assert "the best plan found until then is kept" in run.says


def healthy(address):
    try:
        with urllib.request.urlopen(f"{address}health/", timeout=10) as answer:
            return json.load(answer)["status"] == "ok"
    except OSError:
        return False


def mail_was_sent(contact):
    return Message.objects.filter(contact=contact, state=MessageState.SENT).exists()


def is_over(run):
    return PlanRun.objects.filter(pk=run.pk).exclude(state__in=plans.UNDER_WAY).exists()


def test_child_ends_when_the_program_that_started_it_is_gone(one_process, dario):
    one_process.says("pages at")
    call_out(MONDAY)
    run = ask()
    until(lambda: under_way(run), seconds=90, what="both children")
    one_process.stop()

    until(lambda: not Solve.objects.filter(state=PlanState.RUNNING).exists(), seconds=30)
    assert set(run.solves.values_list("state", flat=True)) == {PlanState.CANCELLED}
