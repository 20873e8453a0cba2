"""Air, airlines, diffusers and operating points by name.

Check rows: air, airline, diffuser and operating_point in tests/reference; each row names its own
source, and with it its friction law and the condition at which its free air is counted.
"""

import json
import math
import re
from pathlib import Path

import pytest

from servicedesk.planning.calculations import CalculationRefused, calculated, found, slug

AREAS = ("air", "airline", "diffuser", "operating_point")
REFERENCE = Path(__file__).parents[2] / "reference"
ROWS = [
    row for area in AREAS for row in json.loads((REFERENCE / f"{area}.json").read_text())["rows"]
]
GATES = [row for row in ROWS if row["kind"] in {"published", "library"}]
HABITS = [row for row in ROWS if row["kind"] == "common_practice"]


def row_id(row):
    return row["id"]


def near(expected, got, tolerance):
    if isinstance(expected, dict):
        return expected.keys() == got.keys() and all(
            near(expected[key], got[key], tolerance) for key in expected
        )
    if isinstance(expected, list):
        return len(expected) == len(got) and all(
            near(*pair, tolerance) for pair in zip(expected, got, strict=True)
        )
    if tolerance == "exact" or isinstance(expected, str | bool | None):
        return expected == got
    allowed = max(tolerance.get("abs", 0), tolerance.get("rel", 0) * abs(expected))
    return abs(expected - got) <= allowed


@pytest.mark.parametrize("named", [str, slug, lambda quantity: found(quantity)[0].name])
@pytest.mark.parametrize("row", GATES, ids=row_id)
def test_check_row_passes_by_its_quantity_and_by_the_calculations_name(row, named):
    held = found(row["quantity"])[1] if named not in (str, slug) else {}

    got = calculated(named(row["quantity"]), {**held, **row["inputs"]})

    assert near(row["expected"], json.loads(json.dumps(got)), row["tolerance"]), got


def test_no_gate_row_is_missing():
    assert len(GATES) > 80


@pytest.mark.parametrize("row", HABITS, ids=row_id)
def test_habit_of_the_trade_is_given_and_said_to_have_no_source(row):
    calculation, _ = found(row["quantity"])

    assert calculated(row["quantity"], row["inputs"]) == row["expected"]
    assert "common practice, no source" in calculation.described()["source"]


VARIATIONS = [
    # a row's own words with other numbers in them, and the figure by hand
    ("100 scfm free air at 50 psig: line volume at 60 degF", {}, 100 * 14.696 / 64.696),
    ("20 scfm free air at 7.5 psig: line volume at 60 degF", {}, 20 * 14.696 / 22.196),
    ("100 scfm free air at 100 psig: line volume at 60 degF", {"gauge_psi": 0}, 100),
    ("plain conversion 3.5 cfm (same conditions)", {}, 3.5 * 1.699010796),
    (
        "standard cubic feet: 2 scfm at 68 degF 14.696 psia in m3/h at 20 degC 101325 Pa",
        {},
        2 * 1.699010796,
    ),
    (
        "standard cubic feet: 1 scfm at 68 degF 14.504 psia in m3/h at 0 degC 100000 Pa",
        {},
        1.699010796 * 273.15 / 293.15,
    ),
    (
        "pressure drop of air per 100 ft of schedule 40 steel pipe at 100 psig, 60 degF",
        {"nominal_pipe_in": "1/2", "free_air_scfm": 20},
        1.43,
    ),
    ("standard atmosphere pressure at an altitude in feet", {"altitude_ft": 0}, 14.6959),
    ("rule of thumb: introducing a new or restarted system", {"first_day_min": 720}, [720, 1440]),
]


@pytest.mark.parametrize("named", [str, slug], ids=["quantity", "slug"])
@pytest.mark.parametrize(("quantity", "inputs", "expected"), VARIATIONS)
def test_other_numbers_in_the_words_are_calculated_with(quantity, inputs, expected, named):
    got = calculated(named(quantity), inputs)

    assert near(expected, got, {"rel": 0.02 if "pressure drop" in quantity else 2e-4}), got


def test_lower_inlet_pressure_in_the_words_costs_more():
    """Loss goes with the square of the flow over the density: textbook; three times at a third."""
    words = "pressure drop of air per {} ft of schedule 40 steel pipe at {} psig, 60 degF"
    inputs = {"nominal_pipe_in": "1", "free_air_scfm": 50}

    at_100, at_20, half = (
        calculated(words.format(*numbers), inputs) for numbers in ((100, 100), (100, 20), (50, 20))
    )

    assert at_20 / at_100 == pytest.approx(114.7 / 34.7, rel=0.05)
    assert half == pytest.approx(at_20 / 2, rel=0.05)


def test_operating_point_takes_any_number_of_lines_a_leak_a_relief_valve_and_a_law():
    row = next(row for row in ROWS if row["id"] == "operating_point-003")
    eight = row["inputs"]["lines"] * 2 + row["inputs"]["lines"][:2]

    for extra in ({}, {"leak_c": 0.5}, {"law": "churchill"}, {"atmospheric_Pa": 84_556}):
        got = calculated("operating_point", {**row["inputs"], "lines": eight, **extra})
        used = math.fsum(got["line_flow_m3_h"]) + got["leak_m3_h"]

        assert got.keys() == row["expected"].keys()
        assert len(got["line_flow_m3_h"]) == 8
        assert used == pytest.approx(got["compressor_fad_m3_h"])

    relieved = calculated("operating_point", {**row["inputs"], "relief_kPa": 30})
    assert relieved["manifold_gauge_kPa"] == pytest.approx(30)
    assert relieved["relief_m3_h"] > 1


