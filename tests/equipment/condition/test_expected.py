"""The expected pressure and its shares, against hydrostatics and the trade's rules of thumb."""

import math
from dataclasses import replace

import pytest

from equipment.condition.expected import (
    WATER,
    expected_flow,
    expected_line_pressure,
    expected_power_w,
    expected_pressure,
    hangs_on_flow_pa,
    left_with_less_air,
    level_pa,
    pressure_tolerance_pa,
)
from equipment.condition.history import PSI_PA, Tolerances
from equipment.physics.atmosphere import air_pressure_pa
from tests.make_history import FT_M, line, rig

# "12 ft reads 6 to 8 psi": common practice, no source.
TWELVE_FEET_PSI = (6.0, 8.0)
# "1 psi per 2 ft", losses included: common practice, no source; a third off is called a match.
PSI_A_FOOT, MATCH = 0.5, 1 / 3
WATER_PSI_A_FOOT = 0.4335  # rho g h of fresh water, U.S. units


def test_pond_of_twelve_feet_reads_six_to_eight_psi_by_physics():
    low, high = TWELVE_FEET_PSI
    loaded = replace(rig().lines[0], check_valve_pa=0.5 * PSI_PA, opening_pa=1.0 * PSI_PA)
    most = expected_pressure(replace(rig(), lines=(loaded,) * 3)).expected

    assert low - 0.1 <= expected_pressure(rig()).expected / PSI_PA <= most / PSI_PA <= high


@pytest.mark.parametrize("depth_ft", [8, 12, 16, 20])
def test_one_psi_for_two_feet_comes_out_of_the_physics(depth_ft):
    per_foot = expected_pressure(rig(depth_ft)).expected / PSI_PA / depth_ft

    assert per_foot == pytest.approx(PSI_A_FOOT, rel=MATCH)


def test_shares_add_up_and_the_water_is_the_depth_of_the_deepest_plate():
    shallow = replace(rig(), lines=(line("D1", 12), line("D2", 11.8)))
    band = expected_pressure(shallow)
    shares = dict(band.shares)

    assert math.fsum(shares.values()) == pytest.approx(band.expected)
    assert shares[WATER] == pytest.approx(12 * WATER_PSI_A_FOOT * PSI_PA, rel=0.002)


@pytest.mark.parametrize("rise_ft", [-2.0, 1.0, 3.0])
def test_level_adds_its_own_weight(rise_ft):
    rise_m = rise_ft * FT_M
    moved = expected_pressure(rig(), level_m=rise_m).expected - expected_pressure(rig()).expected

    assert level_pa(rise_m) == pytest.approx(rise_ft * WATER_PSI_A_FOOT * PSI_PA, rel=0.002)
    assert moved == pytest.approx(level_pa(rise_m), rel=0.03)  # less air flows against more water


def test_plates_from_twelve_to_five_feet_take_three_psi():
    deep, shallow = (expected_pressure(rig(depth)).expected for depth in (12, 5))

    assert (deep - shallow) / PSI_PA == pytest.approx(3.0, abs=0.1)  # 7 ft x 0.4335 psi/ft


def test_tolerance_is_the_largest_of_half_a_psi_a_tenth_and_twice_the_gauges_error():
    t = Tolerances()

    assert pressure_tolerance_pa(3 * PSI_PA, 0, t) == pytest.approx(0.5 * PSI_PA)
    assert pressure_tolerance_pa(8 * PSI_PA, 0, t) == pytest.approx(0.8 * PSI_PA)
    assert pressure_tolerance_pa(8 * PSI_PA, 0.6 * PSI_PA, t) == pytest.approx(1.2 * PSI_PA)
    by_physics = pressure_tolerance_pa(3 * PSI_PA, 0, t, by_physics=True)
    assert by_physics == pytest.approx(1.0 * PSI_PA)


def test_line_that_gets_no_air_is_named():
    starved = replace(rig(), lines=(line("D1", 8), line("D2", 14)))

    band = expected_pressure(starved)

    assert "No air is expected in D2" in band.note
    alone = expected_line_pressure(starved, "D2")
    assert alone.expected > band.expected


def test_without_a_curve_the_band_is_wider_and_says_why():
    bare = replace(rig(), curve=None)

    band, full = expected_pressure(bare), expected_pressure(rig())

    assert "curve is not known" in band.note
    assert band.low < full.expected < band.high
    assert band.high - band.low > full.high - full.low
    assert expected_flow(bare) is None
    assert expected_power_w(bare) is None
    assert left_with_less_air(bare) == {}
    assert hangs_on_flow_pa(bare) is None


def test_configuration_without_a_line_in_use_expects_nothing():
    off = replace(rig(), lines=tuple(replace(one, in_use=False) for one in rig().lines))

    assert expected_pressure(off) is None


def test_thin_air_of_the_mountains_hardly_moves_the_pressure_that_the_water_asks_for():
    high = expected_pressure(replace(rig(), air_pa=air_pressure_pa(1500)))

    assert high.expected == pytest.approx(expected_pressure(rig()).expected, rel=0.02)


def test_deep_plates_lose_their_air_first_when_the_compressor_gives_less():
    left = left_with_less_air(replace(rig(), lines=(line("D1", 12.5), line("D2", 12))))

    assert left["D1"] < 0.75 < left["D2"]


def test_power_goes_with_the_air_and_its_pressure():
    low, high = expected_power_w(rig(6)), expected_power_w(rig(14))

    assert 0 < low.expected < high.expected
    assert low.low < low.expected < low.high
