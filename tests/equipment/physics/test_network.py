"""Where a compressor and its lines agree, whatever the lines are, and how valves share the air.

The published and library rows of tests/reference/operating_point.json run in
tests/servicedesk/planning/test_air_rows.py with the law they name.
"""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.physics import units
from equipment.physics.airline import CHURCHILL, COLEBROOK
from equipment.physics.compressor import Curve, typical_curve
from equipment.physics.network import Line, operating_point, valve_settings

SEA = 101_325.0
PSI = units.to_stored("pressure", 1, "psi")
FT = units.to_stored("length", 1, "ft")
CFM = units.to_stored("flow", 1, "cfm")
CURVE = Curve(((0, 150), (40_000, 130), (80_000, 95), (120_000, 40)))


def a_line(label="D1", depth_m=3.0, **given):
    return Line(label, depth_m, **{"length_m": 60.0, "bore_m": 0.0127} | given)


unhurried = settings(deadline=None)  # the machine may be busy

some_lines = st.builds(
    Line,
    label=st.just("D"),
    depth_m=st.floats(0, 20),
    length_m=st.one_of(st.just(0.0), st.floats(0, 600)),
    bore_m=st.floats(0.003, 0.05),
    membranes=st.integers(1, 6),
    opening_pa=st.floats(0, 10_000),
    slope_pa_per_l_min=st.one_of(st.just(0.0), st.floats(0, 300)),
    check_valve_pa=st.floats(0, 4000),
    valve_pa_per_l_min2=st.one_of(st.just(0.0), st.floats(0, 1e4), st.just(1e12)),
    in_use=st.booleans(),
)
systems = st.lists(some_lines, min_size=1, max_size=24)


@st.composite
def curves(draw):
    steps = draw(st.lists(st.tuples(st.floats(1, 60_000), st.floats(0, 1)), max_size=6))
    points = [(0.0, draw(st.floats(0, 400)))]
    for rise, left in steps:
        points.append((points[-1][0] + rise, points[-1][1] * left))
    return Curve(tuple(points))


@unhurried
@given(
    curves(),
    systems,
    st.floats(0, 2),
    st.floats(50_000, 105_000),
    st.sampled_from([CHURCHILL, COLEBROOK]),
    st.none() | st.floats(100, 200_000),
)
def test_air_balances_in_any_system(curve, lines, leak, air_pa, law, relief):
    found = operating_point(
        curve, lines, air_pa=air_pa, leak_l_min_per_sqrt_pa=leak, law=law, relief_pa=relief
    )

    most = curve.points[0][1]
    used = math.fsum(line.flow_l_min_local for line in found.lines)
    used += found.leak_l_min_local + found.relief_l_min_local
    given_off = curve.delivered_l_min_local(found.manifold_pa)
    assert found.delivered_l_min_local == pytest.approx(used, rel=1e-9)
    assert used <= given_off + 1e-6 * most + 1e-6
    assert found.dead_head or used == pytest.approx(given_off, abs=1e-6 * most + 1e-6)
    assert 0 <= found.manifold_pa <= curve.pressure_max_pa
    assert relief is None or found.manifold_pa <= relief
    assert all(line.flow_l_min_local >= 0 for line in found.lines)


@unhurried
@given(curves(), systems, st.floats(50_000, 105_000))
def test_what_a_flowing_line_takes_adds_up_to_the_manifolds_pressure(curve, lines, air_pa):
    found = operating_point(curve, lines, air_pa=air_pa)

    for line in found.lines:
        if line.flow_l_min_local > 1e-3:
            parts = (line.water_pa, line.line_pa, line.membrane_pa, line.check_valve_pa)
            assert math.fsum((*parts, line.valve_pa)) == pytest.approx(
                found.manifold_pa, rel=1e-4, abs=1
            )


@unhurried
@given(curves(), systems, st.floats(0, 0.3), st.floats(0.001, 0.5))
def test_leak_never_raises_the_pressure_nor_any_lines_flow(curve, lines, leak, more):
    before = operating_point(curve, lines, air_pa=SEA, leak_l_min_per_sqrt_pa=leak)
    after = operating_point(curve, lines, air_pa=SEA, leak_l_min_per_sqrt_pa=leak + more)

    assert after.manifold_pa <= before.manifold_pa + 1e-3
    for one, other in zip(before.lines, after.lines, strict=True):
        assert other.flow_l_min_local <= one.flow_l_min_local + 1e-3


