"""At the pond: a pressure is typed, the phone says where it lies, and asks about another unit."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from equipment.kinds import Moment, PositionKind, Quantity
from equipment.models import (
    Baseline,
    CauseConfirmed,
    Configuration,
    ConfigurationLine,
    Reading,
    ReadingSet,
    SignSeen,
)
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)
ZONE = "America/Chicago"
PSI_PA = 6894.757  # NIST SP 811 (2008), appendix B.8


@pytest.fixture
def ticket():
    """A filter change at Quill Mere on today's route; its baseline is 6.5 psi, level for level."""
    now = timezone.now()
    make.firm(time_zone=ZONE)
    dario = make.user(username="dario", last_name="Lund")
    today = now.astimezone(ZoneInfo(ZONE)).date()
    route = make.route(technician=make.technician(user=dario, shifts=False), day=today)
    site = make.site(owner=make.contact().customer, name="Mill Lane", way_in="North gate.")
    since = now - timedelta(days=400)
    days = {"installed_on": since.date(), "commissioned_on": since.date()}
    system = make.system(site=site, name="Cabinet A", since=since, **days)
    water = make.pond(site=site, name="Quill Mere")
    plate = make.position(PositionKind.DIFFUSER, system=system, pond=water, label="D1")
    plan = Configuration.objects.create(
        system=system, from_on=since.date(), name="summer", entered_at=since
    )
    ConfigurationLine.objects.create(configuration=plan, position=plate, depth_m=3.5)
    for days in (300, 60):
        at = now - timedelta(days=days)
        measured = ReadingSet.objects.create(
            system=system, moment=Moment.AS_FOUND, taken_at=at, entered_at=at, configuration=plan
        )
        value = {"value": 6.5 * PSI_PA, "typed_value": "6.5", "typed_unit": "psi"}
        Reading.objects.create(set=measured, quantity=Quantity.PRESSURE, **value)
        if days == 300:
            Baseline.objects.create(
                configuration=plan,
                quantity=Quantity.PRESSURE,
                value=6.5 * PSI_PA,
                level_m=0,
                from_set=measured,
                confirmed_at=at,
            )
    position = make.filter_position(of=system, label="Filter 1")
    task = make.task(slug="filter_change", readings=["pressure"])
    new = make.ticket(at=position, task=task, opened_at=now)
    make.stop(new, route=route, number=1, site=site)
    return new


def opened(page, sign_in, ticket):
    sign_in(page, ticket.stops.get().route.technician.user)
    page.goto(f"/day/ticket/{ticket.pk}/")
    return page.get_by_label("Outlet pressure", exact=False).first


def test_sentence_and_mark_follow_the_typing_and_nothing_is_judged_while_it_is_empty(
    phone_page, sign_in, ticket
):
    page = phone_page
    pressure = opened(page, sign_in, ticket)
    reading = page.locator(".reading").first
    assert reading.get_by_text("Normal", exact=False).first.is_visible()  # before any script
    assert not reading.locator(".gauge .now").is_visible()
    assert reading.locator(".gauge.ok, .gauge.drift").count() == 0

    pressure.fill("6,4")
    assert page.get_by_text("In the normal band, 0.1 psi less than last time").is_visible()
    assert reading.locator(".gauge.ok .now").is_visible()

    pressure.fill("9.5")
    assert page.get_by_text("psi above normal. Look at the valves", exact=False).is_visible()
    assert reading.locator(".gauge.drift .now").is_visible()

    pressure.fill("")
    assert reading.locator(".gauge.ok, .gauge.drift").count() == 0


def test_a_value_in_another_unit_is_asked_about_and_what_was_seen_is_kept(
    phone_page, sign_in, ticket
):
    page = phone_page
    pressure = opened(page, sign_in, ticket)
    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").tap()
    page.get_by_text("What did you see, hear or smell?").tap()
    page.get_by_text("Noise and smell").tap()
    page.get_by_role("group", name="Hissing of air").get_by_label("Yes").tap()
    page.get_by_role("group", name="Knocking").get_by_label("No", exact=True).tap()
    page.get_by_label("Loaded").tap()
    pressure.fill("44,8")  # what 6.5 psi are in kPa
    assert page.get_by_text("look at the unit", exact=False).first.is_visible()
    page.get_by_text("Did you mean 44,8 kPa (6.5 psi)?").wait_for()  # before anything is sent
    page.get_by_label("Yes, seen bubbling").tap()
    page.get_by_role("button", name="Close ticket").tap()
    page.get_by_text("Answer the question, whichever way.").wait_for()

    page.get_by_label("Yes, 44,8 kPa").tap()
    page.get_by_text("In the normal band", exact=False).wait_for()
    page.get_by_role("button", name="Close ticket").tap()

    page.get_by_text("1 ticket closed.").wait_for()
    kept = Reading.objects.latest("pk")
    assert (kept.typed_value, kept.typed_unit) == ("44,8", "kPa")
    seen = dict(SignSeen.objects.values_list("sign", "present"))
    assert (seen["hissing"], seen["knocking"]) == (True, False)
    assert page.get_by_text("what the readings say").is_visible()


def test_after_a_finding_the_phone_says_what_it_may_be_and_asks_what_it_was(
    phone_page, sign_in, ticket
):
    page = phone_page
    pressure = opened(page, sign_in, ticket)
    page.get_by_role("group", name="Running when you came?").get_by_label("Yes").tap()
    page.get_by_text("What did you see, hear or smell?").tap()
    page.get_by_text("Noise and smell").tap()
    page.get_by_role("group", name="Hissing of air").get_by_label("Yes").tap()
    page.get_by_label("Loaded").tap()
    pressure.fill("6.4")
    page.get_by_label("Yes, seen bubbling").tap()
    page.get_by_role("button", name="Close ticket").tap()

    page.get_by_role("group", name="What was it in the end?").wait_for()
    page.get_by_label("Looked, and found no cause").tap()
    page.get_by_role("button", name="Note what it was").tap()

    page.get_by_text("Noted what it was").wait_for()
    assert CauseConfirmed.objects.get().cause == "not_found"
