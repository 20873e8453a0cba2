"""The pages of a system's readings: what they say, show, ask and keep.

Expected pressures come from hydrostatics: 998.2 kg/m3 (IAPWS, 20 degC) x 9.80665 m/s2 a metre.
"""

import uuid
from datetime import date, timedelta
from html import unescape

import pytest
from django.urls import reverse
from django.utils import timezone

from customers.kinds import Role
from equipment.actions.readings import Typed, record_readings
from equipment.kinds import Moment, PositionKind, Quantity
from equipment.models import (
    Assessment,
    Baseline,
    CauseConfirmed,
    Configuration,
    ConfigurationLine,
    Gauge,
)
from servicedesk.actions.assessing import assess
from tests import make

pytestmark = pytest.mark.django_db
PSI_PA = 6894.757  # NIST SP 811 (2008), appendix B.8
NORMAL_PSI = 6.0


class Measured:
    """A system with two lines in 3 m of water, read once a month; the last one may be odd."""

    def __init__(
        self, *, psi=(NORMAL_PSI,) * 5, gauge=True, swing_m=None, volts=None, unread=(), **fields
    ):
        self.volts, self.unread = volts, unread
        make.firm()
        self.now = timezone.now()
        self.system = make.system(since=self.now - timedelta(days=900), **fields)
        day = (self.now - timedelta(days=800)).date()
        self.system.installed_on = day
        self.system.save()
        water = make.pond(site=self.system.site, name="Quill Mere", level_swing_m=swing_m)
        kind = make.compressor_type(
            free_air_l_min=125, pressure_max_pa=30 * PSI_PA, nameplate={"voltage_v": 115}
        )
        make.fit(make.component(type=kind), make.position(system=self.system))
        self.plan = Configuration.objects.create(
            system=self.system, from_on=day, name="summer", entered_at=self.now
        )
        for label in ("D1", "D2"):
            plate = make.position(
                PositionKind.DIFFUSER, system=self.system, pond=water, label=label
            )
            ConfigurationLine.objects.create(
                configuration=self.plan, position=plate, depth_m=3, line_length_m=30, bore_m=0.0127
            )
        if gauge:
            Gauge.objects.create(
                system=self.system,
                quantity=Quantity.PRESSURE,
                label="0 to 15 psi",
                full_scale=15 * PSI_PA,
                error_percent=2,
                from_on=day,
            )
        self.sets = [self.read(value, 30 * (len(psi) - at)) for at, value in enumerate(psi)]

    def read(self, psi, days_ago):
        at = self.now - timedelta(days=days_ago)
        return record_readings(
            self.system,
            entries=list(self.entries(psi, days_ago)),
            moment=Moment.AS_FOUND,
            taken_at=at,
            entered_at=at,
            taken_by=None,
        )

    def entries(self, psi, days_ago):
        yield Typed(Quantity.PRESSURE, str(psi), "psi", confirmed=True)
        if days_ago not in self.unread:
            yield Typed(Quantity.LEVEL, "0", "m")
        if self.volts:
            yield Typed(Quantity.VOLTAGE, str(self.volts), "V", confirmed=True)

    def judged(self):
        assess([self.system.pk], now=self.now)
        return self

    def page(self, client, name="system_readings", **query):
        return text(client.get(reverse(name, args=[self.system.pk]), query))


def text(page):
    assert page.status_code == 200
    return unescape(page.content.decode()).replace("\u00a0", " ")


@pytest.fixture
def office(client):
    client.force_login(make.manager())
    return client


def test_page_shows_readings_over_time_with_their_band_and_what_they_say(office):
    shown = Measured(psi=(6.0, 6.0, 6.0, 6.1, 6.0)).page(office)

    assert "No fault shown by these readings." in shown
    assert "5 readings from" in shown  # the chart's own words
    assert "In the band" in shown
    assert "0 to 15 psi" in shown


