"""Conversions hold against exact definitions and published factors."""

import pytest

from equipment.kinds import Quantity
from equipment.physics import units

# NIST Special Publication 811 (2008), appendix B.8, factors to SI; the published digits.
PUBLISHED = [
    ("pressure", "psi", 6.894757e3),  # pound-force per square inch to pascal
    ("pressure", "mbar", 1.0e2),
    ("pressure", "bar", 1.0e5),
    ("pressure", "inH2O", 2.490889e2),  # inch of water, conventional
    ("length", "ft", 3.048e-1),
    ("length", "in", 2.54e-2),
    ("distance", "mi", 1.609344e3),
    ("area", "ft2", 9.290304e-2),
    ("area", "ha", 1.0e4),
    ("volume", "US gal", 3.785412e-3),
]
# Cubic foot per minute to cubic metre per second 4.719474 E-04, the same publication.
CFM_M3_S = 4.719474e-4


@pytest.mark.parametrize(("what", "unit", "factor"), PUBLISHED)
def test_factor_is_the_published_one(what, unit, factor):
    assert units.to_stored(what, 1, unit) == pytest.approx(factor, rel=2e-7)


def test_cubic_foot_a_minute_is_the_published_flow():
    assert units.to_stored("flow", 1, "cfm") / 60_000 == pytest.approx(CFM_M3_S, rel=2e-7)


def test_cubic_foot_a_minute_in_cubic_metres_an_hour_agrees_with_the_check_row():
    # Check row air-022: the unit registry `pint` prints 1.69901082 m3/h.
    stored = units.to_stored("flow", 1, "cfm")
    assert units.from_stored("flow", stored, "m3/h") == pytest.approx(1.69901082, rel=1e-6)


def test_acre_foot_agrees_with_the_check_row():
    # Check row lake-008: 1 acre-foot is 1233.48184 m3 or 325851.43 US gallons (NIST SP 811).
    stored = units.to_stored("volume", 1, "acre-ft")
    assert stored == pytest.approx(1233.48184, rel=1e-6)
    assert units.from_stored("volume", stored, "US gal") == pytest.approx(325_851.43, rel=1e-6)


def test_acre_is_43560_square_feet():
    assert units.to_stored("area", 1, "ac") == pytest.approx(43_560 * 0.3048**2)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (68, 20)])
def test_fahrenheit_meets_celsius_at_its_fixed_points(fahrenheit, celsius):
    # NIST SP 811, appendix B.8: t/degC = (t/degF - 32)/1.8
    assert units.to_stored("water_temperature", fahrenheit, "F") == pytest.approx(celsius)


def test_a_rise_in_temperature_has_no_offset():
    assert units.to_stored("temperature_rise", 18, "F") == pytest.approx(10)


@pytest.mark.parametrize("quantity", list(Quantity))
def test_what_is_typed_comes_back_in_every_unit(quantity):
    for unit in units.offered(quantity):
        stored = units.to_stored(quantity, 3.7, unit)
        assert units.from_stored(quantity, stored, unit) == pytest.approx(3.7)


def test_unit_of_another_quantity_is_refused_with_the_right_ones():
    with pytest.raises(ValueError, match=r"cfm does not measure pressure\. Choose one of: psi"):
        units.to_stored("pressure", 6, "cfm")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("6.5", 6.5),
        (" 6,5 ", 6.5),
        ("1 250", 1250),
        ("12,345.5", 12345.5),
        ("12.345,5", 12345.5),
        ("1,234,567", 1234567),
        ("1'234.5", 1234.5),
        ("0,125", 0.125),
        ("-0.3", -0.3),
        (".5", 0.5),
    ],
)
def test_number_is_read_as_people_write_it(text, number):
    assert units.typed_number(text) == number


@pytest.mark.parametrize(
    "text", ["", "six", "1.2.3", "nan", "inf", "1e5", "1,250", "6.5 psi", "6 4", "1,25.5", "-", "."]
)
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(ValueError, match=r"Write"):
        units.typed_number(text)


def test_reader_sees_his_own_units():
    assert units.shown("pressure", 44_816, "us") == "6.5\u00a0psi"
    assert units.shown("pressure", 44_816, "metric") == "44.8\u00a0kPa"
    assert units.shown("bubbles", 3, "us") == "3"
    assert units.shown("level", -0.001, "metric") == "0.00\u00a0m"
