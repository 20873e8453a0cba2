"""The technician's story without signal: what he records is kept, and arrives once."""

import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session
from django.contrib.staticfiles import finders
from django.test import Client
from django.utils import timezone
from PIL import Image
from playwright.sync_api import expect

from customers.models import SecretLook, SiteSecret
from servicedesk import offline
from servicedesk.actions.check_ins import watch_check_ins
from servicedesk.models import CheckIn, Photo, Ticket, Visit
from tests import make
from tests.machines import free_port, until
from tests.phones import photo_with_place
from tests.servicedesk.views.phone_day import Day

pytestmark = pytest.mark.django_db(transaction=True)
GPS = 0x8825


@pytest.fixture
def day():
    return Day(Client())


@pytest.fixture
def phone(new_phone, relay, day):
    """Dario's phone, with all of today on it."""
    phone = new_phone(relay.url)
    phone.sign_in(day.dario)
    phone.open_day()
    return phone


def fill(page, pressure="6.4"):
    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").tap()
    page.get_by_label("Wet").tap()
    page.get_by_label("Outlet pressure", exact=False).first.fill(pressure)
    page.get_by_label("Yes, seen bubbling").tap()


def close(page):
    page.get_by_role("button", name="Close ticket").tap()


def kept(page):
    page.get_by_role("heading", name="Kept on this phone").wait_for()


def payload(day, **more):
    """A closing without a ticket, as the page makes it."""
    at = timezone.now() - timedelta(hours=1)
    position = day.ticket.position_id
    return {
        "site": str(day.ticket.site_id),
        "arrived_at": at.isoformat(),
        "left_at": (at + timedelta(minutes=8)).isoformat(),
        "works": {
            f"filter_change@position:{position}": {"outcome": "done", "found": {"condition": "wet"}}
        },
        "systems": {
            str(day.ticket.system_id): {
                "found_running": "yes",
                "left_running": "yes",
                "left": {"pressure": {"typed": "6.4", "unit": "psi"}},
            }
        },
    } | more


KEEP = """([payload, user]) => outbox.keep({uuid: payload.uuid, format: 1, user, who: 'Dario Lund',
  made: Date.now(), words: 'Filter change', path: '/day/', draft: '', payload, photos: []})"""


def keep(phone, day, *, user=None, **more):
    sent = payload(day, **{"uuid": str(uuid.uuid4())} | more)
    phone.page.evaluate(KEEP, [sent, user or day.dario.pk])
    return sent["uuid"]


def test_closing_with_a_photo_outlives_server_browser_and_session_and_is_sent_once(
    new_phone, program, test_database, day
):
    port = free_port()
    pages = program(**test_database)
    serve = ["runserver", f"127.0.0.1:{port}", "--noreload", "--insecure", "--skip-checks"]

    def started():
        process = pages.manage(*serve)
        process.says("Quit the server|Starting development server")
        return process

    server, phone = started(), new_phone(f"http://127.0.0.1:{port}")
    phone.sign_in(day.dario)
    phone.open_day()
    server.kill()

    phone.page.reload()
    phone.page.get_by_role("link", name="Quill Mere").tap()
    phone.page.get_by_role("link", name="Filter change").tap()
    fill(phone.page)
    phone.page.get_by_label("Photos").set_input_files(photo_with_place())
    phone.page.get_by_alt_text("Photo 1").wait_for()
    close(phone.page)
    kept(phone.page)
    closed_at = timezone.now()
    phone.restart()
    phone.page.goto("/day/")
    expect(phone.page.get_by_text("1 waiting to send")).to_be_visible()
    phone.page.locator(".stoplist").get_by_text("Waiting to send").wait_for()

    Session.objects.all().delete()
    started()
    assert phone.flush() == 1
    phone.page.get_by_role("link", name="Sign in to send 1 waiting").tap()
    phone.page.get_by_text("Waiting on this phone").wait_for()
    phone.sign_in(day.dario)
    until(lambda: phone.waiting() == 0, what="the closing")

    visit, photo = Visit.objects.get(), Photo.objects.get()
    assert visit.left_at <= closed_at < visit.received_at
    assert photo.visit == visit
    with photo.file.open("rb") as opened, Image.open(opened) as picture:
        assert picture.size == (1600, 1200)
        assert dict(picture.getexif().get_ifd(GPS)) == {}
    assert Ticket.objects.open().count() == 0


