"""Friction and pressure loss of airlines, against a library, tables and their own nature.

tests/reference/airline_library.json says how the library's figures were made; the published and
library rows of tests/reference/airline.json run in tests/servicedesk/planning/test_air_rows.py.
"""

import json
import math
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from equipment.physics import airline
from equipment.physics.airline import CHURCHILL, COLEBROOK, friction_factor, line_loss_pa

LIBRARY = json.loads((Path(__file__).parents[2] / "reference" / "airline_library.json").read_text())
laws = st.sampled_from([CHURCHILL, COLEBROOK])
flows = st.floats(0.5, 300)
bores = st.floats(0.006, 0.05)
lengths = st.floats(1, 500)


@pytest.mark.parametrize("law", [CHURCHILL, COLEBROOK])
def test_friction_agrees_with_a_library_in_every_regime(law):
    wrong = [
        row
        for row in LIBRARY["friction"]
        if friction_factor(row["reynolds"], row["relative_roughness"], law)
        != pytest.approx(row[law], rel=1e-8)
    ]

    assert len(LIBRARY["friction"]) == 44
    assert wrong == []


@pytest.mark.parametrize("row", LIBRARY["lines"], ids=lambda row: f"{row['flow_l_min']}")
def test_pressure_along_a_line_agrees_with_a_library_from_either_end(row):
    line = {"length_m": row["length_m"], "bore_m": row["bore_m"]}
    line["temperature_c"] = row["temperature_c"]
    mass = airline.mass_flow_kg_s(row["flow_l_min"])

    inlet = airline.inlet_pressure_pa(mass, outlet_pa=row["outlet_pa"], **line)
    outlet = airline.outlet_pressure_pa(mass, inlet_pa=row["inlet_pa"], **line)

    assert mass == pytest.approx(row["mass_kg_s"], rel=1e-8)
    assert inlet == pytest.approx(row["inlet_pa"], rel=1e-8)
    assert outlet == pytest.approx(row["outlet_pa"], rel=1e-8)


@given(st.floats(1e-3, 1e7), st.floats(0, 0.05))
def test_smooth_law_of_friction_never_jumps(reynolds, roughness):
    here = friction_factor(reynolds, roughness)
    beside = friction_factor(reynolds * (1 + 1e-7), roughness)

    assert beside == pytest.approx(here, rel=1e-5)


def test_law_on_request_jumps_where_it_says():
    below, above = (friction_factor(re, 0, COLEBROOK) for re in (2039.9, 2040.1))

    assert above / below > 1.5


@given(laws, flows, st.floats(1.001, 3), lengths, bores, st.floats(0, 150_000))
def test_more_air_through_a_line_never_costs_less(law, flow, factor, length, bore, outlet):
    ends = {"outlet_gauge_pa": outlet, "law": law}

    less = line_loss_pa(flow, length, bore, **ends)
    more = line_loss_pa(flow * factor, length, bore, **ends)

    assert 0 < less < more


@given(laws, flows, lengths, st.floats(1.001, 10), bores, st.floats(0, 150_000))
def test_longer_line_never_costs_less_and_a_wider_one_never_more(
    law, flow, length, factor, bore, outlet
):
    ends = {"outlet_gauge_pa": outlet, "law": law}
    loss = line_loss_pa(flow, length, bore, **ends)

    assert loss < line_loss_pa(flow, length * factor, bore, **ends)
    if law == CHURCHILL:
        assert loss > line_loss_pa(flow, length, bore * 1.1, **ends)


@given(laws, flows, lengths, bores, st.floats(0, 150_000), st.floats(60_000, 105_000))
def test_loss_is_the_same_asked_from_either_end(law, flow, length, bore, outlet, air_pa):
    out_m_s = flow / 60_000 / (math.pi * bore**2 / 4) * 101_325 / (air_pa + outlet)
    assume(out_m_s < 250)  # beyond the speed of sound one inlet fits every lower outlet
    site = {"air_pa": air_pa, "law": law}
    loss = line_loss_pa(flow, length, bore, outlet_gauge_pa=outlet, **site)

    back = line_loss_pa(flow, length, bore, inlet_gauge_pa=outlet + loss, **site)

    assert back == pytest.approx(loss, rel=1e-6, abs=1e-4)


def test_no_air_or_no_line_loses_nothing():
    assert line_loss_pa(0, 100, 0.0127, outlet_gauge_pa=40_000) == 0
    assert line_loss_pa(50, 0, 0.0127, inlet_gauge_pa=40_000) == 0


def test_line_that_cannot_carry_the_air_says_so_from_its_inlet_and_needs_much_from_its_outlet():
    with pytest.raises(ValueError, match="wider bore"):
        line_loss_pa(500, 300, 0.006, inlet_gauge_pa=40_000)

    assert 300_000 < line_loss_pa(500, 300, 0.006, outlet_gauge_pa=40_000) < math.inf


@pytest.mark.parametrize("length", [1e-308, 1e-9, 1.0])
def test_shortest_line_of_all_has_an_answer_at_the_speed_of_sound(length):
    assert 0 <= line_loss_pa(300, length, 0.004, outlet_gauge_pa=0) < 1e6


def test_rough_formula_is_of_the_same_size_as_the_law():
    # Check rows airline-041 and -042 give the published formula; within 35 percent of Darcy.
    for flow_m3_h, bore, gauge in ((5, 0.0127, 45_000), (8, 0.015875, 50_000)):
        flow = flow_m3_h * 1000 / 60
        darcy = line_loss_pa(flow, 100, bore, inlet_gauge_pa=gauge, law=COLEBROOK)

        assert airline.empirical_loss_pa(flow, 100, bore, gauge) == pytest.approx(darcy, rel=0.35)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"bore_m": 12.7}, "12.7 mm are 0.0127 m"),
        ({"length_m": -1}, "length"),
        ({"flow_l_min": float("nan")}, "flow"),
        ({"roughness_m": 0.0015}, "0.0015 mm are 0.0000015 m"),
        ({"temperature_c": 528}, "degrees Celsius"),
        ({"outlet_gauge_pa": None}, "one end"),
        ({"inlet_gauge_pa": 50_000}, "one end"),
        ({"law": "fanning"}, "churchill or colebrook"),
    ],
)
def test_wrong_unit_or_law_is_refused_with_what_to_do(given, says):
    right = {"flow_l_min": 50, "length_m": 50, "bore_m": 0.0127, "outlet_gauge_pa": 40_000}

    with pytest.raises(ValueError, match=says):
        line_loss_pa(**right | given)


@pytest.mark.parametrize(("reynolds", "roughness"), [(0, 0), (-5, 0), (1000, 1.5), (1000, -0.1)])
def test_friction_of_nonsense_is_refused(reynolds, roughness):
    with pytest.raises(ValueError, match="Give"):
        friction_factor(reynolds, roughness)
