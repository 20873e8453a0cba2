"""A unit is exchanged on a page, which then says what moved; its history is read on another."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils import timezone

from customers.kinds import Role
from equipment.kinds import ComponentState, PositionKind, Quantity, ReplacementWarranty
from equipment.models import Component, Fitting, Reading, ReadingSet
from servicedesk.actions.due import refresh_all
from servicedesk.models import DueItem
from tests import make
from tests.servicedesk.views.phone_day import today

pytestmark = pytest.mark.django_db
BEGIN = date(2025, 1, 1)
SWAP = date(2026, 5, 1)


@pytest.fixture
def place(client):
    """The compressor's place of a system whose filter was changed in April."""
    make.firm()
    filter_ = make.filter_position()
    old = filter_.serves.fittings.get().component
    Component.objects.filter(pk=old.pk).update(warranty_from=BEGIN, warranty_months=36)
    change = make.task(name="Filter change")
    make.work(filter_, change, done_at=datetime(2026, 4, 1, 18, tzinfo=UTC))
    refresh_all(now=timezone.now())
    client.force_login(make.manager())
    return filter_.serves


def press(client, place, **typed):
    start = {"on": SWAP.isoformat(), "removed_to": "in_shop", "reason": "seized"}
    return client.post(f"/positions/{place.pk}/exchange/", start | typed)


def new_unit(**fields):
    return {"type": make.compressor_type(model="K60", **fields).pk, "serial": "7001"}


def test_loaner_is_fitted_at_a_past_day_and_the_page_says_what_moved(client, place):
    loaner = make.component(serial="L-1", state=ComponentState.LOANER, hours_before=500)
    old = place.fittings.get().component
    before = DueItem.objects.get().due_on

    answer = press(client, place, unit=loaner.pk)
    page = client.get(answer.url).content.decode()

    assert [str(f.component.serial) for f in place.fittings.order_by("from_on")] == [
        old.serial,
        "L-1",
    ]
    assert DueItem.objects.get().due_on == before
    assert "unchanged" in page
    assert "11,640 h" in page  # 485 days of 24 h, counted from 1 January 2025 to 1 May 2026
    assert "seized" in page


def test_unit_that_is_new_to_the_register_is_entered_with_its_makers_warranty(client, place):
    press(client, place, **new_unit(warranty_months=24))

    unit = Component.objects.get(serial="7001")
    assert (unit.warranty_from, unit.warranty_months) == (SWAP, 24)
    assert unit.state == ComponentState.IN_SERVICE
    assert place.system.warranty_from is None


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (ReplacementWarranty.RESTARTS, (SWAP, 24)),
        (ReplacementWarranty.INHERITS, (BEGIN, 36)),
    ],
)
@pytest.mark.parametrize("chosen", [True, False])
def test_unit_given_under_warranty_has_what_its_makers_rule_says(
    client, place, rule, expected, chosen
):
    of_maker = ReplacementWarranty.UNKNOWN if chosen else rule
    typed = new_unit(warranty_months=24, replacement_warranty=of_maker)

    press(client, place, under_warranty="on", rule=rule if chosen else "", **typed)

    unit = Component.objects.get(serial="7001")
    assert (unit.warranty_from, unit.warranty_months) == expected


def test_unit_given_under_warranty_by_a_maker_of_no_known_rule_asks_for_it(client, place):
    answer = press(client, place, under_warranty="on", **new_unit())

    assert answer.status_code == 400
    assert "Ask the maker" in answer.content.decode()
    assert not Component.objects.filter(serial="7001").exists()


def test_warranty_that_was_over_is_asked_about(client, place):
    Component.objects.update(warranty_months=12)
    typed = new_unit(replacement_warranty=ReplacementWarranty.RESTARTS) | {"under_warranty": "on"}

    assert "was over before that day" in press(client, place, **typed).content.decode()
    assert press(client, place, checked="on", **typed).status_code == 302


def test_warranty_typed_in_wins_over_the_rule(client, place):
    typed = {"warranty_from": "2026-04-20", "warranty_months": "12", "under_warranty": "on"}

    press(client, place, **typed, **new_unit(replacement_warranty=ReplacementWarranty.INHERITS))

    unit = Component.objects.get(serial="7001")
    assert (unit.warranty_from, unit.warranty_months) == (date(2026, 4, 20), 12)