def test_answer_lost_after_the_server_had_it_and_two_tabs_leave_one_visit(phone, relay, day):
    relay.turn("away")
    phone.page.goto(day.address)
    fill(phone.page)
    close(phone.page)
    kept(phone.page)

    relay.turn("deaf")
    assert phone.flush() == 1
    assert relay.dropped >= 1
    assert Visit.objects.count() == 1
    relay.turn("through")
    other = phone.tab()
    other.goto("/day/")
    phone.page.evaluate("outbox.flush()")
    other.evaluate("outbox.flush()")

    until(lambda: phone.waiting() == 0, what="the closing")
    assert Visit.objects.count() == 1
    phone.page.get_by_role("heading", name="Received").wait_for()


@pytest.fixture
def before(settings):
    """Serves the scripts of an earlier edition; called, it is updated to those of today."""

    def update():
        settings.STATICFILES_DIRS = []
        finders.get_finder.cache_clear()
        offline.edition.cache_clear()

    settings.STATICFILES_DIRS = [Path(__file__).parents[1] / "phone_before"]
    finders.get_finder.cache_clear()
    offline.edition.cache_clear()
    yield update
    update()


def test_phone_of_an_earlier_edition_with_twenty_waiting_sends_them_after_the_update(
    before, new_phone, relay, day
):
    phone = new_phone(relay.url)
    phone.sign_in(day.dario)
    phone.open_day()
    old = offline.edition()
    relay.turn("away")
    phone.page.goto(day.address)
    assert phone.page.evaluate("[outbox.FORMAT, typeof asked]") == [1, "undefined"]
    fill(phone.page)
    close(phone.page)  # by the earlier page's own hand
    kept(phone.page)
    for _ in range(19):
        keep(phone, day)
    phone.restart()
    before()
    assert offline.edition() != old

    phone.page.goto("/day/")  # as it was kept, with the earlier scripts
    phone.page.get_by_text("20 waiting to send").wait_for()
    relay.turn("through")
    phone.open_day()

    until(lambda: phone.waiting() == 0, what="all twenty")
    assert (Visit.objects.count(), Ticket.objects.open().count()) == (20, 0)
    new = f"caches.keys().then((all) => all.includes('files/{offline.edition()}'))"
    until(lambda: phone.page.evaluate(new), what="the new worker")
    phone.page.goto(day.address)
    assert phone.page.evaluate("[outbox.FORMAT, typeof asked]") == [2, "function"]


def test_refused_closing_stays_with_its_sentence_and_is_mended(phone, relay, day):
    relay.turn("away")
    system = str(day.ticket.system_id)
    sent = payload(day)
    sent["works"] = {str(day.ticket.pk): {"outcome": "done", "found": {"condition": "wet"}}}
    sent["systems"][system]["left_running"] = "no"  # an older page asked for no reason
    keep(phone, day, works=sent["works"], systems=sent["systems"])
    phone.page.evaluate(
        "address => outbox.all().then(([one]) => outbox.change(one.uuid, (it) => {"
        " it.path = address; }))",
        day.address,
    )
    relay.turn("through")
    assert phone.flush() == 1

    phone.page.get_by_text("1 not taken: look at it").tap()
    phone.page.get_by_text("Say why it stays off.", exact=False).wait_for()
    phone.page.get_by_role("button", name="Mend it").tap()
    pressure = phone.page.get_by_label("Outlet pressure", exact=False).first
    expect(pressure).to_have_value("6.4")
    phone.page.get_by_label("Yes, seen bubbling").tap()
    close(phone.page)

    phone.page.get_by_text("1 ticket closed.").wait_for()
    assert (phone.waiting(), Visit.objects.count()) == (0, 1)


