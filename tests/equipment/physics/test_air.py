"""Free air, its conditions and the work of compression, against published figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import air
from equipment.physics.air import Condition

KELVIN_ZERO = 273.15


def test_normal_litre_is_seven_percent_more_at_20_degrees():
    # DIN 1343: 0 degC and 101 325 Pa; check row air-018 gives 4.65887771 Nm3/h for 5 m3/h.
    assert air.flow_at(5, air.FREE_AIR, air.NORMAL) == pytest.approx(4.65887771, rel=1e-8)


def test_textbook_compressor_takes_its_power_and_warms_its_air():
    # Eastop & McConkey, Applied Thermodynamics: 1 m3/min from 1.013 to 7 bar, n = 1.35: 4.24 kW;
    # 288 K leaves at 475.2 K.
    power = air.compression_power_w(1000, 598_700, air_pa=101_300, exponent=1.35)

    assert power == pytest.approx(4240, abs=20)
    assert air.compressed_temperature_k(288, 7 / 1.013, 1.35) == pytest.approx(475.2, abs=0.5)


@given(st.floats(0, 1e4), st.floats(2e4, 1.2e5), st.floats(2e4, 1.2e5), st.floats(-40, 60))
def test_flow_counted_elsewhere_and_back_is_the_same(flow, one_pa, other_pa, temperature):
    one, other = Condition(one_pa, temperature), Condition(other_pa, 20)

    back = air.flow_at(air.flow_at(flow, one, other), other, one)

    assert back == pytest.approx(flow, rel=1e-12)


def test_float_meter_under_seven_psi_reads_a_fifth_low():
    # Root of (7 + 14.7)/14.7 = 1.215: arithmetic, as it stands in handbooks on flow meters.
    assert air.rotameter_free_air(2.0, 7 * 6894.757) == pytest.approx(2.0 * 1.215, rel=1e-3)


@given(st.floats(0, 500), st.floats(0, 200_000), st.floats(0.05, 1))
def test_power_grows_with_pressure_and_with_poor_efficiency(flow, gauge, efficiency):
    ideal = air.compression_power_w(flow, gauge)

    assert ideal <= air.compression_power_w(flow, gauge + 100)
    assert air.compression_power_w(flow, gauge, efficiency=efficiency) >= ideal * 0.999999


def test_energy_costs_what_its_hours_and_its_price_make():
    assert air.energy_kwh(400, 24 * 30) == pytest.approx(288)
    assert air.energy_cost(400, 24 * 30, 0.15) == pytest.approx(43.2)


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: air.flow_at(-1, air.FREE_AIR, air.NORMAL), "Give 0 or more"),
        (lambda: air.flow_at(1, Condition(14.7, 20), air.NORMAL), "absolute pressure in pascals"),
        (lambda: air.line_volume_flow(5, -50_000), "gauge pressure"),
        (lambda: air.line_volume_flow(5, 45_000, air_pa=101.325), "absolute pressure in pascals"),
        (lambda: air.compression_power_w(50, 45_000, efficiency=40), "not percent"),
        (lambda: air.compression_power_w(50, 45_000, exponent=1), "air has 1.4"),
        (lambda: air.compression_power_w(-50, 45_000), "Give 0"),
        (lambda: air.compressed_temperature_k(20, 2), "kelvins"),
        (lambda: air.compressed_temperature_k(293, 0.5), "Give 1 to 1000"),
        (lambda: air.rotameter_free_air(-1, 0), "Give 0 or more"),
        (lambda: air.energy_kwh(-1, 1), "power"),
        (lambda: air.energy_cost(1, 1, -1), "price"),
    ],
)
def test_wrong_unit_is_refused_with_what_to_do(ask, says):
    with pytest.raises(ValueError, match=says):
        ask()
