"""Monday morning: a stop is moved, taken back, moved elsewhere, and published anew. No mouse."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from servicedesk.actions.routes import hands
from servicedesk.actions.routes.publishing import publish_week
from servicedesk.actions.routes.reopening import reopen_day
from servicedesk.models import HandChange, Reminder, Route, Stop
from servicedesk.planning.calendar import week_name
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "a long enough one"  # the one that make.user sets
TODAY = timezone.localdate()
MONDAY = TODAY + timedelta(days=7 - TODAY.weekday())


@pytest.fixture
def week():
    """A Monday with two ponds that was published, its owners told, and is open again."""
    make.firm(time_zone="America/Chicago", shop_lat=44.9, shop_lon=-93.2)
    priya = make.manager(username="priya")
    dario = make.technician(user=make.user(first_name="Dario", last_name="Lund"))
    make.technician(user=make.user(first_name="Wen", last_name="Achterberg"))
    for number in range(2):
        owner = make.contact(name=f"Owner {number}", email=f"owner{number}@example.com").customer
        site = make.site(owner=owner, name=f"Reed Lane {number}", lat=44.95, lon=-93 + number / 40)
        place = make.filter_position(make.system(site=site), pond=make.pond(site=site))
        ticket = make.ticket(at=place, due_when_opened_on=MONDAY)
        hands.place_by_hand(ticket, technicians=[dario], day=MONDAY, start=None, today=TODAY)
    publish_week(MONDAY, by=None, today=TODAY, now=timezone.now())
    for line in Reminder.objects.all():
        line.message = make.message(contact=line.contact)
        line.save()
    reopen_day(Route.objects.get(), by=priya, today=TODAY, now=timezone.now())


def press_tab_to(page, words):
    """Walk with the tab key until the focus stands on what carries these words."""
    for _ in range(120):
        page.keyboard.press("Tab")
        there = page.evaluate("document.activeElement.innerText || ''")
        if words in " ".join(there.split()):
            return
    raise AssertionError(f"the tab key does not come to {words!r}")


def press(page, words):
    press_tab_to(page, words)
    page.keyboard.press("Enter")


def move_the_second_stop(page):
    page.goto(f"/week/{week_name(MONDAY)}/")
    press(page, f"{MONDAY:%a} {MONDAY.day}")
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"Monday {MONDAY.day}")
    press(page, "Move Reed Lane 1")
    expect(page.get_by_role("heading", name="Move a stop")).to_be_visible()
    page.get_by_label("Day").focus()
    page.keyboard.type(f"{MONDAY + timedelta(days=1):%A}")
    press(page, "Move it")
    expect(page.get_by_text("Reed Lane 1 was moved.")).to_be_visible()


def test_stop_is_moved_taken_back_moved_again_and_published_by_keyboard_only(page, week):
    page.goto("/")
    page.keyboard.type("priya")  # the cursor stands in the first field
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("navigation")).to_be_visible()

    move_the_second_stop(page)
    press(page, "Undo")
    expect(page.get_by_text("Taken back: Reed Lane 1 moved")).to_be_visible()
    assert set(Stop.objects.values_list("route__day", flat=True)) == {MONDAY}

    move_the_second_stop(page)
    press(page, "Publish the week")
    expect(page.get_by_role("heading", name="Publish week")).to_be_visible()
    expect(page.get_by_role("row").filter(has_text="Reed Lane 1")).to_contain_text("Another day")
    told = page.get_by_role("region", name="Owners who are told by mail")
    expect(told).to_contain_text("Owner 1")
    expect(told).not_to_contain_text("Owner 0")
    page.keyboard.press("Enter")  # the focus stands on the button

    expect(page.get_by_text("published and frozen")).to_be_visible()
    assert Reminder.objects.get(message=None).contact.name == "Owner 1"
    assert HandChange.objects.count() == 3