def test_times_of_a_clock_that_was_ahead_are_refused_and_set_right_by_one_tap(phone, day):
    ahead = timezone.now() + timedelta(days=1)
    keep(phone, day, arrived_at=ahead.isoformat(), left_at=ahead.isoformat())
    phone.page.clock.install(time=ahead)
    phone.page.evaluate("outbox.flush()")

    phone.page.get_by_text("1 not taken: look at it").tap()
    phone.page.get_by_text("This lies in the future", exact=False).wait_for()
    phone.page.get_by_text("The clock of this phone is 24 hours ahead").wait_for()
    phone.page.get_by_role("button", name="Set its times by the office's clock").tap()

    visit = until(lambda: Visit.objects.first(), what="the visit")
    assert abs(visit.arrived_at - timezone.now()) < timedelta(minutes=5)
    assert round(visit.phone_clock_off_s / 3600) == 24


def test_whoever_signs_out_is_warned_and_takes_his_day_along_and_only_he_sends(phone, relay, day):
    relay.turn("away")
    keep(phone, day)
    relay.turn("through")
    asked = []
    phone.page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))
    phone.page.evaluate("outbox.now.state = 'lost'")
    phone.page.get_by_role("button", name="Sign out").tap()
    phone.page.get_by_text("Waiting on this phone").wait_for()
    assert "1 closing waits on this phone" in asked[0]
    names = phone.page.evaluate("caches.keys()")
    assert [name for name in names if name.startswith("day/")] == []

    wen = make.technician(user=make.user(username="wen"), shifts=False).user
    phone.sign_in(wen)
    assert phone.flush() == 1
    assert Visit.objects.count() == 0
    phone.page.get_by_text("1 waiting to send, of somebody else").tap()
    phone.page.get_by_text("It is sent when Dario Lund signs in").wait_for()


def test_pages_are_gone_when_their_day_is_over_and_what_waits_is_not(phone, relay, day):
    relay.turn("away")
    keep(phone, day)
    phone.page.evaluate(
        """async () => { for (const name of await caches.keys()) if (name.startsWith("day/"))
             await (await caches.open(name)).put("/day/until", new Response("1")); }"""
    )
    phone.page.goto("/day/")
    phone.page.get_by_role("heading", name="No signal").wait_for()

    relay.turn("through")
    phone.page.goto("/day/")
    until(lambda: phone.waiting() == 0, what="the closing")
    assert Visit.objects.count() == 1


def test_phone_of_one_who_left_the_firm_drops_the_pages_as_soon_as_it_asks(phone, day):
    day.dario.is_active = False
    day.dario.save()
    keep(phone, day)

    assert phone.flush() == 1
    names = phone.page.evaluate("caches.keys()")
    assert [name for name in names if name.startswith("day/")] == []
    assert Visit.objects.count() == 0


REFUSED = "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); };"


def test_browser_that_keeps_nothing_says_so_and_sends_at_once(phone_page, sign_in, day):
    page = phone_page
    page.add_init_script(REFUSED)
    sign_in(page, day.dario)
    page.goto(day.address)
    page.get_by_text("This browser keeps nothing for this site").wait_for()
    fill(page)
    close(page)

    page.get_by_text("1 ticket closed.").wait_for()
    assert Visit.objects.count() == 1


def test_plain_http_on_a_host_name_says_that_it_cannot_work_offline(
    new_phone, live_server, day, settings
):
    settings.ALLOWED_HOSTS = ["ponds.example.com"]
    rules = "--host-resolver-rules=MAP ponds.example.com 127.0.0.1, MAP * ~NOTFOUND"
    phone = new_phone(f"http://ponds.example.com:{live_server.thread.port}", rules)
    phone.sign_in(day.dario)
    phone.page.get_by_text("This address is opened without HTTPS").wait_for()
    phone.page.goto(day.address)
    fill(phone.page)
    close(phone.page)

    phone.page.get_by_text("1 ticket closed.").wait_for()


def test_what_is_typed_is_there_again_after_the_page_was_thrown_out(phone, day):
    phone.page.goto(day.address)
    fill(phone.page, pressure="6,7")
    phone.page.wait_for_timeout(700)
    phone.restart()
    phone.page.goto(day.address)

    phone.page.get_by_text("is here again", exact=False).wait_for()
    expect(phone.page.get_by_label("Outlet pressure", exact=False).first).to_have_value("6,7")
    assert phone.page.get_by_label("Wet").is_checked()


