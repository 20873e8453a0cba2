"""The technician's story: sign in, open the day, close a filter change with six taps."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from customers.kinds import MailTopic
from equipment.kinds import Moment, PartRole, PositionKind
from equipment.models import Reading, ReadingSet
from servicedesk.actions.due import refresh_all
from servicedesk.models import DueItem, PartUsed, Reminder, Ticket, Visit
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
ZONE = "America/Chicago"
PASSWORD = "a long enough one"  # the one that make.user sets


@pytest.fixture
def ticket():
    """A filter change at Quill Mere, first stop of Dario's published day."""
    now = timezone.now()
    make.firm(time_zone=ZONE)
    dario = make.user(username="dario", last_name="Lund")
    route = make.route(
        technician=make.technician(user=dario, shifts=False),
        day=now.astimezone(ZoneInfo(ZONE)).date(),
    )
    site = make.site(owner=make.contact().customer, name="Mill Lane", way_in="North gate.")
    system = make.system(site=site, name="Cabinet A", since=now - timedelta(days=400))
    water = make.pond(site=site, name="Quill Mere")
    make.position(PositionKind.DIFFUSER, system=system, pond=water, label="D1")
    position = make.filter_position(of=system, label="Filter 1")
    fitted = position.serves.fittings.get().component.type
    make.part_for(fitted, PartRole.FILTER_ELEMENT, part=make.part(number="F-120"))
    task = make.task(
        slug="filter_change", part_roles=[PartRole.FILTER_ELEMENT], readings=["pressure"]
    )
    before = now - timedelta(days=125)
    make.work(position, task, done_at=before, entered_at=before)
    measured = ReadingSet.objects.create(
        system=system, moment=Moment.AS_LEFT, taken_at=before, entered_at=before
    )
    Reading.objects.create(
        set=measured, quantity="pressure", value=44_816, typed_value="6.5", typed_unit="psi"
    )
    refresh_all(now=now)
    new = make.ticket(at=position, task=task, opened_at=now)
    make.stop(new, route=route, number=1, site=site)
    return new


TARGETS = """() => [...document.querySelectorAll(
    'main a, main button, main summary, main select, main textarea, main label:has(input),'
    + 'main input:not([type=hidden], [type=radio], [type=checkbox])')]
  .filter((target) => target.checkVisibility() && target.getBoundingClientRect().height < 48)
  .map((target) => target.outerHTML.slice(0, 80))"""
SIDEWAYS = "document.documentElement.scrollWidth - innerWidth"
OPEN_ALL = "document.querySelectorAll('details').forEach((part) => { part.open = true; })"


def due_on():
    return DueItem.objects.get(task__slug="filter_change").due_on


def test_technician_closes_a_filter_change_at_the_pond(phone_page, ticket):
    page, before = phone_page, due_on()
    page.goto("/day/")
    page.get_by_label("Username").fill("dario")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="Quill Mere").tap()
    page.get_by_text("North gate.").wait_for()

    page.get_by_role("link", name="Filter change").tap()  # 1
    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").tap()  # 2
    page.get_by_label("Loaded").tap()  # 3
    page.get_by_label("Outlet pressure", exact=False).first.tap()  # 4
    page.keyboard.type("6,4")
    assert page.get_by_text("0.1 psi less than last time").is_visible()
    assert page.get_by_text("F-120", exact=True).is_visible()
    page.get_by_label("Yes, seen bubbling").tap()  # 5
    page.get_by_role("button", name="Close ticket").tap()  # 6

    page.get_by_text("1 ticket closed.").wait_for()
    page.goto("/day/")
    assert page.get_by_text("Done", exact=True).is_visible()
    assert Ticket.objects.open().count() == 0
    assert due_on() - before >= timedelta(days=110)
    assert PartUsed.objects.get().part.number == "F-120"
    reports = Reminder.objects.filter(topic=MailTopic.VISIT_REPORT, visit=Visit.objects.get())
    assert reports.count() == 1


