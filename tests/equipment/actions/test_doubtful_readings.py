"""Odd readings are asked about, against the baseline of the day's configuration.

Conversions are held against NIST SP 811 (2008), appendix B: 1 psi = 6894.757 Pa.
"""

from datetime import timedelta

import pytest

from equipment.actions.readings import (
    Typed,
    correct_reading,
    faults_of,
    record_readings,
)
from equipment.kinds import Moment, PositionKind, Quantity, SystemState
from equipment.models import (
    Baseline,
    Configuration,
    ConfigurationLine,
    Reading,
    ReadingSet,
    Schedule,
    StateChange,
)
from tests import make

pytestmark = pytest.mark.django_db
PSI_PA = 6894.757


def record(place, *entries, days=0, **fields):
    start = {"moment": Moment.AS_LEFT, "taken_by": None, "entered_at": make.MORNING}
    start["taken_at"] = make.MORNING + timedelta(days=days)
    return record_readings(place, entries=entries, **start | fields)


def asked(place, *entries, days=0):
    """What is said of one set, by key of its readings."""
    return faults_of(place, entries, taken_at=make.MORNING + timedelta(days=days))


def configuration(system, name="summer", days=-100, depths=None):
    start = make.TODAY + timedelta(days=days)
    row = Configuration.objects.create(
        system=system, from_on=start, name=name, entered_at=make.MORNING
    )
    for position, depth in (depths or {}).items():
        ConfigurationLine.objects.create(configuration=row, position=position, depth_m=depth)
    return row


def baseline(of, value, quantity=Quantity.PRESSURE, *, position=None, days=-60, confirmed=True):
    at = make.MORNING + timedelta(days=days)
    taken = ReadingSet.objects.create(system=of.system, taken_at=at, entered_at=at)
    return Baseline.objects.create(
        configuration=of,
        quantity=quantity,
        position=position,
        value=value,
        from_set=taken,
        confirmed_at=at if confirmed else None,
    )


def test_kilopascals_typed_as_psi_are_asked_about_and_kept_as_typed_once_the_unit_is_chosen():
    system = make.system()
    baseline(configuration(system), 6.3 * PSI_PA)

    fault = asked(system, Typed(Quantity.PRESSURE, "43.5", "psi"))["pressure"]

    assert fault.says == (
        "Did you mean 43.5\u00a0kPa (6.3\u00a0psi)? The baseline is 6.3\u00a0psi. "
        "Choose the unit, or confirm the value."
    )
    assert (fault.question, fault.meant_unit) == (True, "kPa")

    record(system, Typed(Quantity.PRESSURE, "43.5", "kPa", confirmed=True))
    kept = Reading.objects.get()
    assert (kept.value, kept.typed_value, kept.typed_unit) == (43_500, "43.5", "kPa")


def test_slipped_point_is_asked_about_and_never_put_right_in_silence():
    system = make.system()
    baseline(configuration(system), 6.3 * PSI_PA)

    fault = asked(system, Typed(Quantity.PRESSURE, "63", "psi"))["pressure"]

    assert fault.says.startswith(
        "Did you mean 6.3\u00a0psi? The baseline is 6.3\u00a0psi, and 63.0"
    )
    assert (fault.question, fault.meant_unit) == (True, "")


def test_doubtful_reading_stays_out_of_what_later_ones_are_compared_with_until_confirmed():
    system = make.system()
    record(system, Typed(Quantity.PRESSURE, "6.3", "psi"))
    record(system, Typed(Quantity.PRESSURE, "43.5", "psi"), days=30, ask=False)
    doubtful = Reading.objects.get(doubtful=True)

    assert asked(system, Typed(Quantity.PRESSURE, "6.4", "psi"), days=60) == {}
    assert "pressure" in asked(system, Typed(Quantity.PRESSURE, "43.8", "psi"), days=60)

    correct_reading(
        doubtful,
        text="43.5",
        unit="psi",
        by=make.manager(),
        entered_at=make.MORNING,
        confirmed=True,
    )
    assert asked(system, Typed(Quantity.PRESSURE, "43.8", "psi"), days=60) == {}