def test_closed_form_holds_for_another_curve_and_three_lines():
    # 9 - 0.1 p = (p - 20)/4 + (p - 30)/5 + (p - 30)/10 -> 23 = 0.65 p, by hand
    got = calculated(
        "closed-form check: frictionless lines, linear curve",
        {
            "curve": "FAD = 9 - 0.1*p_kPa",
            "lines": "three lines with q_i = (p - s_i)/r_i",
            "s_kPa": [20, 30, 30],
            "r_kPa_per_m3h": [4, 5, 10],
        },
    )

    pressure = 23 / 0.65
    flows = [(pressure - 20) / 4, (pressure - 30) / 5, (pressure - 30) / 10]
    assert near({"p_kPa": pressure, "q": flows}, got, {"abs": 1e-6})


def test_valve_settings_put_back_into_the_lines_share_as_wanted():
    row = next(row for row in ROWS if row["id"] == "operating_point-002")
    inputs = row["inputs"] | {"law": "churchill"}

    balance = calculated("valve_settings", inputs | {"wanted_m3_h": [2, 2, 1]})
    lines = [
        line | {"kv": setting["kv"]}
        for line, setting in zip(inputs["lines"], balance["lines"], strict=True)
    ]
    got = calculated("operating_point", inputs | {"lines": lines})

    first, second, third = got["line_flow_m3_h"]
    assert first == pytest.approx(second, rel=1e-3)
    assert third == pytest.approx(first / 2, rel=1e-3)


def test_loss_is_given_by_the_law_that_is_asked_for():
    # Check row airline-055: Churchill is 24 % below Colebrook at Reynolds number 2500.
    row = next(row for row in ROWS if row["id"] == "airline-023")

    churchill = calculated(row["quantity"], row["inputs"] | {"law": "churchill"})

    assert churchill == pytest.approx(row["expected"] * 0.0351525851 / 0.0462, rel=0.03)


@pytest.mark.parametrize(
    ("name", "inputs", "says"),
    [
        ("operating_point", {"lines": [], "compressor_curve_kPa_m3h": [[0]]}, "pairs of kPa"),
        ("operating_point", {"lines": [5], "compressor_curve_kPa_m3h": [[0, 4]]}, "list of obj"),
        (
            "operating_point",
            {"lines": [{"id_mm": 12.7}], "compressor_curve_kPa_m3h": [[0, 4]]},
            "Line 1 needs length_m",
        ),
        (
            "operating_point",
            {
                "lines": [{"length_m": 60, "id_mm": 0.0127, "depth_m": 3}],
                "compressor_curve_kPa_m3h": [[0, 4]],
            },
            "12.7 mm are 0.0127",
        ),
        (
            "operating_point",
            {
                "lines": [{"length_m": 60, "id_mm": 12.7, "depth_m": 3, "bends": 2}],
                "compressor_curve_kPa_m3h": [[0, 4]],
            },
            "takes no 'bends'",
        ),
        ("linear_operating_point", {"curve": "6", "s_kPa": [1], "r_kPa_per_m3h": [1]}, "FAD = 6"),
        ("membrane_units", {"mbar": 40, "psi": 1}, "once"),
        ("fouling_rise_mbar", {"setting": "pond"}, "Only municipal basins"),
        ("steel_pipe_loss_psi", {"free_air_scfm": 2}, "inside_diameter_in, or nominal"),
        ("standard_atmosphere", {"altitude_m": 99_999}, "Give metres between"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(name, inputs, says):
    with pytest.raises(CalculationRefused, match=re.escape(says)):
        calculated(name, inputs)


@pytest.mark.parametrize("name", ["airline_loss_psi", "rotameter_cfm", "energy_cost"])
def test_field_calculators_work_in_the_units_of_a_tape_and_a_gauge(name):
    asked = {
        "airline_loss_psi": (
            {
                "free_air_cfm": 3 / 1.699010796,
                "inside_diameter_in": 0.5,
                "length_ft": 150 / 0.3048,
                "inlet_psi": 6.9363,  # 40 kPa and the loss itself
                "law": "colebrook",
            },
            7824.04198 / 6894.757,  # check row airline-029
        ),
        "rotameter_cfm": ({"shown_cfm": 2, "gauge_psi": 7}, 2 * (21.696 / 14.696) ** 0.5),
        "energy_cost": ({"power_w": 400, "hours": 720, "price_per_kwh": 0.15}, 43.2),
    }
    inputs, expected = asked[name]

    assert calculated(name, inputs) == pytest.approx(expected, rel=0.03)


def test_compressor_at_a_site_delivers_draws_and_heats_as_the_check_rows_have_it():
    # Rows air-035, -036 (library CoolProp) at sea level; air-014 (CoolProp) at 1500 m and 35 degC.
    level = {"compressor_curve_kPa_m3h": [[0, 5], [100, 5]], "gauge_pressure_kPa": 45}

    low = calculated("compressor_at_pressure", level | {"efficiency": 1})
    high = calculated("compressor_at_pressure", level | {"altitude_m": 1500, "inlet_C": 35})

    assert low["free_air_m3_h"] == pytest.approx(5)
    assert low["power_W"] == pytest.approx(54.5370916, rel=0.005)
    assert low["discharge_C"] == pytest.approx(52.4630888, abs=0.6)
    assert high["mass_ratio"] == pytest.approx(0.793778821, rel=0.003)
    assert high["free_air_m3_h"] == pytest.approx(5 * 293.15 / 308.15, rel=1e-6)


def test_typed_text_of_a_form_is_read_as_its_curve_and_its_lines():
    row = next(row for row in GATES if row["id"] == "operating_point-003")
    typed = {key: json.dumps(value) for key, value in row["inputs"].items()}

    assert near(row["expected"], calculated("operating_point", typed), row["tolerance"])