def test_a_pressure_far_above_its_band_is_a_finding_with_causes_checks_and_who_may_do_them(office):
    measured = Measured(psi=(6.0, 6.0, 6.0, 6.0, 8.0)).judged()
    shown = measured.page(office)

    assert "Look at it" in shown
    assert "What it may be, the likeliest first" in shown
    assert "Check:" in shown
    assert "minutes" in shown
    assert "Above" in shown
    on_system = measured.page(office, "system")
    assert "What the readings say" in on_system
    assert "8.0 psi" in on_system
    listed = text(office.get(reverse("systems"), {"said": "finding"}))
    assert measured.system.key in listed
    assert measured.system.key not in text(office.get(reverse("systems"), {"said": "no_fault"}))


def test_office_confirms_a_settled_set_as_baseline_and_a_technician_does_not(client, office):
    measured = Measured()
    assert "Confirm the readings of" in measured.page(office)
    address = reverse("confirm_baseline", args=[measured.system.pk])

    office.post(address, {"set": measured.sets[1].pk})

    kept = Baseline.objects.get(quantity=Quantity.PRESSURE)
    assert kept.value == pytest.approx(NORMAL_PSI * PSI_PA, rel=1e-6)
    assert kept.confirmed_by.role == Role.MANAGER
    assert "Confirmed" in measured.page(office)
    client.force_login(make.user())
    assert client.post(address, {"set": measured.sets[2].pk}).status_code == 403


def test_a_gauge_is_recorded_with_a_decimal_comma_in_the_unit_of_its_dial(office):
    measured = Measured(gauge=False)
    address = reverse("record_gauge", args=[measured.system.pk])
    fields = {"quantity": "pressure", "label": "new one", "full_scale": "1,0", "unit": "bar"}
    fields |= {"error_percent": "1,6 %", "from_on": measured.system.installed_on.isoformat()}

    page = office.post(address, fields)

    assert page.status_code == 302
    gauge = Gauge.objects.get()
    assert gauge.full_scale == pytest.approx(100_000)
    assert gauge.error_percent == pytest.approx(1.6)
    assert measured.sets[0].readings.get(quantity="pressure").gauge == gauge


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"full_scale": "much"}, "is not a number"),
        ({"unit": "cfm"}, "does not measure"),
        ({"from_on": "2030-01-01"}, "lies ahead"),
    ],
)
def test_a_gauge_that_cannot_be_comes_back_with_a_sentence_and_what_was_typed(office, wrong, says):
    measured = Measured(gauge=False)
    fields = {"quantity": "pressure", "label": "the new one", "full_scale": "15", "unit": "psi"}
    fields |= {"error_percent": "2", "from_on": measured.now.date().isoformat()}

    page = office.post(reverse("record_gauge", args=[measured.system.pk]), fields | wrong)

    assert page.status_code == 400
    assert says in unescape(page.content.decode())
    assert "the new one" in page.content.decode()
    assert Gauge.objects.count() == 0


def test_cause_found_in_the_end_is_kept_once_with_its_rank_and_shifts_the_list(office):
    measured = Measured(psi=(6.0, 6.0, 6.0, 6.0, 8.0)).judged()
    first = Assessment.objects.latest("at").basis["causes"][0]["slug"]
    address = reverse("confirm_cause", args=[measured.system.pk])
    sent = {"uuid": str(uuid.uuid4()), "cause": first}

    office.post(address, sent)
    office.post(address, sent)

    kept = CauseConfirmed.objects.get()
    assert (kept.cause, kept.rank_then) == (first, 1)
    for _ in range(30):
        office.post(address, sent | {"uuid": str(uuid.uuid4())})
    measured.judged()
    counted = [one["counted"] for one in Assessment.objects.latest("at").basis["causes"]]
    assert any(counted)  # the list says that our own counts moved it
    assert "31" in measured.page(office)


def test_a_cause_that_was_not_offered_is_refused_and_not_finding_one_is_an_answer(office):
    measured = Measured()
    address = reverse("confirm_cause", args=[measured.system.pk])

    office.post(address, {"uuid": str(uuid.uuid4()), "cause": "gremlins"})
    assert CauseConfirmed.objects.count() == 0
    office.post(address, {"uuid": str(uuid.uuid4()), "cause": "not_found"})
    assert CauseConfirmed.objects.get().cause == "not_found"


