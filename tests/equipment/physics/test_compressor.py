"""What a compressor delivers, draws and gives off."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.kinds import CompressorKind
from equipment.physics import air, compressor
from equipment.physics.atmosphere import air_pressure_pa
from equipment.physics.compressor import Curve, typical_curve

KINDS = list(CompressorKind)


def test_curve_is_straight_between_its_points_and_level_outside():
    curve = Curve(((10_000, 100), (50_000, 80), (100_000, 20)))

    asked = (0, 10_000, 30_000, 50_000, 75_000, 100_000, 120_000)
    assert [curve.delivered_l_min_local(p) for p in asked] == [100, 100, 90, 80, 50, 20, 20]
    assert curve.pressure_max_pa == 100_000


def test_flow_that_ends_ends_the_curve():
    assert Curve(((0, 100), (20_000, 0), (30_000, 0))).pressure_max_pa == 20_000
    assert Curve(((0, 0), (20_000, 0))).pressure_max_pa == 0


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ((), "needs a point"),
        (((0, 100), (0, 90)), "low to high"),
        (((0, 100), (50_000, 110)), "never rises"),
        (((0, 100), (-5, 90)), "cannot be right"),
        (((0, float("nan")),), "cannot be right"),
    ],
)
def test_curve_that_cannot_be_is_refused_with_what_to_do(points, says):
    with pytest.raises(ValueError, match=says):
        Curve(points)


@pytest.mark.parametrize("kind", KINDS)
def test_typical_curve_begins_at_the_open_flow_and_says_that_it_is_a_judgement(kind):
    curve = typical_curve(kind, 100, 60_000)

    assert curve.delivered_l_min_local(0) == 100
    assert curve.points[-1][0] == 60_000
    assert curve.basis == "judgement"


def test_kinds_fall_as_the_trade_says():
    # Piston and vane fall a little, linear steeply, others more so: common practice, no source.
    left = {kind: typical_curve(kind, 100, 60_000).delivered_l_min_local(60_000) for kind in KINDS}

    assert min(left[CompressorKind.PISTON], left[CompressorKind.VANE]) > 60
    assert left[CompressorKind.OTHER] < left[CompressorKind.LINEAR] < 50


def test_thin_and_warm_air_cost_a_machine_its_mass_of_air():
    # Check rows air-013 and air-014 (library CoolProp): 0.8345 at 1500 m, 0.7939 there at 35 degC.
    air_pa = air_pressure_pa(1500)
    for temperature, ratio in ((20, 0.834487395), (35, 0.793778821)):
        site = compressor.curve_at_site(Curve(((0, 100), (100_000, 100))), air_pa, temperature)
        local = site.delivered_l_min_local(0)
        at_sea_level = air.flow_at(local, air.Condition(air_pa, 20), air.FREE_AIR)

        assert at_sea_level / 100 == pytest.approx(ratio, rel=0.003)
        assert compressor.mass_flow_ratio(1500, temperature) == pytest.approx(ratio, rel=0.003)


def test_thin_air_brings_the_same_ratio_of_pressures_at_a_lower_gauge_reading():
    site = compressor.curve_at_site(Curve(((0, 100), (101_325, 60))), 80_000)

    assert site.points == ((0, 100), (80_000, 60))


def test_power_and_heat_come_from_the_curve_and_the_pressure():
    # Check rows air-035 and air-036 (library CoolProp): 5 m3/h to 45 kPa at sea level take 54.54 W,
    # and leave at 52.46 degC.
    curve = Curve(((0, 5000 / 60),))

    power = compressor.power_w(curve, 45_000, efficiency=0.4)
    leaves = compressor.discharge_temperature_c(45_000, inlet_temperature_c=20)

    assert power * 0.4 == pytest.approx(54.5370916, rel=0.005)
    assert leaves == pytest.approx(52.4630888, abs=0.6)


@given(st.floats(0, 200_000), st.floats(0.1, 1), st.floats(-20, 50))
def test_poorer_compression_leaves_hotter_air(pressure, efficiency, inlet):
    def leaves(share):
        return compressor.discharge_temperature_c(
            pressure, inlet_temperature_c=inlet, efficiency=share
        )

    assert inlet - 1e-9 <= leaves(1.0) <= leaves(efficiency) + 1e-9


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: typical_curve("rocket", 100, 60_000), "Choose one of: piston"),
        (lambda: typical_curve("piston", -1, 60_000), "litres a minute"),
        (lambda: typical_curve("piston", 100, 8), "1 psi is 6895 Pa"),
        (lambda: compressor.typical_efficiency("rocket"), "Choose one of: piston"),
        (lambda: compressor.curve_at_site(Curve(((0, 1),)), 29.92), "absolute air pressure"),
        (lambda: compressor.curve_at_site(Curve(((0, 1),)), 101_325, 293), "degrees Celsius"),
        (
            lambda: compressor.discharge_temperature_c(1, inlet_temperature_c=20, efficiency=0),
            "share",
        ),
    ],
)
def test_wrong_unit_or_kind_is_refused_with_what_to_do(ask, says):
    with pytest.raises(ValueError, match=says):
        ask()


@pytest.mark.parametrize("kind", KINDS)
def test_efficiency_to_begin_with_is_a_share(kind):
    assert 0.2 < compressor.typical_efficiency(kind) < 0.6
