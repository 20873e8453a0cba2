"""Slips of the pen are asked about. Factors: NIST SP 811 (2008), appendix B."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.kinds import Quantity
from equipment.physics import slips, units

PSI_PA = 6894.757
CFM_L_MIN = 28.31685
FT_M = 0.3048


@pytest.mark.parametrize(
    ("quantity", "typed_as", "really", "factor", "expected"),
    [
        ("pressure", "psi", "kPa", 6.894757, 6.3 * PSI_PA),
        ("pressure", "psi", "mbar", 68.94757, 6.3 * PSI_PA),
        ("pressure", "psi", "bar", 0.06894757, 6.3 * PSI_PA),
        ("pressure", "psi", "inH2O", 27.68, 6.3 * PSI_PA),
        ("pressure", "kPa", "psi", 0.1450377, 6.3 * PSI_PA),
        ("line_pressure", "mbar", "psi", 0.01450377, 6.3 * PSI_PA),
        ("flow", "cfm", "L/min", 28.31685, 3 * CFM_L_MIN),
        ("flow", "cfm", "m3/h", 1.699011, 3 * CFM_L_MIN),
        ("flow", "L/min", "cfm", 0.03531467, 3 * CFM_L_MIN),
        ("level", "ft", "m", 0.3048, 2 * FT_M),
        ("secchi", "ft", "in", 12, 4 * FT_M),
    ],
)
@given(off=st.floats(0.9, 1.1))
def test_number_typed_in_another_unit_is_asked_about(
    quantity, typed_as, really, factor, expected, off
):
    as_it_should = units.from_stored(quantity, expected, typed_as)

    assert slips.meant_unit(quantity, factor * as_it_should * off, typed_as, expected) == really
    assert slips.meant_unit(quantity, as_it_should * off, typed_as, expected) is None


@pytest.mark.parametrize(
    ("value", "unit", "expected_c", "really"),
    [(24, "F", 22, "C"), (75, "C", 22, "F"), (24, "C", 22, None), (75, "F", 22, None)],
)
def test_warmth_in_the_other_scale_is_asked_about(value, unit, expected_c, really):
    assert slips.meant_unit("water_temperature", value, unit, expected_c) == really


def test_cold_day_is_no_slip_of_the_scale():
    assert slips.meant_unit("outside_air", -5, "C", 12) is None
    assert slips.slip("outside_air", 2, "C", 20) is None


@pytest.mark.parametrize(("typed", "meant"), [(63, 6.3), (0.63, 6.3), (0.7, 7.0)])
def test_point_that_slipped_by_one_place_is_asked_about(typed, meant):
    found = slips.slip("pressure", typed, "psi", 6.5 * PSI_PA)

    assert (found.value, found.unit) == (pytest.approx(meant), "psi")


def test_another_unit_is_likelier_than_a_slipped_point():
    assert slips.slip("pressure", 448, "kPa", 44_816).unit == "mbar"


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "expected"),
    [
        ("pressure", 7.5, "psi", 6.5 * PSI_PA),
        ("pressure", 0, "psi", 6.5 * PSI_PA),
        ("pressure", 6.5, "psi", 0),
        ("level", 0.3, "ft", 0.02),
        ("bubbles", 1, "", 3),
        ("run_hours", 520, "h", 5200),
    ],
)
def test_number_without_a_likely_slip_is_left_alone(quantity, value, unit, expected):
    assert slips.slip(quantity, value, unit, expected) is None


@given(
    st.sampled_from([q for q in Quantity if q != Quantity.BUBBLES]),
    st.floats(-40, 1000),
    st.floats(-40, 1000),
    st.data(),
)
def test_slip_never_names_what_was_typed_and_fits_better_than_it(quantity, value, usual, data):
    unit = data.draw(st.sampled_from(units.offered(quantity)))
    expected = units.to_stored(quantity, usual, unit)

    found = slips.slip(quantity, value, unit, expected)

    if found is not None:
        assert (found.value, found.unit) != (value, unit)
        meant = units.to_stored(quantity, found.value, found.unit)
        typed = units.to_stored(quantity, value, unit)
        assert abs(meant - expected) < abs(typed - expected)


def test_unit_is_told_by_a_band_when_only_one_fits():
    low, high = 4.2 * PSI_PA, 10.2 * PSI_PA

    assert slips.unit_within("pressure", 43.5, "psi", low, high) == "kPa"
    assert slips.unit_within("pressure", 6.3, "psi", low, high) is None
    assert slips.unit_within("pressure", 43.5, "psi", 0, high * 9) is None


def test_same_value_on_three_visits_may_be_asked_about_and_scores_may_not():
    assert slips.looks_copied("pressure", 43_437, [43_437, 43_437, 40_000])
    assert not slips.looks_copied("pressure", 43_437, [43_437, 44_000])
    assert not slips.looks_copied("pressure", 43_437, [43_437])
    assert not slips.looks_copied("bubbles", 3, [3, 3])
