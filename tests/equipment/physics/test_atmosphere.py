"""Air pressure, density and viscosity, against the tables of the standard atmosphere."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import atmosphere

# U.S. Standard Atmosphere, 1976, table I: altitude m, pressure Pa, density kg/m3, temperature degC.
PUBLISHED = [
    (0, 101_325, 1.2250, 15.0),
    (500, 95_461, 1.1673, 11.75),
    (1000, 89_876, 1.1117, 8.5),
    (2000, 79_501, 1.0066, 2.0),
    (3000, 70_121, 0.90925, -4.49),
]


@pytest.mark.parametrize(("altitude_m", "pressure", "density", "temperature"), PUBLISHED)
def test_air_is_that_of_the_published_table(altitude_m, pressure, density, temperature):
    found_pa = atmosphere.air_pressure_pa(altitude_m)
    found_c = atmosphere.air_temperature_c(altitude_m)

    assert found_pa == pytest.approx(pressure, rel=2e-5)
    assert found_c == pytest.approx(temperature, abs=0.01)
    assert atmosphere.air_density_kg_m3(found_pa, found_c) == pytest.approx(density, rel=5e-5)


def test_viscosity_is_that_of_the_published_table():
    # U.S. Standard Atmosphere, 1976: 1.7894e-5 N s/m2 at sea level, 15 degC. At 20 degC the check
    # rows of the airlines use 1.813e-5 Pa s.
    assert atmosphere.air_viscosity_pa_s(15) == pytest.approx(1.7894e-5, rel=1e-4)
    assert atmosphere.air_viscosity_pa_s(20) == pytest.approx(1.813e-5, rel=5e-4)


@given(st.floats(-5000, 10_999), st.floats(0.01, 1))
def test_higher_up_there_is_less_air(altitude_m, step):
    assert atmosphere.air_pressure_pa(altitude_m + step) < atmosphere.air_pressure_pa(altitude_m)


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: atmosphere.air_pressure_pa(36_000), "Give metres between"),
        (lambda: atmosphere.air_pressure_pa(float("nan")), "Give metres between"),
        (lambda: atmosphere.air_density_kg_m3(14.7, 20), "absolute pressure in pascals"),
        (lambda: atmosphere.air_density_kg_m3(101_325, 528), "degrees Celsius"),
        (lambda: atmosphere.air_viscosity_pa_s(-200), "degrees Celsius"),
    ],
)
def test_wrong_unit_is_refused_with_what_to_do(ask, says):
    with pytest.raises(ValueError, match=says):
        ask()
