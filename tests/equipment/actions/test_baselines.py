"""What later readings are compared with: a second set at full run, confirmed by a person."""

from datetime import UTC, date, datetime, timedelta

import pytest

from equipment.actions.baselines import (
    BaselineRefused,
    confirm_baseline,
    level_at,
    remark_on,
)
from equipment.kinds import PositionKind, Quantity, SystemState
from equipment.models import (
    Baseline,
    Configuration,
    Gauge,
    Reading,
    ReadingSet,
    StateChange,
)
from tests import make

pytestmark = pytest.mark.django_db
FULL_RUN_ON = date(2026, 5, 4)
DAY_9 = datetime(2026, 5, 13, 16, tzinfo=UTC)


@pytest.fixture
def new_system():
    """In service since 4 May after a week of running in."""
    system = make.system(state=None)
    for day, state in ((27, SystemState.COMMISSIONING), (34, SystemState.RUNNING)):
        at = datetime(2026, 4, 1, 16, tzinfo=UTC) + timedelta(days=day - 1)
        StateChange.objects.create(system=system, at=at, state=state, entered_at=at)
    configuration = Configuration.objects.create(
        system=system,
        from_on=date(2026, 4, 27),
        name="summer",
        settles_from_on=FULL_RUN_ON,
        entered_at=DAY_9,
    )
    pond = make.pond(site=system.site)
    make.position(PositionKind.DIFFUSER, system=system, pond=pond, label="D1")
    return configuration


def taken(configuration, *, at=DAY_9, **values):
    """A set with values by quantity; `doubtful` names one that nobody confirmed."""
    doubtful = values.pop("doubtful", None)
    made = ReadingSet.objects.create(
        system=configuration.system, configuration=configuration, taken_at=at, entered_at=at
    )
    for quantity, value in values.items():
        Reading.objects.create(
            set=made, quantity=quantity, value=value, doubtful=quantity == doubtful
        )
    return made


def read_level(configuration, value, at):
    pond = configuration.system.positions.get(label="D1").pond
    of_pond = ReadingSet.objects.create(pond=pond, taken_at=at, entered_at=at)
    Reading.objects.create(set=of_pond, quantity=Quantity.LEVEL, value=value)


def confirm(configuration, reading_set, **fields):
    start = {"by": make.manager(), "now": DAY_9 + timedelta(hours=2)}
    return confirm_baseline(configuration, reading_set, **start | fields)


def test_second_set_becomes_the_baseline_with_level_gauge_and_name(new_system):
    plate = new_system.system.positions.get(label="D1")
    gauge = Gauge.objects.create(
        system=new_system.system, quantity="pressure", label="0-15 psi", from_on=FULL_RUN_ON
    )
    second = taken(new_system, pressure=42_000, current=3.4, run_hours=210)
    Reading.objects.create(set=second, quantity="line_pressure", position=plate, value=41_500)
    read_level(new_system, -0.12, DAY_9 + timedelta(minutes=20))
    priya = make.manager()

    rows = confirm(new_system, second, by=priya)

    found = {(row.quantity, row.position): (row.value, row.level_m, row.gauge) for row in rows}
    assert found == {
        ("pressure", None): (42_000, -0.12, gauge),
        ("line_pressure", plate): (41_500, -0.12, gauge),
        ("current", None): (3.4, -0.12, None),
    }  # hours are a count, and no baseline
    assert {(row.confirmed_by, row.from_set) for row in rows} == {(priya, second)}


def test_confirming_twice_writes_nothing_twice(new_system):
    second = taken(new_system, pressure=42_000)
    first = confirm(new_system, second)

    assert confirm(new_system, second) == first
    assert Baseline.objects.count() == 1


@pytest.mark.parametrize(("days", "is_refused"), [(0, True), (6, True), (7, False), (45, False)])
def test_first_readings_are_provisional_for_seven_days_of_full_run(new_system, days, is_refused):
    at = datetime(2026, 5, 4, 22, tzinfo=UTC) + timedelta(days=days)
    asked = taken(new_system, at=at, pressure=42_000)

    if is_refused:
        with pytest.raises(BaselineRefused, match="on or after 11 May 2026"):
            confirm(new_system, asked, now=at)
    else:
        assert len(confirm(new_system, asked, now=at)) == 1


def test_day_counts_at_the_site_and_not_in_greenwich(new_system):
    evening_of_day_6 = datetime(2026, 5, 11, 3, tzinfo=UTC)  # the evening of 10 May in Chicago

    with pytest.raises(BaselineRefused, match="provisional"):
        confirm(new_system, taken(new_system, at=evening_of_day_6, pressure=42_000))


def test_set_of_another_configuration_is_refused(new_system):
    other = Configuration.objects.create(
        system=new_system.system, from_on=date(2026, 5, 12), name="winter", entered_at=DAY_9
    )

    with pytest.raises(BaselineRefused, match="in another configuration"):
        confirm(other, taken(new_system, pressure=42_000))


@pytest.mark.parametrize("values", [{"current": 3.4}, {"pressure": 42_000, "doubtful": "pressure"}])
def test_set_without_a_pressure_that_stands_is_refused(new_system, values):
    with pytest.raises(BaselineRefused, match="no pressure in this set"):
        confirm(new_system, taken(new_system, **values))


@pytest.mark.parametrize(
    ("state", "says"),
    [
        (SystemState.RAMPING, "brought up by steps"),
        (SystemState.COMMISSIONING, "brought up by steps"),
        (SystemState.FAILED, "stood still"),
    ],
)
def test_only_full_run_compares(new_system, state, says):
    at = DAY_9 - timedelta(hours=5)
    StateChange.objects.create(system=new_system.system, at=at, state=state, entered_at=at)

    with pytest.raises(BaselineRefused, match=says):
        confirm(new_system, taken(new_system, pressure=42_000))


def test_corrected_value_is_the_one_that_counts(new_system):
    second = taken(new_system, pressure=4_200)
    wrong = second.readings.get()
    Reading.objects.create(set=second, quantity="pressure", value=42_000, corrects=wrong)

    assert [row.value for row in confirm(new_system, second)] == [42_000]


def test_later_set_replaces_the_baseline_and_the_first_stays_on_record(new_system):
    confirm(new_system, taken(new_system, pressure=42_000))
    later = taken(new_system, at=DAY_9 + timedelta(days=5), pressure=43_000)

    confirm(new_system, later, now=DAY_9 + timedelta(days=5, hours=1))

    rows = Baseline.objects.order_by("confirmed_at").values_list("value", flat=True)
    assert list(rows) == [42_000, 43_000]


def test_level_of_another_day_is_not_taken_for_this_one(new_system):
    second = taken(new_system, pressure=42_000)
    read_level(new_system, -0.5, DAY_9 - timedelta(days=3))

    assert level_at(second) is None
    assert "No water level was read" in remark_on(new_system, second)


def test_person_is_told_that_a_set_comes_late(new_system):
    late = taken(new_system, at=DAY_9 + timedelta(days=40), pressure=42_000)

    assert remark_on(new_system, late).startswith("Taken 49 days after full run began")