def test_sheet_of_the_valves_shares_the_air_as_wanted_and_says_what_it_rests_on(office):
    measured = Measured()
    ConfigurationLine.objects.filter(position__label="D2").update(depth_m=0.3)
    now = measured.page(office, "valve_sheet")

    assert "No air" in now  # the shallow line takes it all
    assert "This is physics, not a measurement." in now
    assert "Never close all of them" in now
    shared = measured.page(office, "valve_sheet", **{"share D1": "70", "share D2": "30,0"})
    assert 'value="70"' in shared
    assert 'value="30"' in shared
    wrong = measured.page(office, "valve_sheet", **{"share D1": "lots"})
    assert "is not a number" in wrong


def test_sheet_says_what_is_missing_where_nothing_can_be_computed(office):
    make.firm()
    page = office.get(reverse("valve_sheet", args=[make.system().pk]))

    assert "record the compressor's model" in text(page)


@pytest.mark.parametrize("readings", [2, 12])
def test_pages_ask_the_database_equally_often_for_few_readings_and_for_many(
    office, readings, django_assert_max_num_queries
):
    measured = Measured(psi=(NORMAL_PSI,) * readings).judged()
    with django_assert_max_num_queries(24):
        office.get(reverse("system_readings", args=[measured.system.pk]))
    with django_assert_max_num_queries(20):
        office.get(reverse("system", args=[measured.system.pk]))


def test_many_sites_of_a_region_that_moved_alike_are_said_once_and_ask_for_no_cleaning(office):
    region = make.region(name="Tansy valley")
    many = [
        Measured(psi=(6.0, 6.0, 6.0, 6.0, 7.6), site=make.site(region=region)) for _ in range(6)
    ]
    ids = [one.system.pk for one in many]
    for one in many:
        one.read(7.6, 1)
    assess(ids, now=many[0].now)
    assess(ids, now=many[0].now)

    first_page = text(office.get(reverse("home")))
    assert first_page.count("of 6 sites read") == 1
    assert "Tansy valley" in first_page
    newest = {row.system_id: row.basis for row in Assessment.objects.order_by("at")}
    assert all("of 6 sites read" in basis["says"][0] for basis in newest.values())
    assert all(basis["opens"] == [] for basis in newest.values())


@pytest.mark.parametrize("name", ["system_readings", "valve_sheet", "record_gauge", "system"])
def test_no_page_of_readings_promises_that_anything_is_safe(office, name):
    measured = Measured(psi=(6.0, 6.0, 6.0, 6.0, 8.0)).judged()

    assert "safe" not in measured.page(office, name).lower()


def test_nothing_is_read_yet_and_the_page_says_so(office):
    make.firm()
    page = office.get(
        reverse("system_readings", args=[make.system(installed_on=date(2025, 1, 1)).pk])
    )

    assert "There are no readings yet" in text(page)


def test_first_page_stands_where_the_pressure_was_not_read(office):
    measured = Measured()
    at = measured.now - timedelta(days=1)
    record_readings(
        measured.system,
        entries=[Typed(Quantity.CURRENT, "3.4", "A")],
        moment=Moment.AS_FOUND,
        taken_at=at,
        entered_at=at,
        taken_by=None,
    )
    measured.judged().judged()

    assert Assessment.objects.latest("at").basis["share"] is None
    assert text(office.get(reverse("home")))


def test_volts_far_under_the_nameplate_are_spoken_of_and_a_few_percent_are_not(office):
    low = Measured(volts=98).judged().page(office)
    usual = Measured(volts=117).judged().page(office)

    assert "98 V were measured, 115 V are nominal" in low
    assert "Low voltage" in low
    assert "electrician" in low
    assert "Low voltage" not in usual


def test_water_that_nobody_read_excuses_a_pressure_by_as_much_as_this_pond_swings():
    """0.9 psi is 6.2 kPa: 0.63 m of water by hydrostatics."""
    odd = {"psi": (6.0, 6.0, 6.0, 6.0, 6.9), "unread": (30,)}
    restless = Measured(swing_m=1.4, **odd).judged().system
    steady = Measured(swing_m=0.0, **odd).judged().system

    def state(system):
        return Assessment.objects.filter(system=system).latest("at").basis["state"]

    assert state(restless) != "finding"
    assert state(steady) == "finding"