def test_serial_number_that_is_known_already_warns_and_is_taken_when_ticked(client, place):
    typed = new_unit()
    Component.objects.create(type_id=typed["type"], serial="7001")

    answer = press(client, place, **typed)
    assert answer.status_code == 400
    assert "has a Brookmade K60 7001 already" in answer.content.decode()

    assert press(client, place, checked="on", **typed).status_code == 302
    assert Component.objects.filter(serial="7001").count() == 2


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({}, "Choose a unit we have"),
        ({"type": "new", "serial": ""}, "tick that it cannot be read"),
        ({"type": "new", "serial": "7001", "on": "2999-01-01"}, "still to come"),
        ({"type": "new", "serial": "7001", "on": "2024-06-01"}, "it cannot be taken out before"),
        ({"type": "new", "serial": "7001", "reason": ""}, "This field is required"),
        ({"type": "new", "serial": "7001", "warranty_months": "12"}, "Give both"),
    ],
)
def test_exchange_that_cannot_be_says_why_and_writes_nothing(client, place, typed, says):
    if "type" in typed:
        typed = typed | {"type": make.compressor_type().pk}

    answer = press(client, place, **typed)

    assert answer.status_code == 400
    assert says in answer.content.decode()
    assert Fitting.objects.count() == 1
    assert not Component.objects.filter(serial="7001").exists()


def test_unit_whose_number_nobody_can_read_is_fitted_without_one(client, place):
    press(client, place, type=make.compressor_type().pk, unreadable="on")

    assert place.fittings.get(to_on=None).component.serial == ""


@pytest.mark.parametrize("where", ["in_shop", "spare", "scrapped", "with_owner"])
def test_old_unit_goes_where_it_is_said_to_go(client, place, where):
    old = place.fittings.get().component

    press(client, place, removed_to=where, **new_unit())

    old.refresh_from_db()
    assert old.state == where


def test_meter_that_showed_more_before_is_asked_about_and_then_taken(client, place):
    meter = make.position(PositionKind.METER, system=place.system, serves=place)
    kind = make.compressor_type(kind=PositionKind.METER, compressor_kind="", model="HM")
    make.fit(make.component(type=kind), meter, meter_start_h=0)
    at = datetime(2026, 3, 1, 18, tzinfo=UTC)
    taken = ReadingSet.objects.create(system=place.system, taken_at=at, entered_at=at)
    Reading.objects.create(set=taken, quantity=Quantity.RUN_HOURS, position=meter, value=9_000)
    typed = {"type": kind.pk, "serial": "M2", "meter_end_h": "900", "meter_start_h": "0"}

    answer = press(client, meter, **typed)
    assert "It showed 9,000 h before" in answer.content.decode()

    assert press(client, meter, checked="on", **typed).status_code == 302
    old, new = meter.fittings.order_by("from_on")
    assert (old.meter_end_h, new.meter_start_h) == (900, 0)


def test_place_without_a_unit_gets_its_first_one(client, place):
    gauge = make.position(PositionKind.GAUGE, system=place.system)
    kind = make.compressor_type(kind=PositionKind.GAUGE, compressor_kind="", model="G2")
    assert "Fit a unit" in client.get(f"/positions/{gauge.pk}/exchange/").content.decode()

    typed = {"type": kind.pk, "serial": "G-9", "on": SWAP.isoformat(), "reason": "new"}
    answer = client.post(f"/positions/{gauge.pk}/exchange/", typed)

    assert client.get(answer.url).status_code == 200
    assert gauge.fittings.get().component.serial == "G-9"


def test_history_of_a_unit_tells_where_it_sat_what_was_done_and_its_recalls(client, place):
    old = place.fittings.get().component
    make.work(place, make.task(name="Piston service"), done_at=datetime(2026, 2, 1, tzinfo=UTC))
    press(client, place, removed_to="in_shop", **new_unit())
    make.work(place, make.task(name="Later service"), done_at=datetime(2026, 5, 20, tzinfo=UTC))

    page = client.get(f"/units/{old.pk}/").content.decode()

    assert "11,640 h run there" in page
    assert "Taken out: seized" in page
    assert "Piston service" in page
    assert "Filter change" in page
    assert "Later service" not in page
    assert "1 January 2028" in page or "1 Jan 2028" in page


@pytest.mark.parametrize("many", [1, 30])
def test_history_asks_the_database_as_often_for_one_work_as_for_thirty(
    client, place, many, django_assert_max_num_queries
):
    unit = place.fittings.get().component
    task = make.task()
    for number in range(many):
        make.work(place, task, done_at=make.MORNING - timedelta(days=number), user=make.user())

    with django_assert_max_num_queries(23) as asked:
        client.get(f"/units/{unit.pk}/")
    assert len(asked) == 23


def test_technician_exchanges_only_where_his_route_sends_him_today(client, place):
    dario = make.user(Role.TECHNICIAN)
    client.force_login(dario)
    address = f"/positions/{place.pk}/exchange/"
    assert client.get(address).status_code == 403
    assert f"/positions/{place.pk}/exchange/" not in _system(client, place)

    technician = make.technician(user=dario, shifts=False)
    route = make.route(technician=technician, day=today())
    make.stop(route=route, site=place.system.site)

    assert client.get(address).status_code == 200
    assert address in _system(client, place)


def _system(client, place):
    return client.get(f"/systems/{place.system_id}/").content.decode()