def test_winter_depth_is_compared_with_its_own_baseline():
    system = make.system()
    plate = make.position(PositionKind.DIFFUSER, system=system)
    baseline(configuration(system, depths={plate: 3.66}), 6.3 * PSI_PA)
    winter = configuration(system, "winter shallow", days=-10, depths={plate: 1.52})
    baseline(winter, 3.3 * PSI_PA, days=-5)

    assert asked(system, Typed(Quantity.PRESSURE, "3.3", "psi")) == {}
    assert (
        "baseline is 3.3" in asked(system, Typed(Quantity.PRESSURE, "33", "psi"))["pressure"].says
    )


def test_baseline_of_last_summer_holds_again_when_the_plates_are_back():
    system = make.system()
    plate = make.position(PositionKind.DIFFUSER, system=system)
    baseline(configuration(system, days=-400, depths={plate: 3.66}), 6.3 * PSI_PA, days=-380)
    configuration(system, "winter shallow", days=-200, depths={plate: 1.52})
    configuration(system, days=-30, depths={plate: 3.66})

    fault = asked(system, Typed(Quantity.PRESSURE, "43.5", "psi"))["pressure"]

    assert "The baseline is 6.3" in fault.says


def test_baseline_that_nobody_confirmed_is_not_compared_with():
    system = make.system()
    baseline(configuration(system), 6.3 * PSI_PA, confirmed=False)

    assert asked(system, Typed(Quantity.PRESSURE, "43.5", "psi")) == {}


def test_very_first_pressure_is_held_against_the_depth():
    system = make.system()
    plate = make.position(PositionKind.DIFFUSER, system=system)
    configuration(system, depths={plate: 12 * 0.3048})

    fault = asked(system, Typed(Quantity.PRESSURE, "43.5", "psi"))["pressure"]

    assert fault.says.startswith(
        "Did you mean 43.5\u00a0kPa (6.3\u00a0psi)? A diffuser at this depth"
    )
    assert fault.meant_unit == "kPa"


def test_line_is_held_against_its_own_depth_and_its_own_baseline():
    system = make.system()
    shallow, deep = (make.position(PositionKind.DIFFUSER, system=system) for _ in range(2))
    summer = configuration(system, depths={shallow: 1.8, deep: 3.66})

    at_2_6_psi = Typed(Quantity.LINE_PRESSURE, "2.6", "psi", shallow)
    assert asked(system, at_2_6_psi) == {}
    assert (
        "less than the water"
        in asked(system, Typed(Quantity.LINE_PRESSURE, "2.6", "psi", deep))[
            f"line_pressure:{deep.pk}"
        ].says
    )

    baseline(summer, 4.0 * PSI_PA, Quantity.LINE_PRESSURE, position=shallow)
    assert "1.4 psi" in asked(system, at_2_6_psi)[f"line_pressure:{shallow.pk}"].says


def test_warmth_of_last_summer_says_nothing_about_a_winter_day():
    system = make.system()
    record(system, Typed(Quantity.OUTSIDE_AIR, "77", "F"))

    assert (
        "(75" in asked(system, Typed(Quantity.OUTSIDE_AIR, "24", "F"), days=30)["outside_air"].says
    )
    assert asked(system, Typed(Quantity.OUTSIDE_AIR, "24", "F"), days=180) == {}


def test_cabinet_typed_in_the_other_scale_is_told_by_the_air_outside():
    entries = [Typed(Quantity.OUTSIDE_AIR, "75", "F"), Typed(Quantity.CABINET_AIR, "33", "F")]

    fault = asked(make.system(), *entries)["cabinet_air"]

    assert (fault.meant_unit, fault.question) == ("C", True)


