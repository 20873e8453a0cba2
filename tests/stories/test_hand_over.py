"""The installer's story: a planned system, handed over on a phone, from the gate to the button."""

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from customers.kinds import Role
from equipment.kinds import SystemState
from equipment.models import ConfigurationLine, Reading, StateChange, System
from servicedesk.actions.commissioning.begin import plan_system
from servicedesk.actions.tasks import load_task_defaults
from servicedesk.models import Acknowledged, Commissioning, DoubtConfirmed, DueItem, Photo
from tests import make
from tests.browser import PHONE
from tests.servicedesk.actions.commissioning.handing_over import picture

pytestmark = pytest.mark.django_db(transaction=True)
SIDEWAYS = "document.documentElement.scrollWidth - innerWidth"
SMALL = """() => [...document.querySelectorAll('main button, main select, main a.btn,'
    + 'main input:not([type=hidden], [type=radio], [type=checkbox])')]
  .filter((target) => target.checkVisibility() && target.getBoundingClientRect().height < 44)
  .map((target) => target.outerHTML.slice(0, 80))"""


@pytest.fixture
def system(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    make.firm()
    load_task_defaults()
    owner = make.contact(name="Ines Halvorsen", phone="+1 202 555 0117").customer
    site = make.site(owner=owner, name="Mill Lane", public_access=False)
    now = timezone.now()
    return plan_system(
        site,
        make.pond(site=site, name="Sedge Pond"),
        key="A-7",
        name="",
        installed_on=(now - timedelta(days=2)).date(),
        compressor=make.compressor_type(free_air_l_min=110, pressure_max_pa=137_900),
        by=make.user(Role.OFFICE),
        now=now - timedelta(days=5),
    )


class Phone:
    """A thumb on the pages of the sheet."""

    def __init__(self, page, folder):
        self.page = page
        self.photo = folder / "phone.jpg"
        self.photo.write_bytes(picture().getvalue())

    def at(self, heading):
        self.page.get_by_role("heading", name=heading, level=1).wait_for()
        assert self.page.evaluate(SIDEWAYS) <= 0
        assert self.page.evaluate(SMALL) == []
        for picker in self.page.locator("input[type=file]").all():
            picker.set_input_files(self.photo)

    def type(self, **typed):
        for name, value in typed.items():
            self.page.locator(f"[name={name}]").fill(value)

    def tick(self, *words):
        for word in words:
            self.page.get_by_label(word, exact=False).check()

    def keep(self, button="Keep and go on"):
        self.page.get_by_role("button", name=button).tap()

    def look_again(self):
        self.page.get_by_text("Look again before this is kept").wait_for()
        for box in self.page.locator("[name=sure]").all():
            box.check()
        self.keep()


def test_installer_hands_a_system_over_with_his_phone(new_page, sign_in, system, tmp_path):
    page = new_page(**PHONE)
    dario = make.user(first_name="Dario", last_name="Lund")
    sign_in(page, dario)
    phone = Phone(page, tmp_path)
    page.goto("/systems/")
    page.get_by_role("link", name="Commissioning of A-7").tap()
    page.get_by_text("things are missing before it may go into service").first.wait_for()
    page.get_by_role("link", name="1. Site and way in").tap()

    phone.at("Site and way in")
    phone.type(way_in="North gate, along the dam.")
    phone.tick("I looked for hazards")
    phone.keep()

    phone.at("People")
    phone.tick("Ines Halvorsen", "I read the mail address back")
    phone.keep()

    phone.at("Pond and water mark")
    pond = system.positions.get(label="D1").pond
    phone.type(**{f"area_m2_{pond.pk}_0": "1,1", f"depth_max_m_{pond.pk}_0": "12"})
    phone.type(**{f"level_mark_{pond.pk}": "Bolt in the outlet"})
    phone.keep()

    phone.at("Cabinet and electrics")
    phone.type(cabinet_note="Steel on a slab", supply_note="115 V, 15 A", electrician="Oona Feld")
    phone.type(licence="EL-20417", gfci_tested_on=f"{system.installed_on}", hours_per_day="24")
    phone.type(cabinet_above_water_m_0="1")
    phone.tick("I pressed the test button", "I checked that the cabinet", "Nothing was dug")
    phone.keep()
    phone.look_again()

    phone.at("Compressor and serials")
    phone.type(serial="P4471", gauge_label="Cabinet gauge", gauge_full_scale_0="15")
    phone.type(gauge_error="2,5", meter_serial="H9", meter_start_h="3", relief_pa_0="12")
    phone.keep()

    phone.at("Lines and plates")
    phone.type(bearing_note="40 ft off the willow", depth_m_0="120", line_length_m_0="180")
    phone.type(bore_m_0="0.75", lines_note="Along the north bank.")
    page.locator("[name=check_valve_at]").select_option("diffuser")
    phone.tick("Nobody was alone", "Life jackets were worn")
    phone.keep()
    page.get_by_text("at its deepest").wait_for()  # ten times too deep: nothing typed is lost
    assert page.locator("[name=bearing_note]").input_value() == "40 ft off the willow"
    phone.type(depth_m_0="11")
    phone.keep()

    phone.at("First start and running in")
    zone = ZoneInfo(system.site.time_zone)
    started = timezone.now().astimezone(zone) - timedelta(minutes=40)
    phone.type(started_at=f"{started:%Y-%m-%dT%H:%M}", note_ramp_plan_given="Ines Halvorsen")
    phone.tick("I have read the caution", "The plan for running in")
    phone.keep()

    phone.at("Readings of the first day")
    phone.type(pressure_0="5,9", current_0="3.4", **{f"level_{pond.pk}_0": "-0.2"})
    page.get_by_role("group", name="Boil of D1").get_by_label("normal").check()
    phone.keep()

    phone.at("Papers and safety talk")
    phone.type(note_talk_given="Ines Halvorsen", note_thin_ice_given="on paper, signed")
    phone.tick("The safety talk was held", "The notice about thin ice")
    page.locator("[name=winter]").select_option("undecided")
    phone.keep()

    page.get_by_text("Nothing is missing.").wait_for()
    page.get_by_role("button", name="Put it into service").tap()
    page.get_by_text(re.compile("In service since .* by the word of Dario Lund")).wait_for()

    record = Commissioning.objects.get()
    assert record.in_service_by == dario
    assert StateChange.objects.latest("at").state == SystemState.RUNNING
    assert System.objects.get().commissioned_on == timezone.now().astimezone(zone).date()
    line = ConfigurationLine.objects.get()
    assert (round(line.depth_m, 3), round(line.bore_m, 5)) == (3.353, 0.01905)
    reading = Reading.objects.get(quantity="pressure")
    assert (reading.typed_value, reading.typed_unit) == ("5,9", "psi")
    assert {row.by for row in Acknowledged.objects.all()} == {dario}
    assert DoubtConfirmed.objects.filter(by=dario).count() == 1
    assert {"boil", "gauge", "nameplate"} <= set(Photo.objects.values_list("kind", flat=True))
    assert DueItem.objects.filter(task__slug="second_readings", position=None).exists()


def test_record_prints_black_on_white_on_at_most_two_sheets(page, sign_in, system, tmp_path):
    sign_in(page, make.manager())
    page.goto(f"/systems/{system.pk}/commissioning/")
    page.emulate_media(media="print", color_scheme="dark")

    ink, paper = page.evaluate(
        "() => [getComputedStyle(document.body).color,"
        " getComputedStyle(document.documentElement).backgroundColor]"
    )
    sheets = page.pdf(format="A4", print_background=True).count(b"/Type /Page\n")

    assert (ink, paper) == ("rgb(0, 0, 0)", "rgb(255, 255, 255)")
    assert 1 <= sheets <= 2
    assert page.get_by_text("Received by, day").is_visible()
    assert not page.get_by_role("navigation", name="Steps").is_visible()


def test_step_is_filled_and_kept_with_the_keyboard_alone(page, sign_in, system):
    sign_in(page, make.manager())
    page.goto(f"/systems/{system.pk}/commissioning/papers/")
    page.locator("[name=winter]").focus()
    page.keyboard.type("Ask in")
    page.keyboard.press("Enter")
    for _ in range(20):
        if page.evaluate("document.activeElement.value") == "next":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")

    page.get_by_text("Kept: Papers and safety talk.").wait_for()
    assert Acknowledged.objects.get().point == "winter_asked_later"
