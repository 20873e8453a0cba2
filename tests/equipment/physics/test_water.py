"""Water. Check rows: tests/reference/water.json; each row names its own source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import water
from equipment.physics.atmosphere import SEA_LEVEL_PA, air_pressure_pa
from equipment.physics.units import from_stored, to_stored
from tests.checks import agrees, rows

pond_water = st.floats(-1, 45)
pressures = st.floats(50_000, 110_000)


def ids(row):
    return row["id"]


@pytest.mark.parametrize("row", rows("water", "density of air-free"), ids=ids)
def test_density_is_that_of_the_standard_tables(row):
    got = water.water_density_kg_m3(row["inputs"]["temperature_C"])

    assert agrees(row["expected"], got, row["tolerance"])


def test_density_is_carried_on_where_pond_water_is_warmer_than_the_formula_says():
    # IAPWS-95 at 45 degC and 101 325 Pa, CRC Handbook of Chemistry and Physics: 990.21 kg/m3
    assert water.water_density_kg_m3(45) == pytest.approx(990.21, abs=0.01)


@pytest.mark.parametrize("row", rows("water", "density by the lake formula"), ids=ids)
def test_lake_density_is_the_published_one(row):
    got = water.lake_density_kg_m3(row["inputs"]["temperature_C"])

    assert agrees(row["expected"], got, row["tolerance"])


@pytest.mark.parametrize("row", rows("water", "hydrostatic"), ids=ids)
def test_water_presses_by_its_depth(row):
    asked = row["inputs"]
    depth_m = to_stored("length", asked["depth"], asked["depth_unit"])
    pascals = water.depth_pressure_pa(depth_m, asked["temperature_C"], asked["g_m_s2"])

    assert agrees(row["expected"], from_stored("pressure", pascals, row["unit"]), row["tolerance"])


def test_a_foot_of_water_is_0_4335_psi():
    (row,) = rows("water", "pressure of one conventional foot")
    psi = from_stored("pressure", water.depth_pressure_pa(0.3048), "psi")

    assert agrees(row["expected"], psi, row["tolerance"])


@pytest.mark.parametrize("row", rows("water", "dissolved oxygen"), ids=ids)
def test_oxygen_at_saturation_is_that_of_the_tables(row):
    asked = row["inputs"]
    pascals = {
        "pressure_atm": lambda value: value * SEA_LEVEL_PA,
        "pressure_kPa": lambda value: value * 1000,
        "station_pressure_mmHg": lambda value: value * water.MMHG_PA,
        "altitude_m": air_pressure_pa,
    }
    (pressure_pa,) = (made(asked[key]) for key, made in pascals.items() if key in asked)
    got = water.oxygen_saturation_mg_l(asked["temperature_C"], pressure_pa)

    assert agrees(row["expected"], got, row["tolerance"])


def test_thin_air_puts_less_oxygen_into_water():
    (row,) = rows("water", "pressure correction factor")
    thin_pa = 0.7 * SEA_LEVEL_PA
    got = {
        "factor": water.pressure_factor(20, thin_pa),
        "Cp_mg_L": water.oxygen_saturation_mg_l(20, thin_pa),
    }

    assert agrees(row["expected"], got, row["tolerance"])


@pytest.mark.parametrize("row", rows("water", "percent"), ids=ids)
def test_percent_of_saturation_counts_the_thin_air_of_an_altitude(row):
    asked = row["inputs"]
    air_pa = air_pressure_pa(asked["altitude_m"])
    got = water.percent_saturation(asked["do_mg_L"], asked["temperature_C"], air_pa)

    assert agrees(row["expected"], got, row["tolerance"])


def test_salt_water_holds_the_oxygen_of_the_published_check_point():
    (row,) = rows("water", "oxygen solubility check point")

    assert agrees(row["expected"], water.oxygen_solubility_umol_kg(10, 35), row["tolerance"])


@pytest.mark.parametrize("temperature_c", [0, 10, 20, 30])
def test_salt_takes_oxygen_as_another_fit_to_the_same_data_says(temperature_c):
    # Benson & Krause by volume against Garcia & Gordon by mass; the shares must agree.
    share = water.oxygen_saturation_mg_l(temperature_c, salinity=10) / (
        water.oxygen_saturation_mg_l(temperature_c)
    )
    by_mass = water.oxygen_solubility_umol_kg(temperature_c, 10) / (
        water.oxygen_solubility_umol_kg(temperature_c)
    )

    # by volume salt water is 0.75 % heavier
    assert share == pytest.approx(by_mass * 1.0075, rel=0.001)


def test_a_barometer_reduced_to_sea_level_is_not_taken_for_the_pressure_at_a_high_pond():
    usual_pa = air_pressure_pa(1500)
    said = water.station_pressure_doubt(101_700, usual_pa)

    assert "sea level" in said
    assert "846 hPa" in said  # U.S. Standard Atmosphere, 1976: 84 556 Pa at 1500 m
    # what taking it anyway would have cost
    wrong = water.oxygen_saturation_mg_l(20, 101_325) / water.oxygen_saturation_mg_l(20, usual_pa)
    assert wrong == pytest.approx(1.2, abs=0.02)


@pytest.mark.parametrize("altitude_m", [0, 300, 1500, 3000])
def test_the_weather_of_a_usual_day_raises_no_doubt(altitude_m):
    usual_pa = air_pressure_pa(altitude_m)

    for weather in (0.96, 1, 1.03):
        assert water.station_pressure_doubt(weather * usual_pa, usual_pa) is None


@pytest.mark.parametrize(
    ("refused", "word"),
    [
        (lambda: water.water_density_kg_m3(46), "temperature"),
        (lambda: water.lake_density_kg_m3(float("nan")), "temperature"),
        (lambda: water.depth_pressure_pa(-0.1), "depth"),
        (lambda: water.depth_pressure_pa(1, gravity_m_s2=32.2), "gravity"),
        (lambda: water.oxygen_saturation_mg_l(20, 1013), "kPa"),
        (lambda: water.oxygen_saturation_mg_l(20, salinity=41), "salinity"),
        (lambda: water.percent_saturation(41, 20), "oxygen"),
    ],
)
def test_what_no_pond_can_be_is_refused_with_a_sentence(refused, word):
    with pytest.raises(ValueError, match=word):
        refused()


@given(pond_water, st.floats(0.01, 5), pressures)
def test_warmer_water_holds_less_oxygen(temperature_c, warmer, pressure_pa):
    warm_c = min(temperature_c + warmer, 45)
    cold = water.oxygen_saturation_mg_l(temperature_c, pressure_pa)

    assert water.oxygen_saturation_mg_l(warm_c, pressure_pa) < cold or warm_c == temperature_c


@given(pond_water, pressures, st.floats(1.001, 1.05))
def test_more_pressure_puts_more_oxygen_into_water(temperature_c, pressure_pa, more):
    less = water.oxygen_saturation_mg_l(temperature_c, pressure_pa)

    assert water.oxygen_saturation_mg_l(temperature_c, pressure_pa * more) > less


@given(pond_water, st.floats(0.01, 10))
def test_water_gets_lighter_away_from_four_degrees(temperature_c, further):
    away = 1 if temperature_c >= water.DENSEST_AT_C else -1
    other_c = temperature_c + away * further
    if -1 <= other_c <= 45:
        lighter = water.water_density_kg_m3(other_c)
        assert lighter < water.water_density_kg_m3(temperature_c)


@given(st.floats(0, 99), st.floats(0.01, 1), pond_water)
def test_deeper_water_presses_more(depth_m, deeper, temperature_c):
    shallow = water.depth_pressure_pa(depth_m, temperature_c)

    assert water.depth_pressure_pa(depth_m + deeper, temperature_c) > shallow
