"""Hard limits refuse what cannot be, and doubts ask without refusing."""

import pytest

from equipment.kinds import Quantity
from equipment.physics import limits, units


@pytest.mark.parametrize("quantity", list(Quantity))
def test_every_quantity_has_hard_limits_and_accepts_its_own_edges(quantity):
    hard = limits.HARD[quantity]
    for unit in units.offered(quantity):
        for edge in (hard.low, hard.high):
            stored = units.to_stored(quantity, edge, hard.unit)
            assert limits.refusal(quantity, units.from_stored(quantity, stored, unit), unit) is None


def test_refusal_speaks_in_the_unit_that_was_typed():
    assert limits.refusal("pressure", 300_000, "mbar") == (
        "Pressure must lie between 0 and 10342.14 mbar; 300000 mbar cannot be right. "
        "Look again, and check the unit."
    )
    assert "The bubble score must lie between 0 and 4; 7" in limits.refusal("bubbles", 7, "")


def test_pressure_far_from_that_of_the_water_is_doubted():
    # Water alone at 12 ft: 5.19 psi (check row water-017: IAPWS-95 density, standard gravity).
    at_12_ft = limits.Expected(depth_m=12 * 0.3048)

    def doubts(psi):
        return limits.doubts("pressure", units.to_stored("pressure", psi, "psi"), at_12_ft)

    assert doubts(6.5) == []
    assert "less than the water" in doubts(4)[0]
    assert "more than 5 psi above" in doubts(10.5)[0]


def test_without_knowledge_of_the_system_pressure_is_not_doubted():
    assert limits.doubts("pressure", 200_000, limits.Expected()) == []


def test_heat_is_doubted_by_its_rise_and_not_by_the_weather():
    hot_day = limits.Expected(outside_c=38)
    assert limits.doubts("cabinet_air", 50, hot_day) == []
    assert "Check fan and vents" in limits.doubts("cabinet_air", 54, hot_day)[0]
    assert "That is hot" in limits.doubts("cabinet_air", 64, hot_day)[0]


@pytest.mark.parametrize(
    ("quantity", "value", "expected", "word"),
    [
        ("flow", 200, limits.Expected(nameplate_l_min=150), "nameplate"),
        ("current", 5, limits.Expected(nameplate_a=4), "nameplate"),
        ("voltage", 105, limits.Expected(nominal_v=115), "electrician"),
        ("head_temperature", 120, limits.Expected(), "burns"),
        ("bubbles", 2, limits.Expected(), "Weaker"),
        ("oxygen", 3.5, limits.Expected(), "Low oxygen"),
        ("secchi", 0.2, limits.Expected(), "cloudy"),
        ("level", 1.2, limits.Expected(), "mark"),
    ],
)
def test_odd_reading_is_questioned(quantity, value, expected, word):
    assert word in limits.doubts(quantity, value, expected)[0]


def test_hour_meter_neither_goes_back_nor_outruns_the_day():
    assert limits.meter_refusal(5400, 5000, 20) is None
    assert "cannot go back" in limits.meter_refusal(4999, 5000, 20)
    assert "cannot pass in 10 days" in limits.meter_refusal(5242, 5000, 10)
    assert limits.meter_refusal(5241, 5000, 10) is None


def test_number_that_fits_another_unit_is_asked_about():
    expected_pa = 6.5 * 6894.757  # NIST SP 811: psi
    assert limits.meant_unit("pressure", 45, "psi", expected_pa) == "kPa"
    assert limits.meant_unit("pressure", 448, "kPa", expected_pa) == "mbar"
    assert limits.meant_unit("pressure", 7.5, "psi", expected_pa) is None
    assert limits.meant_unit("flow", 3, "L/min", 85) == "cfm"


@pytest.mark.parametrize(
    ("last", "now", "turns", "hours"),
    [(9_990.5, 20.5, 9_999.9, 30), (99_950, 70, 99_999, 120), (500, 400, 0, -100)],
)
def test_mechanical_meter_that_turned_over_goes_on_counting(last, now, turns, hours):
    assert limits.hours_counted(last, now, turns) == pytest.approx(hours)


def test_meter_that_turns_over_is_believed_within_the_hours_that_passed():
    assert limits.meter_refusal(70, 99_950, 10, 99_999) is None
    assert "cannot pass" in limits.meter_refusal(99_900, 99_950, 10, 99_999)