@unhurried
@given(systems, st.floats(0.3, 3))
def test_deeper_water_over_every_plate_never_lowers_the_pressure(lines, deeper):
    lower = [replace(line, depth_m=line.depth_m + deeper) for line in lines]

    before, after = (operating_point(CURVE, these, air_pa=SEA) for these in (lines, lower))

    assert after.manifold_pa >= before.manifold_pa - 1e-3


def test_fouled_membrane_raises_its_pressure_and_sends_air_to_its_neighbours():
    clean = [a_line(str(n), 3 + n / 10) for n in range(3)]
    fouled = [replace(clean[0], opening_pa=clean[0].opening_pa + 4000), *clean[1:]]

    before, after = (operating_point(CURVE, lines, air_pa=SEA) for lines in (clean, fouled))

    changes = [
        new.flow_l_min_local - old.flow_l_min_local
        for old, new in zip(before.lines, after.lines, strict=True)
    ]
    assert after.manifold_pa > before.manifold_pa
    assert changes[0] < 0 < min(changes[1:])


def test_line_that_is_too_deep_gets_no_air_and_is_told_what_it_would_take():
    found = operating_point(CURVE, [a_line("shallow", 1), a_line("deep", 9)], air_pa=SEA)

    shallow, deep = found.lines
    assert shallow.flow_l_min_local > 100
    assert (deep.flow_l_min_local, deep.line_pa, deep.valve_pa) == (0, 0, 0)
    assert deep.water_pa + deep.membrane_pa > found.manifold_pa


def test_lines_that_are_all_too_deep_leave_the_compressor_against_a_dead_head():
    found = operating_point(CURVE, [a_line("A", 15), a_line("B", 20)], air_pa=SEA)

    assert found.manifold_pa == 120_000
    assert found.delivered_l_min_local == 0
    assert found.dead_head


def test_curve_that_does_not_fall_meets_its_line_where_the_line_takes_that_air():
    flat = Curve(((0.0, 100.0), (80_000.0, 100.0)), "invented")
    nearly = Curve(((0.0, 100.0), (80_000.0, 99.99)), "invented")
    line = Line("D1", depth_m=3.0, length_m=30, bore_m=0.0127, opening_pa=3000)

    at_flat, at_nearly = (operating_point(c, [line], air_pa=101_325) for c in (flat, nearly))

    assert at_flat.manifold_pa == pytest.approx(at_nearly.manifold_pa, rel=1e-4)
    assert not at_flat.dead_head


def test_relief_valve_lets_off_what_the_lines_cannot_take():
    found = operating_point(CURVE, [a_line("A", 15)], air_pa=SEA, relief_pa=80_000)

    assert (found.manifold_pa, found.relief_l_min_local) == (80_000, 95)
    assert not found.dead_head


def test_relief_valve_above_the_working_pressure_changes_nothing():
    lines = [a_line(), a_line("D2", 3.5)]

    without, having = (
        operating_point(CURVE, lines, air_pa=SEA, relief_pa=relief) for relief in (None, 90_000)
    )

    assert having.manifold_pa == pytest.approx(without.manifold_pa, abs=1e-4)
    assert having.relief_l_min_local == 0


def test_shut_line_and_no_line_at_all_are_answers():
    shut = operating_point(CURVE, [a_line(), a_line("D2", 2, in_use=False)], air_pa=SEA)
    alone = operating_point(CURVE, [a_line()], air_pa=SEA)
    none = operating_point(CURVE, [], air_pa=SEA)

    assert shut.lines[1].flow_l_min_local == 0
    assert shut.manifold_pa == pytest.approx(alone.manifold_pa, abs=1e-3)
    assert none.dead_head


def test_membranes_without_any_line_share_alike_though_nothing_resists():
    bare = {"length_m": 0, "slope_pa_per_l_min": 0}

    found = operating_point(CURVE, [a_line("A", **bare), a_line("B", **bare)], air_pa=SEA)

    one, other = (line.flow_l_min_local for line in found.lines)
    assert one == pytest.approx(other)
    assert one + other == pytest.approx(CURVE.delivered_l_min_local(found.manifold_pa))


@pytest.mark.parametrize("membranes", [1, 2])
@pytest.mark.parametrize("cfm", [1.5, 2.5, 3.5])
@pytest.mark.parametrize("length_ft", [50, 100, 200])
def test_pond_of_12_ft_reads_6_to_8_psi(length_ft, cfm, membranes):
    """Common practice, no source: the physics comes to the same."""
    line = Line("D1", 12 * FT, length_ft * FT, 0.0127, membranes, check_valve_pa=0.3 * PSI)

    found = operating_point(typical_curve("piston", cfm * CFM, 30 * PSI), [line], air_pa=SEA)

    assert 6 <= found.manifold_pa / PSI <= 8


