"""Doubts at a handing over: each speaks from its limit on, and is silent for usual ponds."""

from datetime import date, timedelta

import pytest

from equipment.kinds import CheckValvePlace, CompressorKind
from servicedesk.planning import commissioning as doubts

FOOT_M, INCH_M, PSI_PA, CFM_L_MIN = 0.3048, 0.0254, 6894.757, 28.316847
INSTALLED = date(2026, 5, 4)


def test_usual_system_raises_no_doubt():
    found = [
        *doubts.cabinet_doubts(0.9),
        *doubts.schedule_doubts(24),
        *doubts.pond_doubts(4000, 3.6, 1.9),
        *doubts.compressor_doubts(CompressorKind.PISTON, 20 * PSI_PA),
        *doubts.depth_doubts(3.6, CompressorKind.PISTON, 20 * PSI_PA),
        *doubts.line_doubts(3.6, 60, 5 / 8 * INCH_M, 50, CheckValvePlace.DIFFUSER),
        *doubts.valve_doubts([100, 20]),
        *doubts.gauge_doubts(15 * PSI_PA, 6 * PSI_PA),
        *doubts.relief_doubts(12 * PSI_PA, 6 * PSI_PA, 20 * PSI_PA),
        *doubts.burial_doubts(0.3),
        *doubts.locate_doubts(INSTALLED - timedelta(days=4), INSTALLED),
        *doubts.gap_doubts(INSTALLED, INSTALLED + timedelta(days=12)),
    ]

    assert found == []


def test_nothing_known_raises_no_doubt():
    assert doubts.cabinet_doubts(None) == doubts.schedule_doubts(None) == []
    assert doubts.pond_doubts(None, None, None) == doubts.burial_doubts(None) == []
    assert doubts.compressor_doubts("piston", None) == doubts.valve_doubts([]) == []
    assert doubts.line_doubts(None, None, None, None, "") == []
    assert doubts.gauge_doubts(None, 1) == doubts.relief_doubts(None, 1, 1) == []
    assert doubts.locate_doubts(None, INSTALLED) == []


@pytest.mark.parametrize(("height_m", "asks"), [(0.59, True), (0.6, False), (-0.2, True)])
def test_cabinet_is_asked_about_below_two_feet_over_high_water(height_m, asks):
    found = doubts.cabinet_doubts(height_m)

    assert bool(found) == asks
    assert all("inspector decide" in says for says in found)


@pytest.mark.parametrize(
    ("bore_in", "cfm", "psi_per_100_ft"),
    [(3 / 8, 2, 1.10), (1 / 2, 3, 0.57), (5 / 8, 3, 0.20)],
)
def test_friction_is_asked_about_from_one_psi_on(bore_in, cfm, psi_per_100_ft):
    """Loss of 100 ft of smooth tube at 20 degC and 7 psi, as a table of the trade has it; within
    a fifth of it the question must come and go."""

    def asks(times):
        length_m = 100 * FOOT_M / psi_per_100_ft * times
        return doubts.line_doubts(4.9, length_m, bore_in * INCH_M, cfm * CFM_L_MIN, "diffuser")

    assert asks(0.8) == []
    assert "Friction alone costs" in asks(1.2)[0]


def test_line_that_no_pressure_could_push_through_is_asked_about():
    assert "Friction alone" in doubts.line_doubts(3, 2000, 0.003, 1000, "diffuser")[0]


def test_water_pressure_over_the_rated_one_is_asked_about():
    """2.31 ft of water are 1 psi: 12 ft ask for 5.2 psi."""
    assert doubts.depth_doubts(12 * FOOT_M, CompressorKind.LINEAR, 5.3 * PSI_PA) != []
    assert "5.2\xa0psi" in doubts.depth_doubts(12 * FOOT_M, "vane", 5.0 * PSI_PA)[0]
    assert doubts.depth_doubts(12 * FOOT_M, "vane", 5.3 * PSI_PA) == []


@pytest.mark.parametrize(("kind", "usable_m"), list(doubts.USABLE_DEPTH_M.items()))
def test_depth_is_asked_about_beyond_what_a_kind_is_made_for(kind, usable_m):
    assert doubts.depth_doubts(usable_m, kind, None) == []
    assert kind in doubts.depth_doubts(usable_m + 0.1, kind, None)[0]


def test_gauge_that_cannot_show_a_slow_rise_is_asked_about():
    assert doubts.gauge_doubts(30 * PSI_PA, 6 * PSI_PA) != []
    assert doubts.gauge_doubts(18 * PSI_PA, 6 * PSI_PA) == []


def test_relief_valve_is_asked_about_at_both_ends():
    late = doubts.relief_doubts(25 * PSI_PA, 6 * PSI_PA, 20 * PSI_PA)
    early = doubts.relief_doubts(6.5 * PSI_PA, 6 * PSI_PA, 20 * PSI_PA)

    assert "not protect" in late[0]
    assert "would blow" in early[0]


@pytest.mark.parametrize(
    ("found", "asks"),
    [
        (doubts.schedule_doubts(3.9), True),
        (doubts.pond_doubts(150, 3, 1.5), True),
        (doubts.pond_doubts(120_000, 3, 1.5), True),
        (doubts.pond_doubts(4000, 12.5, 6), True),
        (doubts.pond_doubts(4000, 4, 0.9), True),
        (doubts.compressor_doubts("linear", 20 * PSI_PA), True),
        (doubts.valve_doubts([29, 10]), True),
        (doubts.line_doubts(3, 2, None, None, ""), True),
        (doubts.line_doubts(3, 20, None, None, "none"), True),
        (doubts.burial_doubts(0.19), True),
        (doubts.locate_doubts(INSTALLED + timedelta(days=1), INSTALLED), True),
        (doubts.locate_doubts(INSTALLED - timedelta(days=22), INSTALLED), True),
        (doubts.locate_doubts(INSTALLED - timedelta(days=21), INSTALLED), False),
        (doubts.gap_doubts(INSTALLED, INSTALLED + timedelta(days=61)), True),
        (doubts.gap_doubts(INSTALLED, INSTALLED + timedelta(days=60)), False),
    ],
)
def test_what_is_out_of_the_usual_is_asked_about(found, asks):
    assert bool(found) == asks