def test_same_value_on_a_third_visit_is_asked_about_softly_and_is_kept(phone_page, sign_in, ticket):
    page, system = phone_page, ticket.system
    before = timezone.now() - timedelta(days=60)
    again = ReadingSet.objects.create(
        system=system, moment=Moment.AS_LEFT, taken_at=before, entered_at=before
    )
    Reading.objects.create(
        set=again, quantity="pressure", value=44_816, typed_value="6.5", typed_unit="psi"
    )
    sign_in(page, ticket.stops.get().route.technician.user)
    page.goto(f"/day/ticket/{ticket.pk}/")

    pressure = page.get_by_label("Outlet pressure", exact=False).first
    pressure.fill("6.4")
    assert page.get_by_text("Measured today?").count() == 0
    pressure.fill("6.5")
    assert page.get_by_text("As on the last two visits. Measured today?").is_visible()

    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").tap()
    page.get_by_label("Loaded").tap()
    page.get_by_label("Yes, seen bubbling").tap()
    page.get_by_role("button", name="Close ticket").tap()
    page.get_by_text("1 ticket closed.").wait_for()
    assert Reading.objects.latest("pk").typed_value == "6.5"


def test_without_script_the_page_says_what_is_missing_and_keeps_what_was_entered(
    new_page, sign_in, ticket
):
    page = new_page(java_script_enabled=False, viewport={"width": 390, "height": 844})
    sign_in(page, ticket.stops.get().route.technician.user)
    page.goto(f"/day/ticket/{ticket.pk}/")
    page.get_by_label("Outlet pressure", exact=False).first.fill("6.4")
    page.get_by_label("No, because").check()
    page.get_by_role("button", name="Close ticket").click()

    assert page.get_by_text("Was it running when you came?").is_visible()
    assert page.get_by_text("Say why it stays off.", exact=False).is_visible()
    assert page.get_by_label("Outlet pressure", exact=False).first.input_value() == "6.4"
    assert Visit.objects.count() == 0


def test_a_double_tap_sends_one_closing(phone_page, sign_in, ticket):
    page, sent = phone_page, []
    sign_in(page, ticket.stops.get().route.technician.user)
    page.goto(f"/day/ticket/{ticket.pk}/")
    page.on("request", lambda request: sent.append(request) if request.method == "POST" else None)
    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").tap()
    page.get_by_label("Wet").tap()
    page.get_by_label("Outlet pressure", exact=False).first.fill("6.4")
    page.get_by_label("Yes, seen bubbling").tap()
    page.get_by_role("button", name="Close ticket").dblclick()

    page.get_by_text("1 ticket closed.").wait_for()
    assert (len(sent), Visit.objects.count()) == (1, 1)


@pytest.mark.parametrize("width", [390, 320])
def test_everything_to_hit_is_large_and_nothing_scrolls_sideways(new_page, sign_in, ticket, width):
    page, stop = new_page(viewport={"width": width, "height": 700}), ticket.stops.get()
    sign_in(page, stop.route.technician.user)
    addresses = ["/day/", f"/day/stop/{stop.uuid}/", f"/day/ticket/{ticket.pk}/"]
    for address in [*addresses, f"/day/ticket/{ticket.pk}/not-done/"]:
        page.goto(address)
        page.evaluate(OPEN_ALL)
        assert page.evaluate(TARGETS) == [], address
        assert page.evaluate(SIDEWAYS) == 0, address


def test_a_filter_change_can_be_closed_by_keyboard_alone(page, sign_in, ticket):
    sign_in(page, ticket.stops.get().route.technician.user)
    page.goto(f"/day/ticket/{ticket.pk}/")

    def tab_to(name):
        for _ in range(60):
            page.keyboard.press("Tab")
            at = "(document.activeElement.name || document.activeElement.textContent).trim()"
            if page.evaluate(at).endswith(name):
                return
        pytest.fail(f"no Tab stop {name}")

    tab_to("found_running")
    page.keyboard.press("Space")
    tab_to("found.condition")
    page.keyboard.press("Space")
    tab_to("pressure.typed")
    page.keyboard.type("6.4")
    tab_to("left_running")
    page.keyboard.press("Space")
    tab_to("Close ticket")
    page.keyboard.press("Enter")

    page.get_by_text("1 ticket closed.").wait_for()