@pytest.mark.parametrize("depth_ft", range(8, 31, 2))
def test_gauge_reads_about_1_psi_for_2_ft(depth_ft):
    """Common practice, no source: the physics comes within a seventh, or 1 psi, of it."""
    line = Line("D1", depth_ft * FT, 100 * FT, 0.0127, check_valve_pa=0.3 * PSI)

    found = operating_point(typical_curve("piston", 2.5 * CFM, 30 * PSI), [line], air_pa=SEA)

    assert found.manifold_pa / PSI == pytest.approx(depth_ft / 2, rel=1 / 7, abs=1)


def test_thin_air_of_a_high_pond_flows_faster_and_loses_more_in_the_line():
    low, high = (operating_point(CURVE, [a_line()], air_pa=pa).lines[0] for pa in (SEA, 80_000))

    assert high.line_pa / low.line_pa < 1  # the same volume weighs less
    assert high.flow_l_min_local == pytest.approx(low.flow_l_min_local, rel=0.02)


flowing = st.builds(
    Line,
    label=st.just("D"),
    depth_m=st.floats(0.5, 5),
    length_m=st.floats(1, 200),
    bore_m=st.floats(0.009, 0.025),
    membranes=st.integers(1, 4),
    opening_pa=st.floats(500, 5000),
    slope_pa_per_l_min=st.floats(5, 100),
)


@unhurried
@given(st.lists(st.tuples(flowing, st.floats(5, 60)), min_size=1, max_size=12))
def test_valves_set_as_told_share_the_air_as_wanted(pairs):
    lines, wanted = zip(*pairs, strict=True)

    balance = valve_settings(CURVE, lines, wanted, air_pa=SEA)

    kv = [setting.valve_pa_per_l_min2 for setting in balance.settings]
    set_up = [replace(line, valve_pa_per_l_min2=k) for line, k in zip(lines, kv, strict=True)]
    found = operating_point(CURVE, set_up, air_pa=SEA)
    assert min(kv) == pytest.approx(0, abs=1e-6)  # the neediest line stands open
    assert found.manifold_pa == pytest.approx(balance.manifold_pa, rel=1e-4)
    for line, share in zip(found.lines, wanted, strict=True):
        assert line.flow_l_min_local == pytest.approx(share * balance.share_of_wanted, rel=1e-3)


def test_line_that_is_to_get_nothing_is_shut():
    balance = valve_settings(CURVE, [a_line(), a_line("D2", 9)], [50, 0], air_pa=SEA)

    assert balance.settings[1].valve_pa_per_l_min2 is None
    assert balance.settings[0].flow_l_min_local > 100


def test_line_beyond_the_compressors_reach_cannot_be_shared_to():
    balance = valve_settings(CURVE, [a_line(), a_line("D2", 15)], [50, 50], air_pa=SEA)

    assert balance.share_of_wanted == 0
    assert balance.manifold_pa == CURVE.pressure_max_pa
    assert balance.surplus_l_min_local == 40


def test_relief_valve_bounds_the_share():
    line = a_line("D1", 5, bore_m=0.006)

    balance = valve_settings(CURVE, [line], [50], air_pa=SEA, relief_pa=70_000)

    assert balance.manifold_pa == pytest.approx(70_000)
    assert balance.surplus_l_min_local > 10


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"bore_m": 12.7}, "12.7 mm are 0.0127"),
        ({"depth_m": -1}, "depth_m"),
        ({"depth_m": float("nan")}, "depth_m"),
        ({"opening_pa": 1e6}, "pascals"),
        ({"membranes": 0}, "membranes"),
    ],
)
def test_line_that_cannot_be_is_refused_with_what_to_do(given, says):
    with pytest.raises(ValueError, match=says):
        a_line(**given)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"air_pa": 14.7}, "absolute pressure in pascals"),
        ({"leak_l_min_per_sqrt_pa": -1}, "leak"),
        ({"relief_pa": 12}, "1 psi is 6895 Pa"),
        ({"water_kg_m3": 1}, "900 to 1100"),
        ({"law": "fanning"}, "churchill or colebrook"),
    ],
)
def test_site_that_cannot_be_is_refused_with_what_to_do(given, says):
    with pytest.raises(ValueError, match=says):
        operating_point(CURVE, [a_line()], **{"air_pa": SEA} | given)


@pytest.mark.parametrize("wanted", [[50], [0, 0], [50, -1]])
def test_sharing_without_a_wish_for_each_line_is_refused(wanted):
    with pytest.raises(ValueError, match="line"):
        valve_settings(CURVE, [a_line(), a_line("D2")], wanted, air_pa=SEA)
