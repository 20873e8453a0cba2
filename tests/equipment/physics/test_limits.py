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


@pytest.mark.parametrize(
    ("psi", "word"), [(0, "far below"), (3, "far below"), (14, "far above"), (43.5, "far above")]
)
def test_pressure_twice_or_half_its_baseline_is_looked_at_once_more(psi, word):
    known = limits.Expected(depth_m=3.66, baseline=units.to_stored("pressure", 6.3, "psi"))

    assert word in limits.doubts("pressure", units.to_stored("pressure", psi, "psi"), known)[0]
    assert limits.doubts("pressure", units.to_stored("pressure", 8.9, "psi"), known) == []


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
        ("line_pressure", 55_000, limits.Expected(baseline=43_437), "above its own baseline"),
        ("line_pressure", 36_000, limits.Expected(baseline=43_437), "below its own baseline"),
        ("pressure", 70_000, limits.Expected(relief_pa=68_948), "set to 10.0 psi"),
        ("run_hours", 5_280, limits.Expected(last=5_000, scheduled_h=480), "480 h"),
        ("run_hours", 5_020, limits.Expected(last=5_000, scheduled_h=480), "count days"),
        ("open_water", 16, limits.Expected(last=10), "off the ice"),
        # 9.09 mg/L at 20 degC and sea level: Benson & Krause in USGS tables
        ("oxygen", 13.8, limits.Expected(water_c=20), "152 %"),
    ],
)
def test_odd_reading_is_questioned(quantity, value, expected, word):
    assert word in limits.doubts(quantity, value, expected)[0]


def test_hour_meter_neither_goes_back_nor_outruns_the_day():
    assert limits.meter_refusal(5400, 5000, 20) is None
    assert "cannot go back" in limits.meter_refusal(4999, 5000, 20)
    assert "cannot pass in 10 days" in limits.meter_refusal(5242, 5000, 10)
    assert limits.meter_refusal(5241, 5000, 10) is None


@pytest.mark.parametrize(
    ("last", "now", "turns", "hours"),
    [(9_990.5, 20.5, 9_999.9, 30), (99_950, 70, 99_999, 120), (500, 400, 0, -100)],
)
def test_mechanical_meter_that_turned_over_goes_on_counting(last, now, turns, hours):
    assert limits.hours_counted(last, now, turns) == pytest.approx(hours)


def test_meter_that_turns_over_is_believed_within_the_hours_that_passed():
    assert limits.meter_refusal(70, 99_950, 10, 99_999) is None
    assert "cannot pass" in limits.meter_refusal(99_900, 99_950, 10, 99_999)


@pytest.mark.parametrize(
    ("quantity", "value", "expected"),
    [
        ("line_pressure", 43_437 + 6_500, limits.Expected(baseline=43_437)),
        ("pressure", 15_000, limits.Expected(depth_m=12 * 0.3048, baseline=15_500)),
        ("run_hours", 5_300, limits.Expected(last=5_000, scheduled_h=480)),
        ("run_hours", 5_001, limits.Expected(last=5_000, scheduled_h=20)),
        ("run_hours", 5_001, limits.Expected(last=5_000)),
        ("open_water", 14, limits.Expected(last=10)),
        ("oxygen", 13.5, limits.Expected(water_c=20)),
        ("oxygen", 13.8, limits.Expected()),
    ],
)
def test_reading_that_fits_what_is_known_is_not_questioned(quantity, value, expected):
    assert limits.doubts(quantity, value, expected) == []


def test_thin_air_holds_less_oxygen_and_is_questioned_sooner():
    # x 0.835 at 1500 m (84 556 Pa, U.S. Standard Atmosphere 1976): 7.6 mg/L at 20 degC
    high = limits.Expected(water_c=20, air_pa=84_556)

    assert limits.doubts("oxygen", 11.2, high) == []
    assert "7.6 mg/L" in limits.doubts("oxygen", 11.6, high)[0]


def test_warmer_water_below_is_questioned_unless_the_surface_is_cold():
    summer = [(0.2, 22.0, 8.0), (2.0, 21.0, 7.0), (4.0, 22.6, 4.5)]

    assert "22.6 °C at 4 m is warmer" in limits.profile_doubts(summer)[0]
    assert limits.profile_doubts([(0.2, 22.0, None), (2.0, 22.4, None)]) == []
    assert limits.profile_doubts([(0.2, 1.0, None), (2.0, 3.9, None)]) == []  # under ice


def test_profile_deeper_than_the_pond_or_without_oxygen_is_questioned():
    points = [(4.8, 8.0, 0.4), (0.2, 24.0, 9.0)]

    said = limits.profile_doubts(points, depth_max_m=4)

    assert "deeper than the pond on record" in said[0]
    assert said[1].startswith("At 4.8 m: Low oxygen")
    assert limits.profile_doubts([(4.5, 8.0, 5.0)], depth_max_m=4) == []


@pytest.mark.parametrize(
    ("now", "asks"),
    [
        (219, "count days: 219 days are 5256 h"),
        (52_400, "tenths: 5240.0 h"),
        (524, "figure left out"),
        (7, ""),
    ],
)
def test_meter_that_goes_back_or_too_fast_is_asked_for_the_likely_slip(now, asks):
    says = limits.meter_refusal(now, 5_000, 12)

    assert says.endswith("?") == bool(asks)
    assert asks in says
