"""The manager's story: sign in, have the week planned, place what needs two, publish, mails go."""

import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import expect

from servicedesk.actions.due import refresh_all
from servicedesk.actions.tickets import open_due_tickets
from servicedesk.kinds import Clock, MessageState
from servicedesk.models import Message, PlanRun, Route, Stop, Ticket
from servicedesk.planning.calendar import week_name
from tests import make
from tests.machines import until

pytestmark = pytest.mark.django_db(transaction=True)

PASSWORD = "a long enough one"  # the one that make.user sets
TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())
JOBS = """
import django
django.setup()
from servicedesk import embedded
embedded.run(port=0, announce=lambda address: print("the jobs run", flush=True))
"""
SOON = 90_000  # milliseconds; other checks may keep both cores busy


@pytest.fixture
def jobs(program, test_database):
    """The jobs as they really run, on the database of the tests."""
    here = program(**test_database)
    if settings.REDIS:
        here.celery("worker", "--concurrency", "2", "--without-gossip", "--without-mingle")
        here.celery("beat", "--scheduler", "celery.beat:Scheduler")
    else:
        here.start("-c", JOBS).says("the jobs run")


@pytest.fixture
def firm():
    """Two technicians, six filters due at six ponds, and a winter setting that needs two."""
    make.firm(
        time_zone="America/Chicago",
        shop_lat=44.9,
        shop_lon=-93.2,
        quiet_from="23:59",
        quiet_until="00:01",
        mail_on_sunday=True,
    )
    make.manager(username="priya")
    for name in ("Dario", "Wen"):
        make.technician(
            user=make.user(username=name.lower(), first_name=name, last_name="Lund"), boat=True
        )
    change = make.task(name="Filter change")
    now = timezone.now()
    long_ago, before = now - timedelta(days=400), now - timedelta(days=116)
    for number in range(6):
        owner = make.contact(email=f"owner{number}@example.com").customer
        site = make.site(owner=owner, name=f"Lane {number}", lat=44.95, lon=-93.0 + number / 20)
        pond = make.pond(site=site, name=f"Harbeck Pond {number}")
        system = make.system(site=site, since=long_ago)
        place = make.filter_position(system, pond=pond)
        make.work(place, change, done_at=before, entered_at=before)
    refresh_all(now=now)
    open_due_tickets(clock=timezone.now)
    winter = make.task(
        name="Winter setting",
        clock=Clock.EVENT,
        every=None,
        unit="",
        crew=2,
        needs_boat=True,
        minutes=60,
    )
    make.ticket(at=place, task=winter, occasion="call:1", due_when_opened_on=MONDAY)


def test_manager_plans_and_publishes_a_week(page, firm, jobs):
    page.goto("/")
    page.get_by_label("Username").fill("priya")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("navigation").get_by_role("link", name="Week").click()
    if week_name(MONDAY) not in page.url:
        page.get_by_role("link", name="Week after").click()

    page.get_by_role("button", name="Plan the week").click()
    expect(page.locator("#planning")).to_be_visible()
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.get_by_role("link", name="Publish the week")).to_be_visible(timeout=SOON)
    run = PlanRun.objects.get()
    assert run.says == "Planned twice over; the better plan is kept."
    assert sum(solve.done_iterations for solve in run.solves.all()) == 2 * run.iterations

    day = Route.objects.filter(stops__isnull=False).order_by("day").first().day
    page.get_by_role("link", name=re.compile(f"{day:%a} ")).first.click()
    expect(page.get_by_role("img", name=re.compile("Chart of the round"))).to_be_visible()
    page.get_by_role("link", name=re.compile("Week ")).click()
    lanes = page.get_by_role("img", name=re.compile("meets (Dario|Wen) Lund at "))
    expect(lanes).to_have_count(2)  # the boat's two people, each on his own day

    page.get_by_role("link", name="Publish the week").click()
    expect(page.get_by_text("None of these days was published before")).to_be_visible()
    page.get_by_role("button", name="Publish the week").click()
    expect(page.get_by_text("published and frozen")).to_be_visible()
    expect(page.get_by_role("link", name="Publish the week")).to_have_count(0)
    assert not Route.objects.filter(published_at=None).exists()
    assert Ticket.objects.filter(stops=None).count() == 0
    winter = Stop.objects.filter(tickets__task__name="Winter setting")
    assert len({(stop.route.day, stop.arrive_at) for stop in winter}) == 1

    sent = until(every_owner_was_told, seconds=60, what="the owners' mails")
    assert {mail.to_address for mail in sent} == {f"owner{n}@example.com" for n in range(6)}
    assert "Harbeck Pond 0" in sent.get(to_address="owner0@example.com").text


def every_owner_was_told():
    sent = Message.objects.filter(state=MessageState.SENT)
    return sent if sent.count() == 6 else None
