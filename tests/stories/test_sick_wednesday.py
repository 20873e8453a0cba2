"""Wednesday morning somebody is ill: one press, one look, one press, and the mails go. No mouse."""

from datetime import time, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from customers.models import OpeningHours, Site
from servicedesk.actions.routes import hands
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.models import Absence, Reminder, Route, Stop
from servicedesk.planning.calendar import week_name
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "a long enough one"  # the one that make.user sets
TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())
WEDNESDAY = MONDAY + timedelta(days=2)


@pytest.fixture
def week():
    """A published Wednesday: Dario has two ponds alone and one from a boat with Wen."""
    make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)
    make.manager(username="priya")
    people = [
        make.technician(user=make.user(first_name=name, last_name="Lund"), boat=True)
        for name in ("Dario", "Wen", "Ines")
    ]
    for number in range(2):
        ticket = make.ticket(at=at_a_pond(number), due_when_opened_on=MONDAY)
        on_wednesday(ticket, people[:1])
    boat = make.task(name="Diffuser lift", crew=2, needs_boat=True, minutes=60)
    ticket = make.ticket(at=at_a_pond(2), task=boat, due_when_opened_on=MONDAY)
    on_wednesday(ticket, people[:2], start=time(10))
    publish_week(MONDAY, by=None, today=TODAY, now=timezone.now())
    for line in Reminder.objects.all():
        line.message = make.message(contact=line.contact)
        line.save()
    shut_on_wednesday()
    return people


def at_a_pond(number):
    owner = make.contact(email=f"owner{number}@example.com").customer
    site = make.site(owner=owner, name=f"Reed Lane {number}", lat=44.95, lon=-93 + number / 40)
    return make.filter_position(make.system(site=site), pond=make.pond(site=site))


def on_wednesday(ticket, people, start=None):
    hands.place_by_hand(ticket, technicians=people, day=WEDNESDAY, start=start, today=TODAY)


def shut_on_wednesday():
    """The second owner lets nobody in on Wednesday any more: his stop has to change its day."""
    site = Site.objects.get(name="Reed Lane 1")
    OpeningHours.objects.create(site=site, weekday=4, opens="06:00", closes="20:00")


def press_tab_to(page, words):
    """Walk with the tab key until the focus stands on what carries these words."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if words in page.evaluate("document.activeElement.innerText || ''"):
            return
    raise AssertionError(f"the tab key does not come to {words!r}")


def test_sick_wednesday_from_click_to_mails_queued_by_keyboard_only(page, week):
    page.goto("/")
    page.keyboard.type("priya")  # the cursor stands in the first field
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("navigation")).to_be_visible()
    page.goto(f"/week/{week_name(MONDAY)}/")

    press_tab_to(page, f"{WEDNESDAY:%a} {WEDNESDAY.day}")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"Wednesday {WEDNESDAY.day}")
    press_tab_to(page, "Dario is away this day")
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Dario Lund is away")).to_be_visible()
    expect(page.get_by_text("nobody has been told")).to_be_visible()
    expect(page.get_by_role("row").filter(has_text="Reed Lane 1")).to_contain_text("Ines Halvorsen")
    expect(page.get_by_role("row").filter(has_text="Reed Lane 0")).to_contain_text("not mailed")
    assert Reminder.objects.filter(message=None).count() == 0
    expect(page.get_by_role("button", name="Accept all of it")).to_be_focused()
    page.keyboard.press("Enter")

    expect(page.get_by_text("The days are changed")).to_be_visible()
    assert Absence.objects.get().technician == week[0]
    assert not Route.objects.filter(technician=week[0], day=WEDNESDAY).exists()
    pair = Stop.objects.filter(tickets__task__name="Diffuser lift")
    assert {stop.route.technician for stop in pair} == set(week[1:])
    assert len({(stop.route.day, stop.arrive_at) for stop in pair}) == 1
    told = Reminder.objects.filter(owed_at__gt=timezone.now() - timedelta(minutes=10))
    told = told.exclude(contact__messages__isnull=True).filter(period__endswith="/2")
    assert [line.contact.email for line in told] == ["owner1@example.com"]

    press_tab_to(page, "Take it back")
    page.keyboard.press("Enter")
    expect(page.get_by_text("as they were before")).to_be_visible()
    assert Route.objects.get(technician=week[0], day=WEDNESDAY).stops.count() == 3
