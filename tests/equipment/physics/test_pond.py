"""Ponds. Check rows: tests/reference/lake.json; each row names its own source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import pond
from tests.checks import agrees, rows


def ids(row):
    return row["id"]


@st.composite
def ponds(draw, temperatures=None):
    """Depths and areas of a pond; with readings at its depths where temperatures are asked for."""
    steps = draw(st.lists(st.floats(0.1, 2), min_size=2, max_size=12))
    depths = [0.0]
    for step in steps:
        depths.append(depths[-1] + step)
    areas = sorted(draw(st.lists(st.floats(1, 1e5), min_size=len(depths), max_size=len(depths))))
    if temperatures is None:
        return depths, areas[::-1]
    readings = st.lists(temperatures, min_size=len(depths), max_size=len(depths))
    return depths, areas[::-1], draw(readings)


@pytest.mark.parametrize("row", rows("lake", "pond volume, "), ids=ids)
def test_volume_of_a_plain_shape(row):
    shape = {2: pond.cone_volume_m3, 3: pond.frustum_volume_m3, 4: pond.sloped_rectangle_volume_m3}
    given_ = row["inputs"].values()

    assert agrees(row["expected"], shape[len(given_)](*given_), row["tolerance"])


@pytest.mark.parametrize("row", rows("lake", "pond volume from"), ids=ids)
def test_volume_from_the_areas_inside_contours(row):
    rule = "frustum" if "frustum" in row["quantity"] else "trapezoid"
    got = pond.table_volume_m3(row["inputs"]["depth_m"], row["inputs"]["area_m2"], rule)

    assert agrees(row["expected"], got, row["tolerance"])


@pytest.mark.parametrize("row", rows("lake", "volume-weighted mean"), ids=ids)
def test_mixed_pond_has_the_mean_by_volume(row):
    depths, areas, readings = row["inputs"].values()
    got = pond.mixed_value(depths, areas, depths, readings)

    assert agrees(row["expected"], got, row["tolerance"])


@pytest.mark.parametrize("row", rows("lake", "Schmidt stability"), ids=ids)
def test_stability_is_the_work_that_mixing_takes(row):
    asked = row["inputs"]
    if "upper_C" in asked:
        got = pond.two_layer_stability_j_m2(*asked.values())
    else:
        contours = asked.get("bathymetry_depth_m", asked["depth_m"])
        areas = asked.get("bathymetry_area_m2") or asked["area_m2"]
        got = pond.schmidt_stability_j_m2(contours, areas, asked["depth_m"], asked["temperature_C"])

    assert agrees(row["expected"], got, row["tolerance"])


@pytest.mark.parametrize("row", rows("lake", "thermocline"), ids=ids)
def test_thermocline_lies_at_the_steepest_step_of_density(row):
    got = pond.thermocline_m(row["inputs"]["depth_m"], row["inputs"]["temperature_C"])

    assert agrees(row["expected"], got, row["tolerance"])


def test_layer_of_fast_change_has_the_limits_of_the_documented_example():
    (row,) = rows("lake", "metalimnion")
    got = pond.metalimnion_m(row["inputs"]["depth_m"], row["inputs"]["temperature_C"], 0.1)

    assert agrees(row["expected"], list(got), row["tolerance"])


@pytest.mark.parametrize("row", rows("lake", "inverse winter"), ids=ids)
def test_winter_order_is_stable_although_it_is_warmer_below(row):
    depths, readings = row["inputs"].values()

    assert pond.inversely_layered(depths, readings) is row["expected"]
    assert pond.thermocline_m(depths, readings) is not None  # a test on temperature fails here


@pytest.mark.parametrize("row", rows("lake", "two-layer turnover"), ids=ids)
def test_two_layers_mix_by_their_volumes(row):
    mixed = pond.turned_over(*row["inputs"].values())
    got = {
        "temperature_C": mixed.temperature_c,
        "do_mg_L": mixed.oxygen_mg_l,
        "saturation_pct": mixed.saturation_percent,
    }

    assert agrees(row["expected"], got, row["tolerance"])


@pytest.mark.parametrize(
    ("temperatures", "layered"),
    [
        ([24, 20, 12], False),  # summer order
        ([2, 2, 2], False),  # mixed
        ([3.9, 2, 0.5], False),  # colder water below would rise
        ([1, 3, 7], False),  # too warm below to lie there
    ],
)
def test_other_orders_are_not_the_winter_order(temperatures, layered):
    assert pond.inversely_layered([0, 1, 2], temperatures) is layered


def test_pond_within_one_degree_has_no_thermocline_and_no_layer_of_change():
    readings = [20.4, 20.1, 19.9, 19.6]

    assert pond.thermocline_m([0, 1, 2, 3], readings) is None
    assert pond.metalimnion_m([0, 1, 2, 3], readings) is None


def test_of_two_clear_steps_the_seasonal_thermocline_is_the_lower_one():
    depths = [0, 1, 2, 3, 4, 5, 6, 7]
    readings = [26, 25.9, 22, 21.9, 21.8, 18.9, 18.8, 18.7]

    assert pond.thermocline_m(depths, readings) == pytest.approx(1.5, abs=0.1)
    assert pond.thermocline_m(depths, readings, seasonal=True) == pytest.approx(4.5, abs=0.1)


REFUSED = [
    (lambda: pond.frustum_volume_m3(10, 11, 2), "radii"),
    (lambda: pond.cone_volume_m3(10, 101), "depth"),
    (lambda: pond.sloped_rectangle_volume_m3(10, 10, 2, 3), "the sides meet"),
    (lambda: pond.sloped_rectangle_volume_m3(-1, 10, 2, 3), "length"),
    (lambda: pond.sloped_rectangle_volume_m3(10, 10, 2, 21), "slope"),
    (lambda: pond.table_volume_m3([0, 1], [5, 4], "cone"), "rule"),
    (lambda: pond.table_volume_m3([0, 1], [5]), "pair up"),
    (lambda: pond.table_volume_m3([0], [5]), "between 2 and 1000"),
    (lambda: pond.table_volume_m3([1, 2], [5, 4]), "surface"),
    (lambda: pond.table_volume_m3([0, 1], [4, 5]), "never grow"),
    (lambda: pond.table_volume_m3([0, 2, 1], [5, 4, 3]), "deeper"),
    (lambda: pond.mixed_value([0, 1], [5, 4], [1, 2], [20, 10]), "below the bottom"),
    (lambda: pond.two_layer_stability_j_m2(3, 4, 20, 10), "thicker"),
    (lambda: pond.metalimnion_m([0, 1, 2], [20, 10, 8], 0), "slope"),
    (lambda: pond.turned_over(0, 20, 8, 0, 10, 2), "volumes"),
    (lambda: pond.turned_over(1, 20, 41, 1, 10, 2), "oxygen"),
    (lambda: pond.turned_over(1, 80, 8, 9, 10, 2), "temperature"),
]


@pytest.mark.parametrize(("refused", "word"), REFUSED)
def test_figures_that_do_not_fit_are_refused_with_a_sentence(refused, word):
    with pytest.raises(ValueError, match=word):
        refused()


@given(ponds(), st.floats(0.01, 2))
def test_a_deeper_pond_holds_more(shape, deeper):
    depths, areas = shape
    stretched = [depth * (1 + deeper) for depth in depths]

    for rule in ("trapezoid", "frustum"):
        volume = pond.table_volume_m3(depths, areas, rule)
        assert pond.table_volume_m3(stretched, areas, rule) > volume
        assert areas[-1] * depths[-1] * 0.999 <= volume <= areas[0] * depths[-1] * 1.001


@given(ponds())
def test_truncated_cones_never_hold_more_than_straight_areas(shape):
    frustum = pond.table_volume_m3(*shape, "frustum")

    assert frustum <= pond.table_volume_m3(*shape, "trapezoid") * (1 + 1e-9)


@given(ponds(temperatures=st.floats(0, 40)))
def test_mixing_lies_between_the_extremes(profile):
    depths, areas, readings = profile
    mixed = pond.mixed_value(depths, areas, depths, readings)

    assert min(readings) - 1e-9 <= mixed <= max(readings) + 1e-9


@given(ponds(temperatures=st.floats(4, 40)))
def test_stable_summer_order_takes_work_to_mix_and_the_order_upside_down_gives_it(profile):
    depths, areas, readings = profile
    stable = sorted(readings, reverse=True)

    assert pond.schmidt_stability_j_m2(depths, areas, depths, stable) >= -1e-9
    assert pond.schmidt_stability_j_m2(depths, areas, depths, stable[::-1]) <= 1e-9


@given(ponds(temperatures=st.floats(0, 3.9)))
def test_stable_winter_order_takes_work_to_mix(profile):
    depths, areas, readings = profile

    assert pond.schmidt_stability_j_m2(depths, areas, depths, sorted(readings)) >= -1e-9


@given(ponds(), st.floats(0, 40))
def test_uniform_pond_takes_no_work_to_mix(shape, temperature_c):
    depths, areas = shape
    readings = [temperature_c] * len(depths)

    assert pond.schmidt_stability_j_m2(depths, areas, depths, readings) == 0
    assert pond.density_gradients(depths, readings) == [0] * (len(depths) - 1)


@given(st.floats(0.5, 10), st.floats(0, 1), st.floats(4, 30), st.floats(4, 30))
def test_two_layers_by_table_take_the_work_of_the_closed_form(depth_m, share, one_c, other_c):
    upper_m, step = share * (depth_m - 0.02), 1e-6
    upper_c, lower_c = max(one_c, other_c), min(one_c, other_c)
    closed = pond.two_layer_stability_j_m2(depth_m, upper_m, upper_c, lower_c)
    by_table = pond.schmidt_stability_j_m2(
        [0, depth_m],
        [100, 100],
        [upper_m, upper_m + step],
        [upper_c, lower_c],
    )

    assert by_table == pytest.approx(closed, rel=1e-3, abs=1e-3)


volumes, oxygens, waters = st.floats(0.01, 1e6), st.floats(0, 20), st.floats(0, 35)


@given(volumes, waters, oxygens, volumes, waters, oxygens)
def test_turnover_keeps_heat_and_oxygen_and_lies_between_the_layers(v1, t1, o1, v2, t2, o2):
    mixed = pond.turned_over(v1, t1, o1, v2, t2, o2)

    assert mixed.temperature_c * (v1 + v2) == pytest.approx(v1 * t1 + v2 * t2, abs=1e-6)
    assert mixed.oxygen_mg_l * (v1 + v2) == pytest.approx(v1 * o1 + v2 * o2, abs=1e-6)
    assert min(t1, t2) - 1e-9 <= mixed.temperature_c <= max(t1, t2) + 1e-9
    assert min(o1, o2) - 1e-9 <= mixed.oxygen_mg_l <= max(o1, o2) + 1e-9
