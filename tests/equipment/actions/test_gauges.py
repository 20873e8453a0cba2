"""A gauge hangs from a day on; readings of its days belong to it, and to no other."""

from datetime import date, timedelta

import pytest

from customers.models import Trail
from equipment.actions.gauges import GaugeRefused, gauges_on, record_gauge
from equipment.actions.readings import Typed, record_readings
from equipment.kinds import Moment, PositionKind, Quantity
from equipment.models import Gauge, Reading
from tests import make

pytestmark = pytest.mark.django_db
PSI_PA = 6894.757  # NIST SP 811 (2008), appendix B.8
DAY = date(2026, 6, 1)


def gauge(system, *, from_on=DAY, label="0 to 15 psi", quantity=Quantity.PRESSURE, **fields):
    start = {"full_scale": 15 * PSI_PA, "error_percent": 2.0, "by": make.user()}
    start |= {"now": make.MORNING + timedelta(days=200)}
    return record_gauge(system, quantity=quantity, label=label, from_on=from_on, **start | fields)


def read(system, days, quantity=Quantity.PRESSURE, position=None):
    at = make.MORNING + timedelta(days=days)
    made = record_readings(
        system,
        entries=[Typed(quantity, "6.4", "psi", position)],
        moment=Moment.AS_FOUND,
        taken_at=at,
        entered_at=at,
        taken_by=None,
    )
    return made.readings.get()


def gauge_of(reading):
    return Reading.objects.get(pk=reading.pk).gauge


def test_new_gauge_ends_the_one_before_it_and_readings_go_by_the_day():
    system = make.system()
    before, on_the_day, after = read(system, -30), read(system, 0), read(system, 30)
    old = gauge(system, from_on=date(2025, 1, 1), label="0 to 30 psi")
    new = gauge(system)

    assert Gauge.objects.get(pk=old.pk).to_on == DAY
    assert [gauge_of(one) for one in (before, on_the_day, after)] == [old, new, new]
    assert Trail.objects.filter(did="recorded a gauge").count() == 2


def test_gauge_entered_late_stands_between_those_that_are_known():
    system = make.system()
    first = gauge(system, from_on=date(2025, 1, 1))
    last = gauge(system, from_on=DAY)
    middle = gauge(system, from_on=date(2025, 9, 1))

    ends = dict(Gauge.objects.values_list("pk", "to_on"))
    assert ends == {first.pk: date(2025, 9, 1), middle.pk: DAY, last.pk: None}


def test_line_is_read_on_the_manifolds_gauge_unless_it_has_its_own():
    system = make.system()
    plate = make.position(PositionKind.DIFFUSER, system=system, label="D1")
    line = read(system, 3, Quantity.LINE_PRESSURE, plate)
    common = gauge(system)

    assert gauge_of(line) == common
    assert gauges_on(system, DAY)[Quantity.LINE_PRESSURE] == common

    own = gauge(system, quantity=Quantity.LINE_PRESSURE, label="test gauge")
    gauge(system, from_on=DAY + timedelta(days=1), label="newer one")
    assert gauge_of(line) == own
    assert gauges_on(system, DAY)[Quantity.LINE_PRESSURE] == own
    assert gauges_on(system, DAY - timedelta(days=1)) == {}


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"from_on": date(2024, 1, 1)}, "Nothing stood here"),
        ({"from_on": date(2027, 6, 1)}, "lies ahead"),
        ({"full_scale": 0}, "more than 0"),
        ({"error_percent": 60.0}, "between 0 and 25"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(fields, says):
    with pytest.raises(GaugeRefused, match=says):
        gauge(make.system(), **fields)
    assert Gauge.objects.count() == 0


def test_two_gauges_of_one_day_are_refused():
    system = make.system()
    gauge(system)

    with pytest.raises(GaugeRefused, match="that very day"):
        gauge(system)


def test_what_is_read_from_then_on_belongs_to_the_gauge_of_its_day():
    system = make.system()
    old, new = gauge(system, from_on=date(2025, 1, 1)), gauge(system)

    assert read(system, -1).gauge == old
    assert read(system, 0).gauge == new
