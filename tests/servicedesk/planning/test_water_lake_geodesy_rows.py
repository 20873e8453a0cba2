"""Water, lake and distance rows by name; each row of tests/reference/ names its own source."""

import pytest

from servicedesk.planning.calculations import CalculationRefused, calculated, slug
from tests.checks import agrees, rows

ROWS = [row for area in ("water", "lake", "geodesy") for row in rows(area)]


@pytest.mark.parametrize("named", [str, slug], ids=["quantity", "slug"])
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_row_passes_by_its_quantity(row, named):
    got = calculated(named(row["quantity"]), row["inputs"])

    assert agrees(row["expected"], got, row["tolerance"])


VARIED = [  # the same quantities with other numbers, and figures that are published or plain
    ("density of air-free fresh water at 101325 Pa", {"temperature_C": 35}, 994.03, 0.03),
    (
        "hydrostatic gauge pressure at depth, fresh water",
        {"depth": 20, "depth_unit": "ft"},
        8.67,
        0.01,
    ),
    # USGS tables of oxygen, technical memorandum 2011.03: 25 degC
    (
        "dissolved oxygen at saturation at a station pressure",
        {"temperature_C": 25, "station_pressure_mmHg": 760},
        8.263,
        0.005,
    ),
    ("oxygen solubility check point at salinity 0, 10 degC", {}, 352.6, 0.5),
    ("pond volume, cone", {"radius_m": 3, "depth_m": 1}, 9.42478, 1e-4),
    (
        "pond volume from an area-depth table, frustum rule",
        {"depth_m": [0, 3], "area_m2": [4, 1]},
        7,
        1e-9,
    ),
    ("acre-feet to cubic metres and US gallons", {"acre_ft": 0}, {"m3": 0, "US_gal": 0}, 0),
    (
        "metalimnion top and bottom, same profile, slope 5 kg/m3/m",
        {"depth_m": [0, 1, 2, 3], "temperature_C": [20, 19, 10, 9]},
        None,
        0,
    ),
    ("warmwater 1-day minimum, early life stages", {}, 5, 0),
    ("coldwater 7-day mean minimum, other life stages", {}, 5, 0),
    ("geodesic from anywhere to itself, GRS80", {"lat1": 1, "lon1": 2, "lat2": 1, "lon2": 2}, 0, 0),
    ("azimuths of any line", {"lat1": 0, "lon1": 0, "lat2": 0, "lon2": 1}, [90, 270], 1e-9),
    ("rule of thumb: band of operating pressure for a 20 ft pond", {}, [10, 12], 0),
]


@pytest.mark.parametrize(("quantity", "inputs", "expected", "allowed"), VARIED)
def test_same_quantity_with_other_numbers_is_found(quantity, inputs, expected, allowed):
    assert agrees(expected, calculated(quantity, inputs), {"abs": allowed})


def test_a_published_line_with_other_ends_is_measured_between_those_ends():
    ends = {"lat1": 0, "lon1": 0, "lat2": 0, "lon2": 1}
    by_name = calculated("Vincenty test line Flinders Peak to Buninyong, GRS80", ends)

    assert by_name == calculated("geodesic_m", {**ends, "ellipsoid": "GRS80"})


def test_typed_tables_and_decimal_commas_are_read():
    typed = {"depth_m": "0; 1,5; 3", "area_m2": "[4000, 3000, 1000]"}

    assert calculated("table_volume_m3", typed) == 1.5 * 3500 + 1.5 * 2000


REFUSED = [
    ("oxygen_saturation_mg_l", {"temperature_C": 20, "altitude_m": 9500}, "altitude of a pond"),
    (
        "oxygen_saturation_mg_l",
        {"temperature_C": 20, "altitude_m": 1500, "station_pressure_mmHg": 762},
        "sea level",
    ),
    (
        "oxygen_saturation_mg_l",
        {"temperature_C": 20, "pressure_atm": 1, "pressure_kPa": 101},
        "once",
    ),
    ("percent oxygen saturation", {"do_mg_L": 99, "temperature_C": 20}, "between 0 and 40"),
    ("Schmidt stability", {"depth_m": [0, 1], "temperature_C": [4, 4]}, "give the areas"),
    ("thermocline depth", {"depth_m": [0, "x"], "temperature_C": [4, 4]}, "numbers such as"),
    ("thermocline depth", {"depth_m": [0, float("nan")], "temperature_C": [4, 4]}, "numbers"),
    ("azimuths of a line that nobody knows", {}, "give lat1"),
    ("coldwater 30-day mean, early life stages", {}, "no figure"),
    ("depth_pressure", {"depth": 3, "depth_unit": "fathom"}, "m or ft"),
]


@pytest.mark.parametrize(("name", "inputs", "words"), REFUSED)
def test_what_makes_no_sense_is_refused_with_a_sentence(name, inputs, words):
    with pytest.raises(CalculationRefused, match=words):
        calculated(name, inputs)
