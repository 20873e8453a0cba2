"""The throttle of a valve, against the textbook's loss and back again."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics.valve import throttle_pa_per_l_min2, valve_open_percent


def test_half_turned_valve_takes_fifteen_times_its_open_loss_more():
    """Loss = K x rho v2/2 (any textbook on pipe flow): a quarter of the area, four times as fast.

    1 L/min through 1/2 in (12.7 mm): area 1.26677e-4 m2, 0.131568 m/s; dry air of 20 degC and
    101 325 Pa weighs 1.2041 kg/m3 (CRC Handbook). K = 1.5, and
    that half a turn leaves a quarter of the area, are our judgement.
    """
    one_head = 1.2041 * 0.131568**2 / 2

    assert throttle_pa_per_l_min2(50, 0.0127) == pytest.approx(15 * 1.5 * one_head, rel=1e-4)


def test_open_valve_is_no_throttle_and_a_shut_one_lets_nothing_through():
    assert throttle_pa_per_l_min2(100, 0.0127) == 0
    assert throttle_pa_per_l_min2(0, 0.0127) >= 1e12


@given(st.floats(1, 100), st.floats(0.003, 0.08))
def test_setting_comes_back_from_its_throttle(percent, bore):
    assert math.isclose(
        valve_open_percent(throttle_pa_per_l_min2(percent, bore), bore), percent, rel_tol=1e-9
    )


@pytest.mark.parametrize(
    "call",
    [
        lambda: throttle_pa_per_l_min2(101, 0.0127),
        lambda: throttle_pa_per_l_min2(50, 0),
        lambda: valve_open_percent(-1, 0.0127),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(call):
    with pytest.raises(ValueError, match=r"\."):
        call()