def test_meter_that_gained_far_less_than_the_timer_allows_is_asked_about():
    system = make.system()
    meter = make.position(PositionKind.METER, system=system)
    record(system, Typed(Quantity.RUN_HOURS, "5000", "h", meter))

    def says(hours, days=20):
        found = asked(system, Typed(Quantity.RUN_HOURS, hours, "h", meter), days=days)
        return " ".join(fault.says for fault in found.values())

    assert says("5300") == ""
    assert "280 h since last time are few: timer and states allowed 480 h" in says("5280")
    assert "count days" in says("5020")


def test_hours_of_a_timer_and_of_a_pause_are_not_missed():
    system = make.system()
    meter = make.position(PositionKind.METER, system=system)
    record(system, Typed(Quantity.RUN_HOURS, "5000", "h", meter))
    Schedule.objects.create(system=system, from_on=make.TODAY, hours_per_day=8)
    StateChange.objects.create(
        system=system,
        state=SystemState.SHUT_OTHER,
        at=make.MORNING + timedelta(days=10),
        entered_at=make.MORNING,
    )

    assert asked(system, Typed(Quantity.RUN_HOURS, "5050", "h", meter), days=20) == {}
    assert asked(system, Typed(Quantity.RUN_HOURS, "5046", "h", meter), days=20) != {}


@pytest.mark.parametrize("text", ["1,234", "1.234"])
def test_hours_with_a_mark_before_three_figures_are_asked_about(text):
    system = make.system()
    meter = make.position(PositionKind.METER, system=system)

    fault = asked(system, Typed(Quantity.RUN_HOURS, text, "h", meter))[f"run_hours:{meter.pk}"]

    assert "two ways" in fault.says


def test_oxygen_beyond_what_the_water_holds_is_asked_about_at_the_height_of_the_site():
    # 9.09 mg/L at 20 degC and sea level; x 0.835 at 1500 m (Benson & Krause; USA 1976)
    pond = make.pond()
    entries = [Typed(Quantity.OXYGEN, "12.5", "mg/L"), Typed(Quantity.WATER_TEMPERATURE, "20", "C")]
    assert asked(pond, *entries) == {}

    pond.site.elevation_m = 1500
    assert "165 %" in asked(pond, *entries)["oxygen"].says


def test_open_water_that_grew_by_more_than_half_is_told_the_owner():
    pond = make.pond()
    record(pond, Typed(Quantity.OPEN_WATER, "20", "ft"))

    assert asked(pond, Typed(Quantity.OPEN_WATER, "28", "ft"), days=7) == {}
    assert (
        "keep everybody off the ice"
        in asked(pond, Typed(Quantity.OPEN_WATER, "32", "ft"), days=7)["open_water"].says
    )


def test_low_oxygen_is_said_even_where_a_slip_is_likelier():
    pond = make.pond()
    record(pond, Typed(Quantity.OXYGEN, "8.5", "mg/L"))

    says = asked(pond, Typed(Quantity.OXYGEN, "0.85", "mg/L"), days=7)["oxygen"].says

    assert says.startswith("Did you mean 8.5")
    assert "Look for fish at the surface" in says


@pytest.mark.parametrize("places", [1, 3])
def test_what_is_known_of_a_system_is_asked_of_the_database_once(
    places, django_assert_max_num_queries
):
    system = make.system()
    plates = [make.position(PositionKind.DIFFUSER, system=system) for _ in range(places)]
    summer = configuration(system, depths=dict.fromkeys(plates, 3.0))
    for plate in plates:
        baseline(summer, 40_000, Quantity.LINE_PRESSURE, position=plate)
    entries = [Typed(Quantity.LINE_PRESSURE, "6", "psi", plate) for plate in plates]
    entries += [Typed(Quantity.PRESSURE, "6", "psi"), Typed(Quantity.CURRENT, "4", "A")]

    with django_assert_max_num_queries(7):
        asked(system, *entries)