def test_code_that_was_looked_at_is_there_without_signal_and_another_button_says_it_needs_some(
    phone, relay, day
):
    site = day.stop.site
    SiteSecret.objects.create(site=site, kind="gate_code", text="4471", entered_at=make.MORNING)
    page, stop = phone.page, f"/day/stop/{day.stop.uuid}/"
    page.goto(stop)
    relay.turn("away")
    page.get_by_role("button", name="Show the gate code").tap()
    page.get_by_text("No signal: this cannot be done").wait_for()
    relay.turn("through")
    page.get_by_role("button", name="Show the gate code").tap()
    page.get_by_text("4471").wait_for()
    kept = f"caches.match('{stop}').then((page) => page.text()).then((text) => /4471/.test(text))"
    until(lambda: page.evaluate(kept), what="the page with the code")

    relay.turn("away")
    page.goto(stop)
    page.get_by_text("4471").wait_for()
    assert SecretLook.objects.count() == 1


def checked_in(phone, relay, day):
    relay.turn("away")
    phone.page.goto(f"/day/stop/{day.stop.uuid}/")
    phone.page.get_by_text("Alone here?").tap()
    back_by = timezone.now() + timedelta(hours=1)
    phone.page.get_by_label("Back by").fill(phone.page.evaluate(WALL, back_by.isoformat()))
    phone.page.get_by_role("button", name="Check in: alone here").tap()
    phone.page.get_by_text("nobody looks for you before this phone has signal").first.wait_for()


WALL = "(at) => new Date(at).toTimeString().slice(0, 5)"  # by the clock of the phone


def test_check_in_without_signal_waits_and_is_watched_from_the_moment_it_comes(phone, relay, day):
    checked_in(phone, relay, day)
    phone.restart()
    relay.turn("through")
    phone.page.goto("/day/")
    until(lambda: phone.waiting() == 0, what="the check-in")

    mine = CheckIn.objects.under_way().get()
    assert (mine.user, mine.stop, mine.alarmed_at) == (day.dario, day.stop, None)
    assert watch_check_ins(now=mine.back_by + timedelta(hours=1)) == 1


def test_whoever_came_back_before_the_signal_did_is_not_looked_for(phone, relay, day):
    checked_in(phone, relay, day)
    phone.page.get_by_role("button", name="I am all right").tap()
    phone.page.get_by_text("2 waiting to send").wait_for()
    relay.turn("through")
    phone.page.goto("/day/")
    until(lambda: phone.waiting() == 0, what="both")

    assert CheckIn.objects.get().ended_by == day.dario


# A tenth of a degree of latitude at 45 degrees north is 11.1 km (WGS 84, meridian arc).
@pytest.mark.parametrize(("north", "says"), [(0.1, "You are 6.9 mi from"), (0.001, None)])
def test_far_from_the_site_the_phone_asks_whether_it_is_the_right_pond(
    new_page, sign_in, day, north, says
):
    site = day.stop.site
    site.lat, site.lon, site.town = 45, -93, "Ferndale"
    site.save()
    position = {"latitude": 45 + north, "longitude": -93, "accuracy": 20}
    page = new_page(geolocation=position, permissions=["geolocation"])
    sign_in(page, day.dario)
    page.goto(day.address)

    asks = page.get_by_text(f"{says} Mill Lane, Ferndale. Is this the right pond?")
    if says:
        asks.wait_for()
    else:
        page.wait_for_timeout(500)
        assert page.get_by_text("Is this the right pond?").count() == 0
    fill_by_mouse(page)
    page.get_by_text("1 ticket closed.").wait_for()


def fill_by_mouse(page):
    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").check()
    page.get_by_label("Wet").check()
    page.get_by_label("Outlet pressure", exact=False).first.fill("6.4")
    page.get_by_label("Yes, seen bubbling").check()
    page.get_by_role("button", name="Close ticket").click()
